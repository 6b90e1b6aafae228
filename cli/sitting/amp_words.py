"""Amp facts and complaints as they are given on a command line."""

from __future__ import annotations

from collections.abc import Iterable

from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning.amp_answers import amp_value
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.words import best_match, matches


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
    near = "; ".join(f"{match.symptom} ({base.text(match.symptom)})" for match in matches(base, given, 3))
    raise AnswerError(
        f"the words '{given}' do not surely mean one symptom. Say which: SYMPTOM=TEXT. "
        + (f"Nearest: {near}." if near else "All symptoms: chopstick kb list symptoms.")
    )
