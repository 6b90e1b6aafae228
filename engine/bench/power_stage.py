"""The output stage against its transformer: output watts and load line of one power pentode, or of a push-pull pair.

Every point of the swing is where tube and load agree; in a pair the two tubes' currents are taken from each other, so
the step from both conducting to one alone comes by itself. Plate and screen volts are to the cathode, and do not
change.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..late import late
from .figure import Curve, Figure, figure, positive
from .laws import pentode_law, spread
from .notation import show
from .sums import halved

with late():
    from ..devices import tubes as devices_tubes

Array = NDArray[np.float64]
POINTS = 96  # of one cycle of drive
HIGHEST = 41  # times its supply: further than any plate swings up
SOURCE = "glass-audio-1996"
LIMITS = (
    "An average tube of that type, driven by a sine until the grid just reaches its cathode; a supply, screen and bias "
    "that stand still, a resistive load, a transformer that loses nothing (a real one loses a tenth or so). It comes "
    "within a quarter of the outputs that sheets print, a tenth low as a rule."
)


def plate_amperes(law: Any, grid_V: Array, plate_V: Array, screen_V: float) -> Array:
    """Plate current (A) of one tube at those volts to its cathode."""
    current: Array = devices_tubes.pentode(grid_V, np.maximum(plate_V, 0.0), np.asarray(screen_V), law).current[1]
    return current


def swing(
    law: Any, plate_V: float, screen_V: float, bias_V: float, load_ohm: float, pair: bool
) -> tuple[Array, Array, Array]:
    """One cycle: volts from where the plate idles (positive is down), current of the first tube, and load current (A).

    load_ohm: what the swing sees: the load itself, or a quarter of the plate-to-plate load of a pair.
    """
    drive = -bias_V * np.sin(2 * np.pi * (np.arange(POINTS) + 0.5) / POINTS)
    rest = plate_amperes(law, np.array(bias_V), np.array(plate_V), screen_V)

    def flowing(down: Array) -> tuple[Array, Array]:
        one = plate_amperes(law, bias_V + drive, plate_V - down, screen_V)
        other = plate_amperes(law, bias_V - drive, plate_V + down, screen_V) if pair else rest
        return one, one - other

    def too_low(across: Array) -> NDArray[np.bool_]:
        return flowing(plate_V - across)[1] * load_ohm <= plate_V - across

    down = plate_V - halved(np.full(POINTS, HIGHEST * plate_V), too_low)
    return down, *flowing(down)


def _worked(tube: str, plate_V: float, screen_V: float, bias_V: float, load_ohm: float, pair: bool) -> Figure:
    positive(plate_V=plate_V, screen_V=screen_V, load_ohm=load_ohm)
    if bias_V >= 0:
        raise ValueError("the bias is grid to cathode and negative: -19, say")
    seen_ohm = load_ohm / 4 if pair else load_ohm
    a_side = f" plate to plate, {show(seen_ohm, 'ohm')} a side" if pair else ""
    tubes = "each tube" if pair else "the tube"

    def worked(law: Any) -> Figure:
        down, one, into = swing(law, plate_V, screen_V, bias_V, seen_ohm, pair)
        watts = float(((into - into.mean()) ** 2).mean() * seen_ohm)
        idle = 1000 * float(plate_amperes(law, np.array(bias_V), np.array(plate_V), screen_V))
        drawn = 1000 * float(one.mean())
        heat = plate_V * drawn / 1000 - watts / (2 if pair else 1)
        return Figure(
            name="output at the edge of grid current",
            value=watts,
            unit="W",
            steps=(
                f"load line: {show(load_ohm, 'ohm')}{a_side}",
                f"{tubes} idles at {idle:.3g} mA, draws {drawn:.3g} mA driven, {1000 * one.max():.3g} mA at the peak",
                f"plate swings down to {plate_V - down.max():.3g} V and up to {plate_V - down.min():.4g} V",
                f"into the load {watts:.3g} W; on a plate {plate_V * idle / 1000:.3g} W at idle, {heat:.3g} W driven",
            ),
            rests_on=LIMITS,
            source=SOURCE,
        ).warn("the plate swings over twice its supply: sockets and transformer must withstand that"
               if down.min() < -plate_V else "")  # fmt: skip

    law = pentode_law(tube)
    down, one, _ = swing(law, plate_V, screen_V, bias_V, seen_ohm, pair)
    curve = _load_line(law, tube, plate_V, screen_V, bias_V, load_ohm, down, one)
    return replace(spread(law, worked), curve=curve)


def _load_line(
    law: Any, tube: str, plate_V: float, screen_V: float, bias_V: float, load_ohm: float, down: Array, one: Array
) -> Curve:
    """Plate curves from bias to zero, and the way one tube goes through them in a cycle, in V and mA."""
    volts = np.linspace(0.0, float(plate_V - down.min()), 61)
    lines = []
    for grid_V in (0.0, bias_V / 4, bias_V / 2, 3 * bias_V / 4, bias_V):
        current = 1000 * plate_amperes(law, np.array(grid_V), volts, screen_V)
        lines.append((f"grid {grid_V:.3g} V", _floats(volts), _floats(current)))
    across = plate_V - down
    order = np.argsort(across)
    lines.append(("load line", _floats(across[order]), _floats(1000 * one[order])))
    idle = 1000 * float(plate_amperes(law, np.array(bias_V), np.array(plate_V), screen_V))
    lines.append(("idle", (plate_V,), (idle,)))
    return Curve(f"{tube} into {show(load_ohm, 'ohm')}", "plate V", "plate mA", tuple(lines))


def _floats(values: Array) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


@figure
def single_output_W(*, tube: str, plate_V: float, screen_V: float, bias_V: float, load_ohm: float) -> Figure:
    """Output of one power pentode or beam tube in class A into its transformer, with its load line.

    load_ohm: what the plate sees, see transformer.reflected_ohm.
    """
    return _worked(tube, plate_V, screen_V, bias_V, load_ohm, pair=False)


@figure
def pair_output_W(*, tube: str, plate_V: float, screen_V: float, bias_V: float, plate_to_plate_ohm: float) -> Figure:
    """Output of a push-pull pair of power pentodes or beam tubes into its transformer, with the load line of one.

    Four tubes on one transformer: give twice its plate-to-plate load, and double the watts.
    """
    return _worked(tube, plate_V, screen_V, bias_V, plate_to_plate_ohm, pair=True)
