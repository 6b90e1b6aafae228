"""Volts that the schematic prints, or that were read when the amp was healthy, as calibration of the model.

They say how far tubes, supply and parts of such an amp are from what the model takes them for: the most probable
deviations of all uncertain quantities, given those volts, move every prediction, of the healthy circuit and of each
fault, by as much as it depends on each quantity. Another sample's tubes differ again, so the spread stays.
"""

from __future__ import annotations

import numpy as np

from ..devices.tubes import Array
from .expected import HEALTHY
from .sensitivity import covariance, spread
from .solve import Solver

#: Printed volts are rounded, and a meter's: standard deviation as a share, and in volts. That they are another amp's is
#: in the spread of the quantities.
PRINTED_SHARE, PRINTED_V = 0.01, 0.02
#: What they were taken with (common practice, no source: schematics that say so name a meter of 10 megohms or more).
PRINTED_METER_OHM = 10e6


def deviations(solver: Solver) -> Array | None:
    """The most probable deviation of every quantity of `sensitivity.spread`; None where no volts are printed."""
    printed = solver.network.circuit.printed
    if not printed:
        return None
    nodes = np.array([solver.network.node(point) for point in printed], dtype=np.intp)
    sound = solver.healthy
    mains = solver.network.circuit.mains.tolerance_percent / 100
    found = spread(sound, nodes, [HEALTHY], mains, sound.port_A[0])
    load = PRINTED_METER_OHM / (PRINTED_METER_OHM + np.abs(found.thevenin_ohm(nodes)[0]))
    slopes = found.slopes[0] * load[:, None]
    volts = np.array(list(printed.values()))
    noise = (PRINTED_SHARE * volts) ** 2 + PRINTED_V**2
    miss = volts - sound.volts[0, nodes] * load
    weights = np.linalg.solve(covariance(slopes[None], found.sigma)[0] + np.diag(noise), miss)
    result: Array = found.sigma**2 * (slopes.T @ weights)
    return result
