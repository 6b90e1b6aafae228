"""Potentiometers: what a sweep says about taper and track, and which taper spreads a control's range.

Readings are given as dial position and value from the counter-clockwise end to the wiper (ohm; or volts or decibels of
a steady tone at the wiper): ``0=5 2.5=4k 5=25k 7.5=90k 10=250k``, ``0=-60dB 5=-20dB 10=0dB``. A sweep's error is that
of setting the dial by eye, and of one meter's readings against each other, reading by reading.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ..late import late
from ..reference.errors import UnknownName
from ..reference.model import Taper
from ..reference.tables import load
from .error import banded
from .figure import Curve, Figure, choice, figure, positive
from .notation import NotationError, parse, show
from .sums import halved, off_percent

with late():
    import numpy as np

LAWS = ("exponential", "two slope")
HOW = "Slow sweep, same direction throughout, one end of the control lifted or the amp unplugged and discharged."


@dataclass(frozen=True)
class Sweep:
    """Positions (0 to 1) in rising order, shares of the whole (0 to 1), and the whole with its unit.

    errors: how far each share may be off, by the meter.
    """

    positions: tuple[float, ...]
    shares: tuple[float, ...]
    whole: float
    unit: str
    errors: tuple[float, ...]


def share_at(position: float, mid: float, law: str = "exponential") -> float:
    """Share of resistance at a dial position (both 0 to 1) for a taper with `mid` at half travel.

    Curves: the exponential r = (b^x - 1) / (b - 1), b = ((1 - m) / m)^2, or two straight lines.
    """
    if law == "two slope":
        return 2 * mid * position if position <= 0.5 else mid + 2 * (1 - mid) * (position - 0.5)
    base = ((1 - mid) / mid) ** 2
    return position if abs(base - 1) < 1e-9 else (base**position - 1) / (base - 1)


def position_at(share: float, mid: float) -> float:
    """Dial position of a share, the exponential curve the other way around."""
    base = ((1 - mid) / mid) ** 2
    return share if abs(base - 1) < 1e-9 else math.log(1 + share * (base - 1)) / math.log(base)


def read_sweep(readings: str, whole_ohm: float, dial_low: float, dial_high: float) -> Sweep:
    """Take readings as typed. Raises ValueError naming the pair that can't be read."""
    if dial_high <= dial_low:
        raise ValueError("the dial's high mark must be above its low mark")
    points: dict[float, float] = {}
    unit = ""
    for pair in re.split(r"[\s;]+", readings.strip()):
        position, equals, text = pair.partition("=")
        if not equals:
            raise ValueError(f"'{pair}' is not a reading; write position=value, as in 5=25k")
        where, value, read_as = _pair(pair, position, text, unit)
        if value or read_as == "dB":  # zero is zero in volts and in ohms
            unit = read_as
        if not dial_low <= where <= dial_high:
            raise ValueError(f"'{pair}': the dial runs from {dial_low:g} to {dial_high:g}")
        if where in points:
            raise ValueError(f"'{pair}': there are two readings at {where:g}")
        points[where] = value
    if len(points) < 3:
        raise ValueError("at least three readings are needed, the two ends and the middle; seven show a worn spot")
    if unit == "dB":
        points = {mark: 10 ** (level / 20) for mark, level in points.items()}
    whole = whole_ohm or max(points.values())
    positive(**{"the largest reading": whole})
    unit, marks = unit or "ohm", sorted(points)
    against, plus = load().spreads["same_meter"].percent / 100, load().errors["V" if unit == "dB" else unit].plus
    return Sweep(
        tuple((mark - dial_low) / (dial_high - dial_low) for mark in marks),
        tuple(points[mark] / whole for mark in marks),
        whole,
        "ratio" if unit == "dB" else unit,
        tuple(min(against * points[mark] + plus, points[mark]) / whole for mark in marks),
    )


def swept(sweep: Sweep, worked: Callable[[Sweep], Figure]) -> Figure:
    """A figure of a sweep, with the band that the dial and the meter bring to each of its readings."""
    dial = load().spreads["dial"].percent / 100
    count = len(sweep.shares)

    def at(shares: Sequence[float]) -> Figure:
        positions = [x + s * dial for x, s in zip(sweep.positions, shares[:count], strict=True)]
        values = [r + s * e for r, s, e in zip(sweep.shares, shares[count:], sweep.errors, strict=True)]
        return worked(replace(sweep, positions=tuple(min(max(x, 0.0), 1.0) for x in positions), shares=tuple(values)))

    return banded(worked(sweep), at, ("dial marks",) * count + ("readings",) * count)


def _pair(pair: str, position: str, text: str, unit: str) -> tuple[float, float, str]:
    for wanted in (unit,) if unit else ("dB",) if text.strip().lower().endswith("db") else ("ohm", "V"):
        try:
            return parse(position, "ratio").value, parse(text, wanted).value, wanted
        except NotationError as error:
            problem = error
    raise ValueError(f"reading '{pair}': {problem}") from problem


def fit(sweep: Sweep) -> tuple[float, str, float]:
    """Mid-travel share (0 to 1), curve and RMS miss of the taper that fits a sweep best."""
    mids = np.arange(8, 393) / 400
    best = (math.inf, 0.5, LAWS[0])
    for law in LAWS:
        expected = np.array([[share_at(position, mid, law) for position in sweep.positions] for mid in mids])
        misses = np.sqrt(((expected - np.array(sweep.shares)) ** 2).mean(axis=1))
        least = int(misses.argmin())
        best = min(best, (float(misses[least]), float(mids[least]), law))
    return best[1], best[2], best[0]


@figure
def taper_mid_percent(
    *, readings: str, total_ohm: float = 0.0, dial_low: float = 0.0, dial_high: float = 10.0
) -> Figure:
    """Share of resistance at half travel, by the curve that fits the sweep best; the verdict names the taper."""
    return swept(read_sweep(readings, total_ohm, dial_low, dial_high), _taper_of)


def _taper_of(sweep: Sweep) -> Figure:
    mid, law, miss = fit(sweep)
    tapers = load().tapers
    name = min(tapers, key=lambda taper: abs(tapers[taper].mid_percent - 100 * mid))
    law_words = "linear" if name == "linear" else law
    return Figure(
        name="resistance at half travel",
        value=100 * mid,
        unit="percent",
        steps=(
            f"{len(sweep.shares)} readings of {show(sweep.whole, sweep.unit)}",
            f"best fit: {100 * mid:.3g} % at half travel, {law_words} taper, {100 * miss:.2g} % RMS off the readings",
            f"nearest standard taper: {name} ({tapers[name].mid_percent:g} %)",
        ),
        rests_on=HOW,
        source=tapers[name].source,
        verdict=name if miss <= 0.06 else f"no plain taper (nearest {name})",
        curve=taper_curve(sweep, mid, law),
    ).warn("the readings fit no taper well: worn, loaded by the circuit, or tapped" if miss > 0.06 else "")


def taper_curve(sweep: Sweep, mid: float, law: str) -> Curve:
    """A sweep's readings with the taper that fits them, over the dial."""
    axis = tuple(index / 40 for index in range(41))
    return Curve(
        "sweep of the control",
        "dial %",
        "resistance %",
        (
            ("fit", tuple(100 * x for x in axis), tuple(100 * share_at(x, mid, law) for x in axis)),
            ("read", tuple(100 * x for x in sweep.positions), tuple(100 * r for r in sweep.shares)),
        ),
    )


@figure
def dead_zone_percent(
    *, readings: str, total_ohm: float = 0.0, dial_low: float = 0.0, dial_high: float = 10.0
) -> Figure:
    """Longest stretch of the dial over which hardly anything happens, against the taper that fits the rest."""
    marks = (dial_low, dial_high)
    return swept(read_sweep(readings, total_ohm, *marks), lambda sweep: _dead_zone(sweep, marks))


def _dead_zone(sweep: Sweep, marks: tuple[float, float]) -> Figure:
    mid, law, _ = fit(sweep)
    longest, start, where = 0.0, None, ""
    for (x0, r0), (x1, r1) in pairwise(zip(sweep.positions, sweep.shares, strict=True)):
        dead = abs(r1 - r0) < 0.2 * abs(share_at(x1, mid, law) - share_at(x0, mid, law))
        start = (x0 if start is None else start) if dead else None
        if start is not None and x1 - start > longest:
            longest, where = x1 - start, f" from {_dial(start, *marks)} to {_dial(x1, *marks)}"
    return Figure(
        name="longest dead zone",
        value=100 * longest,
        unit="percent",
        steps=(f"{100 * longest:.3g} % of the dial{where}: the change is under a fifth of what the taper gives",),
        rests_on=HOW + " No finer than the readings are apart.",
        source="common-practice",
        verdict="dead spot" if longest >= 0.05 else "none found",
    )


@figure
def backward_step_percent(
    *, readings: str, total_ohm: float = 0.0, dial_low: float = 0.0, dial_high: float = 10.0
) -> Figure:
    """Largest step the wrong way, as a share of the whole: a worn or dirty spot of the track."""
    marks = (dial_low, dial_high)
    return swept(read_sweep(readings, total_ohm, *marks), lambda sweep: _backward_step(sweep, marks))


def _backward_step(sweep: Sweep, marks: tuple[float, float]) -> Figure:
    limit = load().track_figure("worn_jump_percent")
    worst, where = 0.0, ""
    for (x0, r0), (x1, r1) in pairwise(zip(sweep.positions, sweep.shares, strict=True)):
        if r0 - r1 > worst:
            worst, where = r0 - r1, f" between {_dial(x0, *marks)} and {_dial(x1, *marks)}"
    return Figure(
        name="largest step the wrong way",
        value=100 * worst,
        unit="percent",
        steps=(f"{100 * worst:.3g} % of the whole{where}",),
        rests_on=HOW,
        source="common-practice",
        verdict="worn or dirty" if 100 * worst > limit else "none of note",
    )


@figure
def end_hop_percent(*, readings: str, total_ohm: float, dial_low: float = 0.0, dial_high: float = 10.0) -> Figure:
    """What is left at the stops: resistance that never goes, as a share of the total between the outer lugs."""
    sweep = read_sweep(readings, total_ohm, dial_low, dial_high)
    if sweep.positions[0] > 0 or sweep.positions[-1] < 1:
        raise ValueError(f"readings at both stops are needed, {dial_low:g} and {dial_high:g}")
    return swept(sweep, _end_hop)


def _end_hop(sweep: Sweep) -> Figure:
    low, high = sweep.shares[0], abs(1 - sweep.shares[-1])
    limit = load().track_figure("end_resistance_percent")
    value = 100 * max(low, high)
    return Figure(
        name="resistance left at the stops",
        value=value,
        unit="percent",
        steps=(f"counter-clockwise stop {100 * low:.3g} %, clockwise stop {100 * high:.3g} %; usual to {limit:g} %",),
        rests_on=HOW + " Meter lead resistance taken off.",
        source="pot-sheets",
        verdict="open or worn end" if value > 5 * limit else "high" if value > limit else "usual",
    )


@figure
def total_drift_percent(*, measured_ohm: float, marked_ohm: float) -> Figure:
    """Total track resistance against the marked value; 20 percent is a carbon control's usual tolerance."""
    positive(marked_ohm=marked_ohm)
    limit = load().track_figure("total_tolerance_percent")
    value = off_percent(measured_ohm, marked_ohm)
    return Figure(
        name="total against the marking",
        value=value,
        unit="percent",
        steps=(f"{show(measured_ohm, 'ohm')} against {show(marked_ohm, 'ohm')} = {value:+.3g} %",),
        rests_on="Outer lugs, control lifted from the circuit.",
        source="pot-sheets",
        verdict="within tolerance" if abs(value) <= limit else "out of tolerance",
    )


CONTROLS = ("volume", "tone divider", "tone shunt")


@figure
def spread_percent(
    *,
    taper: str,
    control: str = "volume",
    pot_ohm: float = 250e3,
    capacitor_F: float = 22e-9,
    source_ohm: float = 50e3,
    note_Hz: float = 2000.0,
) -> Figure:
    """Share of the dial that covers the middle four fifths of a control's useful range.

    control: volume (40 dB of level), tone divider (20 dB of highs at a wiper) or tone shunt (pot and capacitor in
    series to chassis, heard at note_Hz from source_ohm).
    """
    mid = _taper(taper).mid_percent / 100
    kind = choice("control", control, CONTROLS)
    low, high = (
        _travel(effect, mid, kind, pot_ohm, capacitor_F, source_ohm, note_Hz) for effect in (0.1, 0.9)
    )  # fmt: skip
    value = 100 * abs(high - low)
    return Figure(
        name="dial travel of the useful range",
        value=value,
        unit="percent",
        steps=(
            f"a tenth of the effect at {100 * low:.3g} % of the dial, nine tenths at {100 * high:.3g} %",
            f"spread = |{100 * high:.4g} % - {100 * low:.4g} %| = {value:.3g} % of the dial",
        ),
        rests_on="Effect counted in decibels; the exponential taper curve; wiper not loaded.",
        source="taper-law",
        verdict="bunched" if value < 50 else "spread",
    )


@figure
def best_spread_percent(
    *,
    control: str = "volume",
    pot_ohm: float = 250e3,
    capacitor_F: float = 22e-9,
    source_ohm: float = 50e3,
    note_Hz: float = 2000.0,
) -> Figure:
    """The standard taper that spreads a control's useful range over most of the dial; the verdict names it."""
    choice("control", control, CONTROLS)
    spreads = {
        name: spread_percent(
            taper=name,
            control=control,
            pot_ohm=pot_ohm,
            capacitor_F=capacitor_F,
            source_ohm=source_ohm,
            note_Hz=note_Hz,
        ).value
        for name in load().tapers
    }
    best = max(spreads, key=lambda name: spreads[name])
    return Figure(
        name="best spread of the control",
        value=spreads[best],
        unit="percent",
        steps=tuple(f"{name}: {spread:.3g} % of the dial" for name, spread in spreads.items()),
        rests_on="As in pot.spread_percent. Taste, and what the maker fitted, come first.",
        source="taper-law",
        verdict=best,
        chosen=True,
    )


def _travel(effect: float, mid: float, kind: str, pot: float, capacitor: float, source: float, note: float) -> float:
    """Dial position (0 to 1) at which a control has done a share of its work."""
    if kind != "tone shunt":
        range_dB = 40.0 if kind == "volume" else 20.0
        return position_at(10 ** ((effect - 1) * range_dB / 20), mid)
    positive(pot_ohm=pot, capacitor_F=capacitor, source_ohm=source, note_Hz=note)
    reactance = 1 / (2 * math.pi * note * capacitor)

    def level(share: float) -> float:
        shunt = complex(share * pot, -reactance)
        return 20 * math.log10(abs(shunt / (shunt + source)))

    bottom, top = level(0.0), level(1.0)
    return position_at(halved(1.0, lambda share: level(share) < bottom + effect * (top - bottom)), mid)


def _taper(name: str) -> Taper:
    try:
        return load().taper(name)
    except UnknownName as error:
        raise ValueError(str(error)) from error


def _dial(position: float, low: float, high: float) -> str:
    return f"{low + position * (high - low):.3g}"
