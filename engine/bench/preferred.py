"""Preferred values, and the volts and watts a replacement part should withstand.

Series by IEC 60063 through eseries.
"""

from __future__ import annotations

from ..late import late
from .figure import Figure, choice, figure, positive
from .notation import show
from .sums import off_percent, watts

with late():
    import eseries

SERIES = ("e3", "e6", "e12", "e24", "e48", "e96", "e192")
FILM_V = (100.0, 200.0, 250.0, 400.0, 600.0, 630.0, 1000.0, 1250.0, 1600.0)
ELECTROLYTIC_V = (6.3, 10.0, 16.0, 25.0, 35.0, 50.0, 63.0, 100.0, 160.0, 250.0, 350.0, 400.0, 450.0, 500.0, 600.0)
RESISTOR_W = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 25.0, 50.0, 100.0)


def nearest(value: float, series: str = "E12") -> float:
    """The preferred value nearest by ratio, as a part's ink shows it. Raises ValueError for a bad series."""
    positive(value=value)
    key = eseries.ESeries[choice("series", series, SERIES).upper()]
    below, above = eseries.find_less_than_or_equal(key, value), eseries.find_greater_than_or_equal(key, value)
    return float(f"{(below if value * value <= below * above else above):.4g}")


@figure
def nearest_ohm(*, wanted_ohm: float, series: str = "E24") -> Figure:
    """The preferred resistance nearest to a wanted one."""
    return _nearest("nearest preferred resistance", wanted_ohm, "ohm", series)


@figure
def nearest_F(*, wanted_F: float, series: str = "E6") -> Figure:
    """The preferred capacitance nearest to a wanted one."""
    return _nearest("nearest preferred capacitance", wanted_F, "F", series)


def _nearest(name: str, wanted: float, unit: str, series: str) -> Figure:
    value = nearest(wanted, series)
    return Figure(
        name=name,
        value=value,
        unit=unit,
        steps=(
            f"wanted {show(wanted, unit)}; nearest in {series.upper()} {show(value, unit)}",
            f"off by {off_percent(value, wanted):+.2g} %",
        ),
        rests_on="Nearest by ratio. Parts made before the 1950s follow round figures (0.05, 0.25, 0.5) instead.",
        source="iec-60063",
        chosen=True,
    )


@figure
def capacitor_rating_V(*, working_V: float, kind: str = "film", margin_percent: float | None = None) -> Figure:
    """The standard voltage rating for a replacement capacitor. kind: film or electrolytic.

    working_V: the highest DC it may see, which for a coupling or first filter capacitor is the unloaded supply.
    """
    positive(working_V=working_V)
    film = choice("kind", kind, ("film", "electrolytic")) == "film"
    margin = margin_percent if margin_percent is not None else (25.0 if film else 10.0)
    needed = working_V * (1 + margin / 100)
    rating = next((volts for volts in (FILM_V if film else ELECTROLYTIC_V) if volts >= needed), None)
    if rating is None:
        raise ValueError(f"no stock {kind} capacitor takes {needed:.0f} V: put two in series with balancing resistors")
    return Figure(
        name="voltage rating of the replacement",
        value=rating,
        unit="V",
        steps=(
            f"{working_V:.4g} V x (1 + {margin:.3g} %) = {needed:.4g} V",
            f"next standard rating {rating:.4g} V",
        ),
        rests_on="At switch-on, before the tubes draw current, the supply rises to its peak: use that figure.",
        source="common-practice",
        warnings=("never below the rating of the part taken out",),
        chosen=True,
    )


@figure
def resistor_rating_W(*, dissipated_W: float, ambient_C: float = 60.0) -> Figure:
    """The standard wattage for a replacement resistor: twice the heat, and derated above 70 C."""
    positive(dissipated_W=dissipated_W)
    if ambient_C >= 155:
        raise ValueError("at 155 C a resistor may carry no power at all; find a cooler place for it")
    derating = min(1.0, (155 - ambient_C) / (155 - 70))
    needed = 2 * dissipated_W / derating
    rating = next((watts for watts in RESISTOR_W if watts >= needed), None)
    if rating is None:
        raise ValueError(f"{needed:.0f} W is beyond stock sizes: share the heat between several resistors")
    return Figure(
        name="wattage of the replacement",
        value=rating,
        unit="W",
        steps=(
            f"derating at {ambient_C:.3g} C: {100 * derating:.3g} %",
            f"2 x {dissipated_W:.3g} W / {derating:.3g} = {needed:.3g} W; next size {rating:.3g} W",
        ),
        rests_on="Full power to 70 C, falling in a straight line to none at 155 C, as film resistors usually are.",
        source="common-practice",
        chosen=True,
    )


@figure
def resistor_heat_W(*, drop_V: float, resistance_ohm: float) -> Figure:
    """Watts in a resistor from the volts across it."""
    positive(resistance_ohm=resistance_ohm)
    heat_W = watts(drop_V, resistance_ohm)
    return Figure(
        name="heat in the resistor",
        value=heat_W,
        unit="W",
        steps=(f"{drop_V:.4g} V x {drop_V:.4g} V / {show(resistance_ohm, 'ohm')} = {heat_W:.3g} W",),
        rests_on="DC or RMS volts across the part itself.",
        source="textbook-identity",
    )


@figure
def drift_percent(*, measured_ohm: float, marked_ohm: float) -> Figure:
    """How far a resistor has moved from its marking, in percent; positive is upward."""
    positive(marked_ohm=marked_ohm)
    percent = off_percent(measured_ohm, marked_ohm)
    return Figure(
        name="drift from the marked value",
        value=percent,
        unit="percent",
        steps=(f"{show(measured_ohm, 'ohm')} against {show(marked_ohm, 'ohm')} = {percent:+.3g} %",),
        rests_on="Measured with the part lifted at one end, or read in circuit only when it reads high.",
        source="common-practice",
        verdict="replace"
        if abs(percent) > 20
        else "keep unless the place is critical"
        if abs(percent) > 10
        else "keep",
    )
