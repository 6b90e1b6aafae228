"""What the test points should read: for any faults at once, with the meter's pull and the spread of parts taken in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..devices.tubes import Array
from .faults import Severity
from .network import Ints
from .sensitivity import covariance, spread
from .solve import Bools, Solver, Variant

HEALTHY = Severity("healthy", Variant())


@dataclass(frozen=True)
class Meter:
    """What a reading is taken with: input resistance; error as share of reading and as volts (uniform limits).

    volts: on the range of 20 V and above; a range below has a tenth of it, and the lowest a fiftieth, unless
    `one_range`. For a moving-coil meter, ohms per volt times the range takes the place of `ohm`.
    """

    ohm: float = 10e6
    share: float = 0.01
    volts: float = 0.05
    one_range: bool = False

    @classmethod
    def moving_coil(cls, ohm_per_volt: float = 20e3, range_V: float = 500.0) -> Meter:
        """A moving-coil meter on one range, 3 percent of the range (common practice, no source)."""
        return cls(ohm_per_volt * range_V, 0.0, 0.03 * range_V, one_range=True)

    def variance(self, volts: Array) -> Array:
        least = self.volts * (1.0 if self.one_range else np.clip(np.abs(volts) / 20.0, 0.02, 1.0))
        result: Array = ((self.share * volts) ** 2 + least**2) / 3.0
        return result


@dataclass(frozen=True)
class Expected:
    """Readings of a set of variants. mean (rows, points), covariance (rows, points, points), without meter error.

    port_V: the volts of tubes and supplies (rows, ports), from which a like variant is solved quickly.
    load: what the meter leaves of the volts, as a share (rows, points).
    """

    mean: Array
    covariance: Array
    converged: Bools
    port_V: Array
    load: Array


def guessed(expected: Expected, rows: Ints) -> tuple[Array, Array]:
    """Port volts, and what the meter leaves of the volts, with several faults at once, from what each does alone.
    rows: (sets, faults); row 0, the healthy circuit, stands where a set has fewer."""
    port_V, load = expected.port_V, expected.load
    near = port_V[0] + (port_V[rows] - port_V[0]).sum(axis=1)
    return near, load[0] * (load[rows] / load[0]).prod(axis=1)


def expect(
    solver: Solver,
    severities: Sequence[Severity],
    points: Sequence[str],
    meter: Meter,
    near: Array | None = None,
    load: Array | None = None,
    shift: Array | None = None,
) -> Expected:
    """Expected readings at `points` for each severity (one variant each), meter loading and spread taken in.

    near, load: port volts (severities, ports) to begin from, and what the meter leaves of the volts as a share
    (severities, points), where something like them is known. shift: how far each quantity of `spread` is known to be
    from what the model takes it for.
    """
    nodes = np.array([solver.network.node(point) for point in points], dtype=np.intp)
    mains = solver.network.circuit.mains.tolerance_percent / 100
    solution = solver.solve([severity.variant for severity in severities], near)
    sound_A = solver.healthy.port_A[0]
    found = spread(solution, nodes, list(severities), mains, sound_A)
    volts = np.where(solution.converged[:, None], solution.volts[:, nodes], 0.0)
    source_ohm = np.abs(found.thevenin_ohm(nodes))
    known = load is not None
    load = meter.ohm / (meter.ohm + source_ohm) if load is None else load
    mean, slopes = volts * load, found.slopes * load[:, :, None]
    # How much the meter pulls a node down depends on its source resistance, which is no surer than the parts it is of.
    pulled = mean * (1.0 - load) * (GUESSED_SPREAD if known else SOURCE_SPREAD)
    bent = _bent(solver, nodes, volts, source_ohm, load) & solution.converged[:, None]
    rows, columns = np.nonzero(bent & (not known))
    if len(rows):
        on = [
            severities[row].loaded(int(nodes[column]), 1.0 / meter.ohm)
            for row, column in zip(rows.tolist(), columns.tolist(), strict=True)
        ]
        again = solver.solve([severity.variant for severity in on], solution.port_V[rows], give_up=False)
        exact = spread(again, nodes[columns][:, None], on, mains, sound_A)
        good = again.converged
        mean[rows[good], columns[good]] = again.volts[np.arange(len(rows)), nodes[columns]][good]
        slopes[rows[good], columns[good]] = exact.slopes[good, 0]
        pulled[rows[good], columns[good]] = 0.0
    load = np.divide(mean, volts, out=load, where=np.abs(volts) > _SLIGHT_V)
    if shift is not None:
        mean = mean + slopes @ shift
    cov = covariance(slopes, found.sigma)
    index = np.arange(len(nodes))
    cov[:, index, index] += pulled**2
    return Expected(mean, cov, solution.converged, solution.port_V, load)


#: The meter's pull is worked out from the source resistance where it is slight or the stage works as it does when
#: sound; elsewhere (a node that a fault has moved, one that floats) the circuit is solved again with the meter on it.
_SLIGHT_V = 0.05
_FLOATING_OHM = 2e6
#: Standard deviation of a node's source resistance, as a share: a 10 percent resistor.
SOURCE_SPREAD = 0.1 / np.sqrt(3.0)
GUESSED_SPREAD = 3.0 * SOURCE_SPREAD  # where the share itself is taken from the faults one by one


def _bent(solver: Solver, nodes: Ints, volts: Array, source_ohm: Array, load: Array) -> Bools:
    sound = solver.healthy.volts[0, nodes]
    as_sound = np.abs(volts - sound) < 0.02 * np.abs(sound) + 0.1
    # A plate without a feed stands where its tube no longer conducts: its resistance there is that of a conducting one,
    # but a meter takes more than the tube can give. So what has moved is solved, whatever its resistance.
    pulled = np.abs(volts) * (1.0 - load) > _SLIGHT_V
    found: Bools = (~as_sound & (np.abs(volts) > _SLIGHT_V)) | (pulled & (source_ohm > _FLOATING_OHM))
    return found
