"""What the technician typed, turned into a log entry; or said back, with the reason, to be typed again."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime

from ..bench import notation
from ..knowledge import model
from ..late import late
from ..reference.errors import did_you_mean
from .log import CANT_TELL, NOT_THIS_AMP, Answer, Reading

with late():
    from rapidfuzz import fuzz, process

OPEN_CIRCUIT_OHM = 1e12  # how an open circuit is kept in the log, which holds finite numbers only

Typed = str | float | int | bool | Mapping[str, object]


class AnswerError(ValueError):
    """What was typed can't be taken; the message says why and what would do."""


class Implausible(AnswerError):
    """A reading outside the plausible range: to be confirmed before it is believed."""

    def __init__(self, name: str, value: float, reading: model.ReadingAsked) -> None:
        self.name, self.value, self.reading = name, value, reading
        low, high = (notation.show(bound, reading.unit) for bound in reading.plausible)
        super().__init__(
            f"{reading.ask}: {notation.show(value, reading.unit)} is hard to believe (expected {low} to {high}). "
            "Check the decimal point, the unit and the meter's range."
        )


def entry(check: model.Check, typed: Typed, at: datetime, believed: bool = False) -> Answer | Reading:
    """The log entry for what was typed: an answer key, CANT_TELL, NOT_THIS_AMP, a reading, or readings by name.

    Raises AnswerError; Implausible, unless `believed`, for a reading outside its plausible range.
    """
    if isinstance(typed, str) and _folded(typed) in _SKIPS:
        return Answer(at=at, check=check.id, answer=_SKIPS[_folded(typed)])
    if check.answers:
        return Answer(at=at, check=check.id, answer=answer_key(check, typed))
    values = readings(check, typed)
    if not believed:
        for name, value in values.items():
            low, high = check.readings[name].plausible
            if not low <= value <= high and value != OPEN_CIRCUIT_OHM:
                raise Implausible(name, value, check.readings[name])
    return Reading(at=at, check=check.id, values=values, believed=believed)


def answer_key(check: model.Check, typed: Typed) -> str:
    """The answer key that was meant: the key or its text, or the beginning of either when it is the only one."""
    if isinstance(typed, bool):
        typed = "yes" if typed else "no"
    word = _folded(str(typed))
    keys = {_folded(key): key for key in check.answers}
    if word in keys:
        return keys[word]
    begun = [key for folded, key in keys.items() if word and folded.startswith(word)]
    if not begun and len(word) >= 3:
        texts = {key: _folded(answer.text or "") for key, answer in check.answers.items()}
        begun = [key for key, text in texts.items() if text.startswith(word)]
    if len(begun) == 1:
        return begun.pop()
    hint = _nearest(check, word)
    raise AnswerError(f"'{typed}' is not an answer to this; it takes: {', '.join(check.answers)}. {hint}".strip())


def _nearest(check: model.Check, word: str) -> str:
    """A hint at the answer whose key or text comes nearest; a word of a letter or two is near to too many."""
    if len(word) < 3:
        return ""
    called = {_folded(text): key for key, answer in check.answers.items() for text in (answer.text or key, key)}

    found = process.extractOne(word, list(called), scorer=fuzz.WRatio, score_cutoff=60)
    return f"Did you mean '{called[found[0]]}'?" if found else ""


def readings(check: model.Check, typed: Typed) -> dict[str, float]:
    """Readings by name, in each reading's own unit. A single value is the check's only (or first) reading."""
    if isinstance(typed, Mapping):
        by_name = dict(typed)
    else:
        if len(check.readings) > 1:
            names = ", ".join(check.readings)
            raise AnswerError(f"this check takes {len(check.readings)} readings by name: {names}")
        by_name = {next(iter(check.readings)): typed}
    values: dict[str, float] = {}
    for name, value in by_name.items():
        if name not in check.readings:
            hint = did_you_mean(name, list(check.readings))
            raise AnswerError(f"there is no reading '{name}'; it takes: {', '.join(check.readings)}. {hint}".strip())
        values[name] = number(check.readings[name], value)
    if not values:
        raise AnswerError(f"no reading was given; it takes: {', '.join(check.readings)}")
    return values


def number(reading: model.ReadingAsked, typed: object) -> float:
    """A reading in its own unit, from trade notation or a plain number."""
    try:
        value = notation.parse(str(typed), reading.unit, allow_open=reading.unit == "ohm").value
    except notation.NotationError as error:
        raise AnswerError(str(error)) from error
    return OPEN_CIRCUIT_OHM if math.isinf(value) else value


def _folded(text: str) -> str:
    return " ".join(text.replace("’", "'").lower().split())


_SKIPS = {_folded(word): word for word in (CANT_TELL, NOT_THIS_AMP)} | {"cant tell": CANT_TELL, "skip": CANT_TELL}
