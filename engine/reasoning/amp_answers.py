"""Facts of an amp, from what people call them."""

from __future__ import annotations

import re

from ..bench import notation
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..reference.errors import UnknownName, did_you_mean
from .answers import AnswerError


def choices(base: KnowledgeBase, fact: model.AmpFact) -> dict[str, str]:
    """The values an amp fact can have, each with a few words; empty for a number."""
    named: dict[str, str] = {}
    if fact.from_reference == "tubes":
        power = (name for name, tube in base.reference.tubes.items() if re.search("beam|output|power", tube.kind))
        named = dict.fromkeys(power, "")
    elif fact.from_reference == "rectifiers":
        named = dict.fromkeys(base.reference.rectifiers, "")
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
    if fact.from_reference and (fitted := _fitted(base, fact.from_reference, typed)):
        return fitted
    begun = [choice for key, choice in folded.items() if word and key.startswith(word)]
    if len(begun) == 1:
        return begun[0]
    hint = did_you_mean(typed.upper() if fact.from_reference else typed, list(known))
    raise AnswerError(f"{name} can't be '{typed}'; it is one of: {', '.join(known)}. {hint}".strip())


def _fitted(base: KnowledgeBase, table: str, typed: str) -> str:
    """The type as the reference files spell it, by any of its names; '' when they do not know it."""
    try:
        return base.reference.fitted(typed) if table == "tubes" else base.reference.rectifier(typed).name
    except UnknownName:
        return ""


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
