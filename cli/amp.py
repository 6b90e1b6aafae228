"""Amp facts and complaints as people give them."""

from __future__ import annotations

from collections.abc import Iterable

from ..engine.bench import notation
from ..engine.knowledge import model
from ..engine.knowledge.base import KnowledgeBase
from ..engine.knowledge.errors import did_you_mean
from ..engine.reasoning.answers import AnswerError
from ..engine.reasoning.words import SURE_ENOUGH, matches


def choices(base: KnowledgeBase, fact: model.AmpFact) -> dict[str, str]:
    """The values an amp fact can have, each with a few words; empty for a number."""
    named: dict[str, str] = {}
    if fact.from_reference:
        named = {str(name): "" for name in getattr(base.reference, fact.from_reference)}
    return named | dict(fact.choices)


def amp_value(base: KnowledgeBase, name: str, typed: str) -> model.AmpValue:
    """An amp fact's value from what was typed. Raises AnswerError."""
    if name not in base.amp_facts:
        hint = did_you_mean(name, list(base.amp_facts))
        raise AnswerError(f"there is no amp fact '{name}'. {hint or 'Known: ' + ', '.join(base.amp_facts)}")
    fact = base.amp_facts[name]
    if fact.unit:
        return _number(name, fact, typed)
    known = choices(base, fact)
    folded = {_folded(choice): choice for choice in known}
    word = _folded(typed)
    if word in folded:
        return folded[word]
    begun = [choice for key, choice in folded.items() if word and key.startswith(word)]
    if len(begun) == 1:
        return begun[0]
    hint = did_you_mean(typed.upper() if fact.from_reference else typed, list(known))
    raise AnswerError(f"{name} can't be '{typed}'; it is one of: {', '.join(known)}. {hint}".strip())


def _number(name: str, fact: model.AmpFact, typed: str) -> float:
    try:
        value = notation.parse(typed, fact.unit or "ratio").value
    except notation.NotationError as error:
        raise AnswerError(f"{name}: {error}") from error
    low, high = fact.plausible or (value, value)
    if not low <= value <= high:
        raise AnswerError(f"{name}: {value:g} is hard to believe (expected {low:g} to {high:g})")
    return value


def _folded(text: str) -> str:
    return "".join(text.lower().split())


def amp_facts(base: KnowledgeBase, given: Iterable[str]) -> dict[str, model.AmpValue]:
    """FACT=VALUE words as amp facts. Raises AnswerError."""
    facts: dict[str, model.AmpValue] = {}
    for word in given:
        name, equals, value = word.partition("=")
        if not equals:
            raise AnswerError(f"'{word}' is not FACT=VALUE, as in power-tube=6V6GT")
        facts[name.strip()] = amp_value(base, name.strip(), value)
    return facts


def complaint(base: KnowledgeBase, given: str) -> tuple[str, str]:
    """The player's words and the symptom, from TEXT or SYMPTOM=TEXT.

    Raises AnswerError when the words alone do not surely mean one symptom; the message names the nearest.
    """
    symptom, equals, words = given.partition("=")
    if equals and symptom.strip() in base.symptoms:
        return words.strip() or base.text(symptom.strip()), symptom.strip()
    if given.strip() in base.symptoms:
        return base.text(given.strip()), given.strip()
    found = matches(base, given)
    if found and found[0].score >= SURE_ENOUGH:
        return given.strip(), found[0].symptom
    near = "; ".join(f"{match.symptom} ({base.text(match.symptom)})" for match in found[:3])
    raise AnswerError(
        f"the words '{given}' do not surely mean one symptom. Say which: SYMPTOM=TEXT. "
        + (f"Nearest: {near}." if near else "All symptoms: chopstick kb list symptoms.")
    )
