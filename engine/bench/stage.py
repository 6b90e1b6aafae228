"""The triode stage: operating point from supply and loads, load line, gain and headroom.

Tube curves are those of the circuit room, fitted to the sheets' operating points.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from ..late import late
from .figure import Curve, Figure, figure, positive
from .laws import spread, triode_law
from .notation import show
from .sums import beside, halved, milliamperes

with late():
    import numpy as np

    from ..devices import tubes

RESTS_ON = (
    "An average tube of that type; one from the drawer may differ by a fifth. Cathode bias, grid at chassis volts."
)
SOURCE = "glass-audio-1996"
GRID_ONSET_V = -0.5  # contact potential: where a preamp triode's grid starts to draw current (common practice)


def plate_current(law: Any, grid_V: float, plate_V: float) -> tuple[float, float, float]:
    """Plate current (A), transconductance and plate conductance (S) of one triode section by its law."""
    flow = tubes.triode(np.array(grid_V), np.array(max(plate_V, 0.0)), law)
    return float(flow.current[1]), float(flow.slope[1][0]), float(flow.slope[1][1])


def operating_point(
    law: Any, supply_V: float, plate_load: float, cathode_resistor: float
) -> tuple[float, float, float]:
    """Plate current (A), plate to cathode and cathode volts where tube and resistors agree, by bisection."""
    total = plate_load + cathode_resistor

    def too_low(current: float) -> bool:
        return plate_current(law, -current * cathode_resistor, supply_V - current * total)[0] > current

    most = supply_V / total
    if not math.isfinite(most):
        raise OverflowError("next to no resistance in the way")
    current = halved(most, too_low)
    return current, supply_V - current * total, current * cathode_resistor


def load_line(tube: str, supply_V: float, plate_load: float, cathode_resistor: float) -> Curve:
    """Plate curves at whole grid volts, with the DC load line and the operating point, in V and mA.

    Raises ValueError for a type that is not a triode on file.
    """
    law = triode_law(tube)
    total = plate_load + cathode_resistor
    current, across, cathode_V = operating_point(law, supply_V, plate_load, cathode_resistor)
    step = next(step for step, most in ((0.5, 2), (1, 4), (2, 8), (5, 20), (10, math.inf)) if cathode_V <= most)
    volts = tuple(supply_V * index / 40 for index in range(41))
    ceiling = 1000 * supply_V / total * 1.1
    lines = []
    for index in range(6):
        grid_V = -step * index if index else 0.0
        points = [(plate_V, 1000 * plate_current(law, grid_V, plate_V)[0]) for plate_V in volts]
        kept = [(plate_V, mA) for plate_V, mA in points if mA <= ceiling]
        lines.append((f"grid {grid_V:g} V", tuple(v for v, _ in kept), tuple(mA for _, mA in kept)))
    lines.append(("load line", (0.0, supply_V), (1000 * supply_V / total, 0.0)))
    lines.append(("operating point", (across,), (1000 * current,)))
    return Curve(f"{tube} with {show(plate_load, 'ohm')}", "plate V", "plate mA", tuple(lines))


@figure
def expected_plate_V(
    *, supply_V: float, plate_load_ohm: float, cathode_resistor_ohm: float, tube: str = "12AX7"
) -> Figure:
    """Plate volts to chassis of a healthy triode stage, with its load line."""
    positive(supply_V=supply_V, plate_load_ohm=plate_load_ohm)

    def worked(law: Any) -> Figure:
        current, across, cathode_V = operating_point(law, supply_V, plate_load_ohm, cathode_resistor_ohm)
        value = across + cathode_V
        return Figure(
            name="expected plate volts",
            value=value,
            unit="V",
            steps=(
                f"tube and resistors agree at {show(current, 'A')}",
                f"cathode {show(current, 'A')} x {show(cathode_resistor_ohm, 'ohm')} = {cathode_V:.3g} V",
                f"plate {supply_V:.4g} V - {show(current, 'A')} x {show(plate_load_ohm, 'ohm')} = {value:.4g} V",
            ),
            rests_on=RESTS_ON,
            source=SOURCE,
        )

    found = spread(triode_law(tube), worked)
    return replace(found, curve=load_line(tube, supply_V, plate_load_ohm, cathode_resistor_ohm))


@figure
def expected_current_mA(
    *, supply_V: float, plate_load_ohm: float, cathode_resistor_ohm: float, tube: str = "12AX7"
) -> Figure:
    """Plate current of a healthy triode stage, with its load line."""
    positive(supply_V=supply_V, plate_load_ohm=plate_load_ohm)
    total_ohm = plate_load_ohm + cathode_resistor_ohm

    def worked(law: Any) -> Figure:
        current, across, cathode_V = operating_point(law, supply_V, plate_load_ohm, cathode_resistor_ohm)
        return Figure(
            name="expected plate current",
            value=1000 * current,
            unit="mA",
            steps=(
                f"load line from {supply_V:.4g} V to {milliamperes(supply_V, total_ohm):.3g} mA",
                f"tube meets it at {across:.4g} V across, grid {-cathode_V:.3g} V, {show(current, 'A')}",
            ),
            rests_on=RESTS_ON,
            source=SOURCE,
        )

    found = spread(triode_law(tube), worked)
    return replace(found, curve=load_line(tube, supply_V, plate_load_ohm, cathode_resistor_ohm))


@figure
def plate_current_mA(*, supply_V: float, plate_V: float, plate_load_ohm: float) -> Figure:
    """Plate current of a stage from the volts across its plate load."""
    positive(plate_load_ohm=plate_load_ohm)
    if plate_V > supply_V:
        raise ValueError(f"plate {plate_V:g} V stands above its supply {supply_V:g} V; check both readings")
    value = milliamperes(supply_V - plate_V, plate_load_ohm)
    return Figure(
        name="plate current",
        value=value,
        unit="mA",
        steps=(f"({supply_V:.4g} V - {plate_V:.4g} V) / {show(plate_load_ohm, 'ohm')} = {value:.3g} mA",),
        rests_on="Supply read at the stage's own node, and the load's real resistance.",
        source="textbook-identity",
    )


@figure
def current_mismatch_percent(
    *, supply_V: float, plate_V: float, plate_load_ohm: float, cathode_V: float, cathode_resistor_ohm: float
) -> Figure:
    """How far plate and cathode current of one stage disagree; in a good stage they are one current."""
    return plate_against_cathode(
        supply_V, plate_V, plate_load_ohm, cathode_V, cathode_resistor_ohm, 20,
        "more in the plate: plate load low, or a coupling capacitor leaks from the plate",
        "more in the cathode: cathode resistor low or bypass leaky, plate load high, or heater leakage",
        "Marked values; with carbon resistors a fifth of difference means nothing. A section of its own.",
    )  # fmt: skip


def plate_against_cathode(
    supply_V: float, plate_V: float, plate_ohm: float, cathode_V: float, cathode_ohm: float, allowed_percent: float,
    plate_more: str, cathode_more: str, rests_on: str,
) -> Figure:  # fmt: skip
    """Plate current less cathode current of one section, as a share of the larger; what more on either side means."""
    positive(plate_load_ohm=plate_ohm, cathode_load_ohm=cathode_ohm)
    plate, cathode = milliamperes(supply_V - plate_V, plate_ohm), milliamperes(cathode_V, cathode_ohm)
    larger = max(plate, cathode)
    positive(current=larger)
    value = 100 * (plate - cathode) / larger
    return Figure(
        name="plate current compared with cathode current",
        value=value,
        unit="percent",
        steps=(
            f"plate ({supply_V:.4g} - {plate_V:.4g}) V / {show(plate_ohm, 'ohm')} = {plate:.3g} mA",
            f"cathode {cathode_V:.4g} V / {show(cathode_ohm, 'ohm')} = {cathode:.3g} mA",
            f"difference = ({plate:.4g} - {cathode:.4g}) mA / {larger:.4g} mA = {value:.3g} %",
        ),
        rests_on=rests_on,
        source="common-practice",
        verdict=plate_more if value > allowed_percent else cathode_more if value < -allowed_percent else "they agree",
    )


@figure
def gain_ratio(
    *,
    supply_V: float,
    plate_load_ohm: float,
    cathode_resistor_ohm: float,
    next_grid_leak_ohm: float = 1e6,
    tube: str = "12AX7",
    bypassed: str = "yes",
) -> Figure:
    """Midband gain of a triode stage, cathode bypassed or not (yes or no)."""
    positive(supply_V=supply_V, plate_load_ohm=plate_load_ohm, next_grid_leak_ohm=next_grid_leak_ohm)
    load_ohm = beside(plate_load_ohm, next_grid_leak_ohm)
    bare = bypassed.strip().lower() in ("no", "false")

    def worked(law: Any) -> Figure:
        current, across, cathode_V = operating_point(law, supply_V, plate_load_ohm, cathode_resistor_ohm)
        _, gm, conductance = plate_current(law, -cathode_V, across)
        positive(current=current, conductance=conductance)
        rp, mu = 1 / conductance, gm / conductance
        below = rp + load_ohm + ((mu + 1) * cathode_resistor_ohm if bare else 0.0)
        value = mu * load_ohm / below
        return Figure(
            name="gain of the stage",
            value=value,
            unit="ratio",
            steps=(
                f"at {show(current, 'A')}: mu {mu:.3g}, plate resistance {show(rp, 'ohm')}",
                f"load {show(plate_load_ohm, 'ohm')} || {show(next_grid_leak_ohm, 'ohm')} = "
                f"{show(load_ohm, 'ohm')}",
                f"{mu:.3g} x {show(load_ohm, 'ohm')} / {show(below, 'ohm')} = {value:.3g}",
            ),
            rests_on=f"Small signals. {RESTS_ON}",
            source=SOURCE,
        )

    return spread(triode_law(tube), worked)


@figure
def simple_gain_ratio(*, mu: float, plate_resistance_ohm: float, load_ohm: float) -> Figure:
    """Gain of a bypassed stage from mu and plate resistance: mu RL / (rp + RL)."""
    positive(mu=mu, plate_resistance_ohm=plate_resistance_ohm, load_ohm=load_ohm)
    value = mu * load_ohm / (plate_resistance_ohm + load_ohm)
    return Figure(
        name="gain of the stage",
        value=value,
        unit="ratio",
        steps=(f"{mu:.4g} x {show(load_ohm, 'ohm')} / {show(plate_resistance_ohm + load_ohm, 'ohm')} = {value:.4g}",),
        rests_on="load_ohm is everything on the plate, side by side. Cathode bypassed.",
        source="textbook-identity",
    )


@figure
def headroom_V(
    *,
    supply_V: float,
    plate_load_ohm: float,
    cathode_resistor_ohm: float,
    next_grid_leak_ohm: float = 1e6,
    tube: str = "12AX7",
) -> Figure:
    """Largest peak output before the grid draws current on one side or the tube cuts off on the other."""
    positive(supply_V=supply_V, plate_load_ohm=plate_load_ohm, next_grid_leak_ohm=next_grid_leak_ohm)
    load_ohm = beside(plate_load_ohm, next_grid_leak_ohm)

    def worked(law: Any) -> Figure:
        current, across, _ = operating_point(law, supply_V, plate_load_ohm, cathode_resistor_ohm)
        up = current * load_ohm
        down = halved(
            across,
            lambda swing: plate_current(law, GRID_ONSET_V, across - swing)[0] > current + swing / load_ohm,
        )
        value = min(up, down)
        return Figure(
            name="largest clean peak output",
            value=value,
            unit="V",
            steps=(
                f"up to cutoff: {show(current, 'A')} x {show(load_ohm, 'ohm')} = {up:.3g} V",
                f"down to where the grid draws current (about {GRID_ONSET_V:g} V): {down:.3g} V",
                f"the smaller is {value:.3g} V peak",
            ),
            rests_on=f"Cathode bypassed, a soft limit: distortion is felt well before. {RESTS_ON}",
            source=SOURCE,
        )

    found = spread(triode_law(tube), worked)
    return replace(found, curve=load_line(tube, supply_V, plate_load_ohm, cathode_resistor_ohm))
