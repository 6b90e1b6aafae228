"""What a reading or figure says through the bands of its check, and what its error leaves open.

A value stands for everything within its error. A finding is there when all of that lies in bands that have it, not
there when none does, and open when the error reaches across a limit between the two: then nothing is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..bench.figure import Figure
from ..bench.notation import give_or_take, show
from ..knowledge import model

LEAST_MARGIN = 0.1  # of the error: nearer to the limit than that, no better meter settles it


@dataclass(frozen=True)
class Value:
    """A reading or figure of a check. error: how far it may be off either way; figure: the worked sum, for a computed
    one; trouble: why there is no value."""

    value: float | None
    unit: str
    figure: Figure | None = None
    trouble: str = ""
    error: float = 0.0


@dataclass(frozen=True)
class Doubt:
    """A value that can't tell between bands, or one that is not there to be judged (untold.py). findings: left open;
    text: the value, its error and the bands it may lie in, or why there is none; settle: what would decide it; facts:
    the amp facts that would."""

    check: str
    quantity: str
    findings: tuple[str, ...]
    text: str
    settle: str
    facts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Bounded:
    """A band with its limits worked out; infinite where it has none. error: of a limit that is itself measured."""

    band: model.Band
    low: float
    high: float
    error: float = 0.0

    def holds(self, value: float) -> bool:
        return self.low < value < self.high or value == self.low


@dataclass(frozen=True)
class Judgement:
    """What one value says: the findings it settles, true or false; said: the bands it lies in, as words; doubt."""

    present: frozenset[str]
    absent: frozenset[str]
    said: str
    doubt: Doubt | None = None


def bands_of(check: model.Check) -> dict[str, list[model.Band]]:
    """The bands of a check by the quantity they judge."""
    quantities = [*check.readings, *check.figures]
    grouped: dict[str, list[model.Band]] = {}
    for band in check.bands:
        grouped.setdefault(band.of or quantities[-1], []).append(band)
    return grouped


def judge(check: model.Check, quantity: str, value: Value, number: float, bands: Sequence[Bounded]) -> Judgement:
    """What a value (its number given apart, since there is one) says through the bands of its quantity."""
    error = math.hypot(value.error, max((band.error for band in bands), default=0.0))
    limits = sorted({limit for band in bands for limit in (band.low, band.high) if abs(limit - number) < error})
    told = frozenset(finding for one in bands for finding in one.band.findings)
    here = [_inside(bands, point) for point in _points(number, error, limits)]
    present = frozenset(finding for finding in told if all(finding in _findings(inside) for inside in here))
    possible = frozenset(finding for inside in here for finding in _findings(inside))
    said = list(dict.fromkeys(_words(inside) for inside in here))
    open_ = tuple(sorted(possible - present))
    doubt = None
    if open_:
        stands = f"{name_of(check, quantity)} {give_or_take(number, error, value.unit)}"
        text = f"{stands}: can't tell {' from '.join(said)}"
        doubt = Doubt(check.id, quantity, open_, text, _settling(value, number, error, limits))
    return Judgement(present, told - possible, _words(_inside(bands, number)), doubt)


def spoken(check: model.Check, quantity: str, value: Value) -> str:
    """A reading or figure with its unit, as a person says it."""
    name = name_of(check, quantity)
    return f"{name} {show(value.value, value.unit)}" if value.value is not None else name


def name_of(check: model.Check, quantity: str) -> str:
    """A reading as it is asked for, a figure by its text."""
    return check.readings[quantity].ask if quantity in check.readings else check.figures[quantity].text or quantity


def _points(number: float, error: float, limits: Sequence[float]) -> list[float]:
    """One value of every stretch between limits that the error reaches, from low to high."""
    edges = [number - error, *limits, number + error]
    return [(a + b) / 2 for a, b in pairwise(edges)] if limits else [number]


def _inside(bands: Sequence[Bounded], number: float) -> list[model.Band]:
    return [one.band for one in bands if one.holds(number)]


def _findings(inside: Sequence[model.Band]) -> set[str]:
    return {finding for band in inside for finding in band.findings}


def _words(inside: Sequence[model.Band]) -> str:
    return ", ".join(band.text for band in inside) or "in no band of note"


def _settling(value: Value, number: float, error: float, limits: Sequence[float]) -> str:
    limit = min(limits, key=lambda one: abs(one - number))
    margin = abs(limit - number)
    at = f"the limit is {show(limit, value.unit)}"
    if margin < LEAST_MARGIN * error or not number:
        return f"{at}, and it is right at the limit: no better meter settles that, other checks may"
    wanted = f"good to ± {show(float(f'{margin:.2g}'), value.unit)}, {100 * margin / abs(number):.2g} %"
    if value.figure is None:
        return f"{at}; measure again with a meter {wanted}"
    source = value.figure.error_from.replace("_", " ")
    most = f"; most of the error comes from {source}: a better meter, or parts measured, there" if source else ""
    return f"{at}; the figure would have to be {wanted}{most}"


def said_of(judgements: Mapping[str, Judgement]) -> tuple[set[str], set[str], set[str]]:
    """Findings present, absent and open by all quantities of a check together: one that has it is enough."""
    present = {finding for one in judgements.values() for finding in one.present}
    open_ = {f for one in judgements.values() if one.doubt for f in one.doubt.findings} - present
    absent = {finding for one in judgements.values() for finding in one.absent} - present - open_
    return present, absent, open_
