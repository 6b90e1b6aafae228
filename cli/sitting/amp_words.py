"""Amp facts and complaints as they are given on a command line."""

from __future__ import annotations

from collections.abc import Iterable

from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning.amp_answers import amp_value
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.words import best_match, understood


def amp_facts(base: KnowledgeBase, given: Iterable[str]) -> dict[str, model.AmpValue]:
    """FACT=VALUE words as amp facts. Raises AnswerError."""
    facts: dict[str, model.AmpValue] = {}
    for word in given:
        name, equals, value = word.partition("=")
        if not equals:
            raise AnswerError(f"'{word}' is not FACT=VALUE, as in power-tube=6V6GT")
        facts[name.strip()] = amp_value(base, name.strip(), value)
    return facts


def complaints(base: KnowledgeBase, given: Iterable[str]) -> list[tuple[str, str]]:
    """Complaints as (words, symptom); what means the same symptom is joined. Raises AnswerError."""
    joined: dict[str, str] = {}
    for one in given:
        words, symptom = complaint(base, one)
        joined[symptom] = f"{joined[symptom]}; {words}" if symptom in joined else words
    return [(words, symptom) for symptom, words in joined.items()]


def complaint(base: KnowledgeBase, given: str) -> tuple[str, str]:
    """The player's words and the symptom, from TEXT or SYMPTOM=TEXT.

    Raises AnswerError when the words alone do not surely mean one symptom; the message names the nearest.
    """
    symptom, equals, words = given.partition("=")
    if equals and symptom.strip() in base.symptoms:
        return words.strip() or base.text(symptom.strip()), symptom.strip()
    if given.strip() in base.symptoms:
        return base.text(given.strip()), given.strip()
    if found := best_match(base, given):
        return given.strip(), found
    raise AnswerError(_unsure(base, given))


def _unsure(base: KnowledgeBase, given: str) -> str:
    """What is asked about words that do not surely mean one symptom, each part of them by itself."""
    parts = understood(base, given, 3)
    near = [
        f"'{part.words}': " + " or ".join(f"{match.symptom} ({base.text(match.symptom)})" for match in part.offers)
        for part in parts
        if part.offers
    ]
    left_out = [f"'{part.words}' says that it is not there." for part in parts if part.not_there]
    if len(near) > 1:
        ask = f"'{given}' says {len(near)} things. Say which each of them is, as SYMPTOM=TEXT, one after another."
    else:
        ask = f"the words '{given}' do not surely mean one symptom. Say which: SYMPTOM=TEXT."
    nearest = f"Nearest: {'; '.join(near)}." if near else "All symptoms: chopstick kb list symptoms."
    return " ".join((ask, nearest, *left_out))
