"""DC where none should be: on a grid, a pot, a board, and what it does to the bias."""

from __future__ import annotations

from ..reference.tables import load
from .figure import Figure, choice, figure, positive
from .notation import show
from .sums import beside, milliamperes

METER = 10e6
AGE = "The meter's own resistance across the grid leak is allowed for. DC warms up: read after ten minutes."


@figure
def leakage_ohm(*, grid_V: float, source_V: float, grid_leak_ohm: float, meter_ohm: float = METER) -> Figure:
    """Leakage resistance of a coupling capacitor from the DC it leaves on a grid leak or pot.

    grid_V: as the meter reads it; source_V: on the other side of the capacitor.
    """
    positive(grid_V=grid_V, grid_leak_ohm=grid_leak_ohm, meter_ohm=meter_ohm)
    if source_V <= grid_V:
        raise ValueError("the source side must read above the grid for a leak to come from there")
    shunt = beside(grid_leak_ohm, meter_ohm)
    value = shunt * (source_V - grid_V) / grid_V
    limit = load().window("coupling_capacitor_insulation_Mohm").floor * 1e6
    return Figure(
        name="leakage resistance of the capacitor",
        value=value,
        unit="ohm",
        steps=(
            f"grid leak || meter = {show(grid_leak_ohm, 'ohm')} || {show(meter_ohm, 'ohm')} "
            f"= {show(shunt, 'ohm')}",
            f"{show(shunt, 'ohm')} x ({source_V:.4g} V - {grid_V:.4g} V) / {grid_V:.4g} V = {show(value, 'ohm')}",
        ),
        rests_on=f"{AGE} All of the DC is blamed on the capacitor: rule out grid current with the tube pulled.",
        source="textbook-identity",
        verdict="replace" if value < limit else "good",
    )


@figure
def unloaded_grid_V(*, grid_V: float, grid_leak_ohm: float, leakage_ohm: float, meter_ohm: float = METER) -> Figure:
    """Volts on the grid once the meter is taken away."""
    positive(grid_leak_ohm=grid_leak_ohm, leakage_ohm=leakage_ohm, meter_ohm=meter_ohm)
    source = beside(grid_leak_ohm, leakage_ohm)
    value = grid_V * (source + meter_ohm) / meter_ohm
    return Figure(
        name="grid volts without the meter",
        value=value,
        unit="V",
        steps=(
            f"grid leak || leakage = {show(source, 'ohm')}",
            f"{grid_V:.4g} V x ({show(source, 'ohm')} + {show(meter_ohm, 'ohm')}) / {show(meter_ohm, 'ohm')} "
            f"= {value:.4g} V",
        ),
        rests_on="A linear leak.",
        source="textbook-identity",
    )


@figure
def bias_shift_V(*, source_V: float, leakage_ohm: float, grid_leak_ohm: float) -> Figure:
    """Volts that a leaky coupling capacitor adds to a grid, with no meter there: less bias, a hotter tube."""
    positive(leakage_ohm=leakage_ohm, grid_leak_ohm=grid_leak_ohm)
    value = source_V * grid_leak_ohm / (grid_leak_ohm + leakage_ohm)
    limit = load().window("grid_leak_output_mV").ceiling / 1000
    return Figure(
        name="shift of the grid",
        value=value,
        unit="V",
        steps=(
            f"{source_V:.4g} V x {show(grid_leak_ohm, 'ohm')} / "
            f"({show(grid_leak_ohm, 'ohm')} + {show(leakage_ohm, 'ohm')}) = {value:.3g} V",
        ),
        rests_on="A linear leak; real ones grow with heat and volts. No grid current yet.",
        source="common-practice",
        verdict="replace" if value > limit else "good",
    ).warn("the output tube runs hot: bias volts are lost one for one" if value > 1 else "")


@figure
def grid_leak_share_percent(*, grid_mV: float, stage: str = "output") -> Figure:
    """DC found on a grid leak as a share of what can be tolerated: 5 mV in a preamp, 50 mV on an output grid."""
    output = choice("stage", stage, ("output", "preamp")) == "output"
    window = load().window("grid_leak_output_mV" if output else "grid_leak_preamp_mV")
    percent = 100 * abs(grid_mV) / window.ceiling
    return Figure(
        name="grid DC as a share of what can be tolerated",
        value=percent,
        unit="percent",
        steps=(f"|{grid_mV:.4g}| mV / {window.ceiling:g} mV = {percent:.4g} %",),
        rests_on="Tube pulled or grid current ruled out; fixed bias subtracted from the reading first.",
        source=window.source,
        verdict="replace the capacitor" if percent > 100 else "good",
    )


@figure
def grid_current_mA(*, grid_V: float, grid_leak_ohm: float, meter_ohm: float = METER) -> Figure:
    """Grid current of a gassy or overheated tube from the DC it leaves on its grid leak, capacitor lifted."""
    positive(grid_leak_ohm=grid_leak_ohm, meter_ohm=meter_ohm)
    shunt = beside(grid_leak_ohm, meter_ohm)
    value = milliamperes(grid_V, shunt)
    return Figure(
        name="grid current",
        value=value,
        unit="mA",
        steps=(f"{grid_V:.4g} V / {show(shunt, 'ohm')} = {show(value, 'mA')}",),
        rests_on="Positive grid: gas or grid emission. Negative grid in a preamp stage: contact potential, harmless.",
        source="textbook-identity",
    )


@figure
def board_leakage_ohm(*, eyelet_V: float, nearby_V: float, resistance_ohm: float, meter_ohm: float = METER) -> Figure:
    """Leakage through a conductive board from the DC it leaves on an eyelet.

    nearby_V: the high voltage it comes from; resistance_ohm: from the eyelet to chassis, METER for a bare eyelet.
    """
    return Figure(
        **{
            **vars(leakage_ohm(grid_V=eyelet_V, source_V=nearby_V, grid_leak_ohm=resistance_ohm, meter_ohm=meter_ohm)),
            "name": "leakage resistance of the board",
            "rests_on": "Capacitors on that node lifted first. Humidity makes it worse, so the reading wanders.",
            "source": "common-practice",
            "verdict": "the board conducts",
            "warnings": ("DC comes back until the parts are lifted off the board or the leak path is cut",),
        }
    )
