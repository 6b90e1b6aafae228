"""Phase inverters: split-load and long-tailed pair; currents, balance, headroom, leakage signs."""

from __future__ import annotations

from .figure import Figure, figure, positive
from .notation import show
from .stage import plate_against_cathode
from .sums import apart_percent, milliamperes, off_percent

MARGIN_V = 25.0  # plate to cathode volts a 12AX7-like section wants left at the peak


@figure
def split_load_gain_ratio(*, load_ohm: float, mu: float = 100.0, plate_resistance_ohm: float = 62500.0) -> Figure:
    """Gain to each output of a split-load inverter with equal loads: mu R / (rp + (mu + 2) R)."""
    positive(load_ohm=load_ohm, mu=mu, plate_resistance_ohm=plate_resistance_ohm)
    below = plate_resistance_ohm + (mu + 2) * load_ohm
    value = mu * load_ohm / below
    return Figure(
        name="gain to each output",
        value=value,
        unit="ratio",
        steps=(f"{mu:.4g} x {show(load_ohm, 'ohm')} / {show(below, 'ohm')} = {value:.4g}",),
        rests_on="load_ohm is the load resistor beside the following grid leak, alike on both sides.",
        source="textbook-identity",
    )


@figure
def split_load_imbalance_percent(*, plate_load_ohm: float, cathode_load_ohm: float) -> Figure:
    """How much larger the plate output is than the cathode output; one current flows in both loads."""
    positive(plate_load_ohm=plate_load_ohm, cathode_load_ohm=cathode_load_ohm)
    value = off_percent(plate_load_ohm, cathode_load_ohm)
    return Figure(
        name="imbalance of the two outputs",
        value=value,
        unit="percent",
        steps=(f"{show(plate_load_ohm, 'ohm')} / {show(cathode_load_ohm, 'ohm')} - 1 = {value:+.3g} %",),
        rests_on="Each load with its following grid leak beside it; no grid current in the next stage.",
        source="textbook-identity",
        verdict="balanced" if abs(value) <= 5 else "unbalanced",
    )


@figure
def split_load_headroom_V(*, supply_V: float, plate_V: float, cathode_V: float) -> Figure:
    """Peak volts at each output of a split-load inverter before it runs out of room."""
    if not cathode_V < plate_V <= supply_V:
        raise ValueError("cathode, plate and supply must rise in that order; check the readings")
    up = supply_V - plate_V
    down = max(0.0, (plate_V - cathode_V - MARGIN_V) / 2)
    value = min(up, down, max(cathode_V, 0.0))
    return Figure(
        name="headroom of each output",
        value=value,
        unit="V",
        steps=(
            f"plate up to the supply {up:.4g} V; cathode down to chassis {cathode_V:.4g} V",
            f"toward each other ({plate_V:.4g} - {cathode_V:.4g} - {MARGIN_V:g}) V / 2 = {down:.4g} V",
            f"the smallest is {value:.4g} V peak",
        ),
        rests_on=f"{MARGIN_V:g} V left across the tube at the peak (common practice). Unloaded outputs.",
        source="common-practice",
    )


@figure
def split_load_current_mismatch_percent(
    *, supply_V: float, plate_V: float, plate_load_ohm: float, cathode_V: float, cathode_load_ohm: float
) -> Figure:
    """Plate current compared with cathode current of a split-load inverter: more on one side is leakage there.

    cathode_load_ohm: everything from cathode to chassis, the bias resistor included.
    """
    return plate_against_cathode(
        supply_V, plate_V, plate_load_ohm, cathode_V, cathode_load_ohm, 10,
        "more in the plate load: its coupling capacitor leaks, or the load has drifted low",
        "more in the cathode load: grid current, heater leakage, or the load has drifted low",
        "Measured resistances; the meter's 10 megohm hardly loads either side.",
    )  # fmt: skip


@figure
def long_tail_current_mA(*, tail_V: float, tail_ohm: float) -> Figure:
    """Current of both sections of a long-tailed pair together, from the volts across the tail."""
    positive(tail_ohm=tail_ohm)
    value = milliamperes(tail_V, tail_ohm)
    return Figure(
        name="tail current",
        value=value,
        unit="mA",
        steps=(
            f"{tail_V:.4g} V / {show(tail_ohm, 'ohm')} = {value:.4g} mA",
            f"a section takes {value:.4g} mA / 2 = {value / 2:.3g} mA",
        ),
        rests_on="Cathode volts to the foot of the tail, every resistor in between counted.",
        source="textbook-identity",
    )


@figure
def long_tail_current_mismatch_percent(
    *, supply_V: float, one_plate_V: float, one_load_ohm: float, other_plate_V: float, other_load_ohm: float
) -> Figure:
    """Difference of the two plate currents of a long-tailed pair as a share of their mean."""
    positive(one_load_ohm=one_load_ohm, other_load_ohm=other_load_ohm)
    one = milliamperes(supply_V - one_plate_V, one_load_ohm)
    other = milliamperes(supply_V - other_plate_V, other_load_ohm)
    positive(current=one + other)
    value = apart_percent(one, other)
    return Figure(
        name="difference of the two plate currents",
        value=value,
        unit="percent",
        steps=(
            f"first ({supply_V:.4g} - {one_plate_V:.4g}) V / {show(one_load_ohm, 'ohm')} = {one:.3g} mA",
            f"second ({supply_V:.4g} - {other_plate_V:.4g}) V / {show(other_load_ohm, 'ohm')} = {other:.3g} mA",
            f"difference = ({one:.4g} - {other:.4g}) mA / {(one + other) / 2:.4g} mA = {value:.3g} %",
        ),
        rests_on="Up to a fifth is usual with unmatched sections. DC on one grid from a leaky capacitor tips it far.",
        source="common-practice",
        verdict="even" if abs(value) <= 20 else "tipped over: look for DC on one grid, a weak section, a drifted load",
    )


@figure
def long_tail_imbalance_percent(
    *,
    one_load_ohm: float,
    other_load_ohm: float,
    tail_ohm: float,
    mu: float = 100.0,
    plate_resistance_ohm: float = 62500.0,
) -> Figure:
    """How much larger the driven side's output is: loads and tail together decide.

    other / one = (R2 / R1) / (1 + (rp + R2) / ((mu + 1) Rt)); the driven side is `one`, the other grid at AC chassis.
    """
    positive(one_load_ohm=one_load_ohm, other_load_ohm=other_load_ohm, tail_ohm=tail_ohm, mu=mu)
    lost = 1 + (plate_resistance_ohm + other_load_ohm) / ((mu + 1) * tail_ohm)
    ratio = other_load_ohm / one_load_ohm / lost
    value = off_percent(1.0, ratio)
    return Figure(
        name="imbalance of the two outputs",
        value=value,
        unit="percent",
        steps=(
            f"the tail loses a factor 1 + {show(plate_resistance_ohm + other_load_ohm, 'ohm')} / "
            f"({mu + 1:.4g} x {show(tail_ohm, 'ohm')}) = {lost:.4g}",
            f"second over first = {other_load_ohm / one_load_ohm:.4g} / {lost:.4g} = {ratio:.4g}",
            f"first over second = 1 / {ratio:.4g} - 1 = {value:+.3g} %",
        ),
        rests_on="Small signals, alike sections. That is why the driven side often has the smaller load (82 k, 100 k).",
        source="textbook-identity",
        verdict="balanced" if abs(value) <= 5 else "unbalanced",
    )


@figure
def long_tail_headroom_V(*, supply_V: float, plate_V: float, cathode_V: float) -> Figure:
    """Peak volts at one output of a long-tailed pair before it runs out of room."""
    if not cathode_V < plate_V <= supply_V:
        raise ValueError("cathode, plate and supply must rise in that order; check the readings")
    up, down = supply_V - plate_V, max(0.0, plate_V - cathode_V - MARGIN_V)
    value = min(up, down)
    return Figure(
        name="headroom of each output",
        value=value,
        unit="V",
        steps=(
            f"plate up to the supply: {supply_V:.4g} V - {plate_V:.4g} V = {up:.4g} V",
            f"plate down to the cathode, {MARGIN_V:g} V left: {plate_V:.4g} V - {cathode_V:.4g} V - {MARGIN_V:g} V "
            f"= {down:.4g} V",
            f"the smaller is {value:.4g} V peak",
        ),
        rests_on=f"{MARGIN_V:g} V left across the tube at the peak (common practice). Unloaded outputs.",
        source="common-practice",
    )


@figure
def bias_V(*, grid_V: float, cathode_V: float) -> Figure:
    """Bias of an inverter section, grid to cathode; a grid that sits at its cathode points to leakage."""
    value = grid_V - cathode_V
    return Figure(
        name="bias of the section",
        value=value,
        unit="V",
        steps=(f"{grid_V:.4g} V - {cathode_V:.4g} V = {value:.3g} V",),
        rests_on="High-resistance grids: a 10 megohm meter pulls them down, so a reading low by a volt means nothing.",
        source="common-practice",
        verdict="grid at or above its cathode: leaky capacitor before it" if value >= 0 else "biased",
    )
