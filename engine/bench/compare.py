"""One reading against another: shares, drops, differences, the higher of two."""

from __future__ import annotations

from .figure import Figure, figure, positive
from .notation import show
from .sums import apart_percent, milliamperes


def _share(name: str, part: float, whole: float, unit: str, rests_on: str) -> Figure:
    positive(**{"the figure compared with": whole})
    percent = 100 * part / whole
    return Figure(
        name=name,
        value=percent,
        unit="percent",
        steps=(f"{show(part, unit)} / {show(whole, unit)} = {percent:.4g} %",),
        rests_on=rests_on,
        source="textbook-identity",
    )


@figure
def of_expected_percent(*, measured_V: float, expected_V: float) -> Figure:
    """Volts measured as a share of the volts expected (schematic, calculation, another channel)."""
    return _share("share of the expected volts", measured_V, expected_V, "V", "Both at the same mains volts.")


@figure
def of_marked_percent(*, measured_ohm: float, marked_ohm: float) -> Figure:
    """Resistance measured as a share of the marked one."""
    return _share("share of the marked value", measured_ohm, marked_ohm, "ohm", "The part lifted at one end.")


@figure
def of_marked_capacitance_percent(*, measured_F: float, marked_F: float) -> Figure:
    """Capacitance measured as a share of the marked one."""
    return _share("share of the marked value", measured_F, marked_F, "F", "Discharged, one end lifted.")


@figure
def of_limit_percent(*, dissipated_W: float, rated_W: float) -> Figure:
    """Watts in a part as a share of the watts it is rated for."""
    return _share("share of the rated watts", dissipated_W, rated_W, "W", "Half the rating is a cool, lasting part.")


@figure
def drop_percent(*, before_V: float, after_V: float) -> Figure:
    """By how many percent volts fall from one state to another, as from idle to full output."""
    positive(before_V=before_V)
    percent = 100 * (before_V - after_V) / before_V
    return Figure(
        name="drop",
        value=percent,
        unit="percent",
        steps=(f"({before_V:.4g} V - {after_V:.4g} V) / {before_V:.4g} V = {percent:.3g} %",),
        rests_on="The same point, the same mains.",
        source="textbook-identity",
    )


@figure
def difference_percent(*, one_V: float, other_V: float) -> Figure:
    """Difference of two voltages that should be alike, as a share of their mean."""
    mean = (one_V + other_V) / 2
    percent = abs(apart_percent(one_V, other_V))
    return Figure(
        name="difference",
        value=percent,
        unit="percent",
        steps=(f"|{one_V:.4g} - {other_V:.4g}| V / {abs(mean):.4g} V = {percent:.3g} %",),
        rests_on="Two points that match in a good amplifier.",
        source="textbook-identity",
    )


@figure
def difference_ohm_percent(*, one_ohm: float, other_ohm: float) -> Figure:
    """Difference of two resistances that should be alike, as a share of their mean."""
    mean = (one_ohm + other_ohm) / 2
    percent = abs(apart_percent(one_ohm, other_ohm))
    return Figure(
        name="difference",
        value=percent,
        unit="percent",
        steps=(f"|{show(one_ohm, 'ohm')} - {show(other_ohm, 'ohm')}| / {show(mean, 'ohm')} = {percent:.3g} %",),
        rests_on="The halves of an older transformer differ by a few percent: the outer one is longer.",
        source="textbook-identity",
    )


def _higher(one: float, other: float, unit: str) -> Figure:
    return Figure(
        name="the higher of the two",
        value=max(one, other),
        unit=unit,
        steps=(f"{show(one, unit)} and {show(other, unit)}: the higher is {show(max(one, other), unit)}",),
        rests_on="The worse of a pair decides.",
        source="textbook-identity",
    )


@figure
def higher_V(*, one_V: float, other_V: float) -> Figure:
    """The higher of two voltages."""
    return _higher(one_V, other_V, "V")


@figure
def higher_ohm(*, one_ohm: float, other_ohm: float) -> Figure:
    """The higher of two resistances."""
    return _higher(one_ohm, other_ohm, "ohm")


@figure
def current_mA(*, drop_V: float, resistance_ohm: float) -> Figure:
    """Current in a resistor from the volts across it."""
    positive(resistance_ohm=resistance_ohm)
    current = milliamperes(drop_V, resistance_ohm)
    return Figure(
        name="current in the resistor",
        value=current,
        unit="mA",
        steps=(f"{drop_V:.4g} V / {show(resistance_ohm, 'ohm')} = {current:.4g} mA",),
        rests_on="The resistor's real value.",
        source="textbook-identity",
    )
