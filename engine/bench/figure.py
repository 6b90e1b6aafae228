"""What every calculation of the bench gives back, and the gate every number goes through.

A function of this package becomes a figure by convention alone: it is public, takes plain numbers and words
by names that carry the unit (``plate_V``, ``cathode_mA``), its own name ends in the unit of its result, and
its return annotation is Figure.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import wraps
from typing import Any, ParamSpec

from ..late import late
from .notation import give_or_take
from .units import UNITS, unit_of

with late():
    from rapidfuzz import process

Parameters = ParamSpec("Parameters")


@dataclass(frozen=True)
class Curve:
    """A plot that belongs to a figure: points of one or more named lines, and its axes."""

    title: str
    x_name: str
    y_name: str
    lines: tuple[tuple[str, tuple[float, ...], tuple[float, ...]], ...]
    x_log: bool = False


@dataclass(frozen=True)
class Figure:
    """One worked result.

    name: what it is; value and unit: the number (a key of units.UNITS);
    steps: the worked sum, one line per step, with units; warnings: what the technician must not overlook;
    rests_on: assumptions and limits; source: the id in kb/sources.yaml of the formula or of the limit;
    verdict: a word or short sentence when the figure decides something;
    error: half-width of the band that meter and part tolerance bring, in the same unit, when worked out;
    error_from: the name of what brings most of it;
    curve: data for a plot, where the subject has one; chosen: the value is picked from a list (a preferred
    value, a count), so a small error of the readings leaves it as it is or moves it to another entry.
    """

    name: str
    value: float
    unit: str
    steps: tuple[str, ...]
    rests_on: str
    source: str
    warnings: tuple[str, ...] = ()
    verdict: str = ""
    error: float | None = None
    error_from: str = ""
    curve: Curve | None = None
    chosen: bool = False

    def __str__(self) -> str:
        return f"{self.name}: {give_or_take(self.value, self.error, self.unit)}"

    def warn(self, *warnings: str) -> Figure:
        """The same figure with these warnings added; empty ones are dropped."""
        return replace(self, warnings=self.warnings + tuple(filter(None, warnings)))


def positive(**numbers: float) -> None:
    """Raise ValueError unless each named number is above zero."""
    for name, number in numbers.items():
        if not number > 0:
            raise ValueError(f"{_spoken(name)} must be more than zero, not {number:g}")


def not_negative(**numbers: float) -> None:
    """Raise ValueError where a named number is below zero."""
    for name, number in numbers.items():
        if number < 0:
            raise ValueError(f"{_spoken(name)} can't be below zero, and is {number:g}")


def choice(name: str, value: str, known: tuple[str, ...]) -> str:
    """The known word that was meant, hyphens and capitals aside; else a ValueError naming the nearest."""
    word = value.strip().lower().replace("-", " ")
    for one in known:
        if one.replace("-", " ") == word:
            return one

    near = process.extractOne(word, known, score_cutoff=60)
    hint = f"did you mean '{near[0]}'?" if near else ""
    raise ValueError(f"{name} can't be '{value}'; it is one of: {', '.join(known)}. {hint}".strip())


def figure(function: Callable[Parameters, Figure]) -> Callable[Parameters, Figure]:
    """Refuse non-finite and absurd numbers going in or coming out, with a ValueError for people."""
    signature = inspect.signature(function)

    @wraps(function)
    def gated(*args: Parameters.args, **kwargs: Parameters.kwargs) -> Figure:
        for name, value in signature.bind(*args, **kwargs).arguments.items():
            _gate(name, value, "float" in str(signature.parameters[name].annotation))
        try:
            result = function(*args, **kwargs)
        except (OverflowError, ZeroDivisionError) as error:
            raise ValueError("these numbers together give no finite result; check each of them") from error
        if not math.isfinite(result.value):
            raise ValueError(f"{result.name} comes out as no finite number; check what was entered")
        return result

    return gated


def _gate(name: str, value: Any, numeric: bool) -> None:
    if not numeric or value is None:
        return
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{_spoken(name)} must be a number, not {value!r}")
    if not math.isfinite(value):
        raise ValueError(f"{_spoken(name)} must be a finite number; an open circuit is not a value")
    unit = UNITS.get(unit_of(name), UNITS["ratio"])
    if not unit.low <= value <= unit.high:
        raise ValueError(
            f"{_spoken(name)} of {value:g} {unit.symbol} is out of range for a tube amplifier "
            f"({unit.low:g} to {unit.high:g}); check the decimal point and the unit"
        )


def _spoken(name: str) -> str:
    unit = unit_of(name)
    return name.removesuffix(f"_{unit}").replace("_", " ") if unit else name.replace("_", " ")
