"""The fault dictionary of a circuit: what every test point reads, and how surely, sound and under every fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..devices.supply import SupplyCurve, SupplySpec
from ..devices.tubes import Array
from .faults import Fault, Severity, single_faults
from .netlist import Circuit
from .network import Ints, Network, compile_circuit
from .pairs import Pairs, solve_pairs
from .sensitivity import covariance, spread
from .solve import Bools, Solver, Variant

MOST_SOLVED = 1500
HEALTHY = Severity("healthy", Variant())


@dataclass(frozen=True)
class Meter:
    """What a reading is taken with: input resistance; error as share of reading and as volts (uniform limits).

    per_volt: for a moving-coil meter, ohms per volt times the range takes the place of `ohm`.
    """

    ohm: float = 10e6
    share: float = 0.01
    volts: float = 0.05

    @classmethod
    def moving_coil(cls, ohm_per_volt: float = 20e3, range_V: float = 500.0) -> Meter:
        """A moving-coil meter on one range, 3 per cent of the range (common practice, no source)."""
        return cls(ohm_per_volt * range_V, 0.0, 0.03 * range_V)

    def variance(self, volts: Array) -> Array:
        result: Array = ((self.share * volts) ** 2 + self.volts**2) / 3.0
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


#: Mean (points,) and covariance (points, points); None without an operating point.
Together = tuple[Array, Array] | None


@dataclass(frozen=True)
class Dictionary:
    """Readings at `points` for the sound circuit (row 0) and every severity of every fault.

    row_fault: index of the fault of each row, -1 for the sound circuit. known_pairs: `pairs`, where they were solved
    before. solved: sets of rows that were solved together for some readings, kept for the next ones.
    """

    solver: Solver
    meter: Meter
    points: tuple[str, ...]
    faults: tuple[Fault, ...]
    severities: tuple[Severity, ...]
    row_fault: NDArray[np.intp]
    expected: Expected
    known_pairs: Pairs | None = None
    solved: dict[tuple[int, ...], Together] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def pairs(self) -> Pairs:
        """What two faults at once give; solving all of them takes a second or two."""
        return self.known_pairs or solve_pairs(self)

    @cached_property
    def row_stage(self) -> Ints:
        """A number for the stage of each row's fault; -1 for the sound circuit."""
        numbers = {stage: k for k, stage in enumerate(dict.fromkeys(fault.stage for fault in self.faults))}
        return np.array([-1, *(numbers[fault.stage] for fault in self.faults)], dtype=np.intp)[self.row_fault + 1]

    def together(self, sets: Sequence[tuple[int, ...]]) -> list[Together]:
        """Sets of rows, each with all its faults at once, the meter's pull guessed; None without an operating point."""
        known = {rows: self.solved[rows] for rows in sets if rows in self.solved}
        fresh = [rows for rows in dict.fromkeys(sets) if rows not in known]
        if fresh:
            most = max(len(rows) for rows in fresh)
            padded = np.array([[*rows, *[0] * (most - len(rows))] for rows in fresh], dtype=np.intp)
            near, load = self.guessed(padded)
            for one, other in combinations(self.row_fault[padded].T, 2):
                near += self.pairs.between[self._pair_of[one, other]]
            found = expect(self.solver, [self._all_of(rows) for rows in fresh], self.points, self.meter, near, load)
            for k, rows in enumerate(fresh):
                known[rows] = (found.mean[k], found.covariance[k]) if found.converged[k] else None
            self.solved.update(known)
            for rows in list(self.solved)[: max(0, len(self.solved) - MOST_SOLVED)]:
                del self.solved[rows]
        return [known[rows] for rows in sets]

    @cached_property
    def _pair_of(self) -> Ints:
        """Where the pair of any two faults stands; -1 where there is none, and for the sound circuit, fault -1."""
        found = np.full((len(self.faults) + 1,) * 2, -1, dtype=np.intp)
        one, other = self.row_fault[self.pairs.rows].T
        found[one, other] = found[other, one] = np.arange(len(one))
        return found

    def guessed(self, rows: Ints) -> tuple[Array, Array]:
        """Port volts, and what the meter leaves of the volts, with several faults at once, from what each does alone.
        rows: (sets, faults); row 0, the sound circuit, stands where a set has fewer."""
        port_V, load = self.expected.port_V, self.expected.load
        near = port_V[0] + (port_V[rows] - port_V[0]).sum(axis=1)
        return near, load[0] * (load[rows] / load[0]).prod(axis=1)

    def _all_of(self, rows: tuple[int, ...]) -> Severity:
        lead, *others = [self.severities[row] for row in rows]
        variant = lead.variant
        for severity in others:
            variant = variant | severity.variant
        return Severity("together", variant, lead.spread, lead.moves, lead.tube, lead.siemens)

    @property
    def network(self) -> Network:
        return self.solver.network

    def fault(self, name: str) -> Fault:
        """A fault by its id; raises KeyError with the nearest ones."""
        for fault in self.faults:
            if fault.id == name:
                return fault
        from ..reference.errors import did_you_mean

        raise KeyError(f"no fault '{name}' in this circuit. {did_you_mean(name, [f.id for f in self.faults])}")

    def columns(self, points: Sequence[str]) -> Ints:
        """Where `points` stand among the test points; raises KeyError naming the unknown one."""
        for point in points:
            if point not in self.points:
                from ..reference.errors import did_you_mean

                raise KeyError(f"'{point}' is no test point of this circuit. {did_you_mean(point, self.points)}")
        return np.array([self.points.index(point) for point in points], dtype=np.intp)

    def chart(self, row: int = 0) -> Mapping[str, tuple[float, float]]:
        """Expected reading and its standard deviation (V) at every test point, part and meter error taken in."""
        mean = self.expected.mean[row]
        sigma = np.sqrt(np.diagonal(self.expected.covariance[row]) + self.meter.variance(mean))
        return {p: (float(m), float(s)) for p, m, s in zip(self.points, mean, sigma, strict=True)}

    @property
    def curves(self) -> tuple[SupplyCurve, ...]:
        """The regulation curve of every supply that the sound circuit and its faults have."""
        return tuple(self.solver.curve(spec) for spec in _supplies(self.network, self.faults))

    @property
    def failed(self) -> tuple[str, ...]:
        """Faults (with severity) for which no operating point was found; they take no part in a ranking."""
        rows = np.flatnonzero(~self.expected.converged)
        return tuple(f"{self.faults[self.row_fault[row]].id} ({self.severities[row].label})" for row in rows)


def build_dictionary(
    circuit: Circuit | Network,
    meter: Meter | None = None,
    expected: Expected | None = None,
    pairs: Pairs | None = None,
    curves: Sequence[SupplyCurve] = (),
) -> Dictionary:
    """Solve the circuit sound and under every single fault. Raises ArithmeticError when the sound one can't be.

    expected, pairs, curves: where they were solved before; they are solved anew if they don't fit.
    """
    network = circuit if isinstance(circuit, Network) else compile_circuit(circuit)
    meter = meter or Meter()
    faults = single_faults(network)
    specs = _supplies(network, faults)
    solver = Solver(network, dict(zip(specs, curves, strict=True)) if len(curves) == len(specs) else None)
    severities = [HEALTHY]
    owner = [-1]
    for index, fault in enumerate(faults):
        severities += fault.severities
        owner += [index] * len(fault.severities)
    points = network.circuit.test_points
    if expected is None or expected.covariance.shape != (len(severities), len(points), len(points)):
        expected, pairs = expect(solver, severities, points, meter), None
    return Dictionary(solver, meter, points, faults, tuple(severities), np.array(owner, dtype=np.intp), expected, pairs)


def _supplies(network: Network, faults: Sequence[Fault]) -> tuple[SupplySpec, ...]:
    """Every supply that the sound circuit and its faults have, each once."""
    changed = (spec for fault in faults for one in fault.severities for _, spec in one.variant.supplies)
    return tuple(dict.fromkeys([*(port.spec for port in network.supplies), *changed]))


def sound_chart(circuit: Circuit, meter: Meter | None = None) -> Mapping[str, tuple[float, float]]:
    """What each test point reads when all is sound, and its standard deviation (V), without the faults, which take
    longer. Raises ArithmeticError when there is no operating point."""
    solver, meter = Solver(compile_circuit(circuit)), meter or Meter()
    expected = expect(solver, [HEALTHY], circuit.test_points, meter)
    if not expected.converged[0]:
        raise ArithmeticError("no operating point was found for the sound circuit")
    sigma = np.sqrt(np.diagonal(expected.covariance[0]) + meter.variance(expected.mean[0]))
    return {
        point: (float(mean), float(spread))
        for point, mean, spread in zip(circuit.test_points, expected.mean[0], sigma, strict=True)
    }


def expect(
    solver: Solver,
    severities: Sequence[Severity],
    points: Sequence[str],
    meter: Meter,
    near: Array | None = None,
    load: Array | None = None,
) -> Expected:
    """Expected readings at `points` for each severity (one variant each), meter loading and spread taken in.

    near, load: port volts (severities, ports) to begin from, and what the meter leaves of the volts as a share
    (severities, points), where something like them is known.
    """
    nodes = np.array([solver.network.node(point) for point in points], dtype=np.intp)
    mains = solver.network.circuit.mains.tolerance_percent / 100
    solution = solver.solve([severity.variant for severity in severities], near)
    found = spread(solution, nodes, list(severities), mains)
    volts = np.where(solution.converged[:, None], solution.volts[:, nodes], 0.0)
    source_ohm = np.abs(found.thevenin_ohm(nodes))
    known = load is not None
    load = meter.ohm / (meter.ohm + source_ohm) if load is None else load
    mean, slopes = volts * load, found.slopes * load[:, :, None]
    # How much the meter pulls a node down hangs on its source resistance, which is no surer than the parts it is of.
    pulled = mean * (1.0 - load) * (GUESSED_SPREAD if known else SOURCE_SPREAD)
    bent = _bent(solver, nodes, volts, source_ohm, load) & solution.converged[:, None]
    rows, columns = np.nonzero(bent & (not known))
    if len(rows):
        on = [
            severities[row].loaded(int(nodes[column]), 1.0 / meter.ohm)
            for row, column in zip(rows.tolist(), columns.tolist(), strict=True)
        ]
        again = solver.solve([severity.variant for severity in on], solution.port_V[rows])
        exact = spread(again, nodes[columns][:, None], on, mains)
        good = again.converged
        mean[rows[good], columns[good]] = again.volts[np.arange(len(rows)), nodes[columns]][good]
        slopes[rows[good], columns[good]] = exact.slopes[good, 0]
        pulled[rows[good], columns[good]] = 0.0
        load = np.divide(mean, volts, out=load, where=np.abs(volts) > _SLIGHT_V)
    cov = covariance(slopes, found.sigma)
    index = np.arange(len(nodes))
    cov[:, index, index] += pulled**2
    return Expected(mean, cov, solution.converged, solution.port_V, load)


#: The meter's pull is reckoned from the source resistance where it is slight or the stage works as it does when sound;
#: elsewhere (a node that floats, a grid that conducts) the circuit is solved again with the meter on it.
_SLIGHT_V = 0.05
_HIGH_OHM = 3e5
_FLOATING_OHM = 2e6
#: Standard deviation of a node's source resistance, as a share: a 10 per cent resistor.
SOURCE_SPREAD = 0.1 / np.sqrt(3.0)
GUESSED_SPREAD = 3.0 * SOURCE_SPREAD  # where the share itself is taken from the faults one by one


def _bent(solver: Solver, nodes: Ints, volts: Array, source_ohm: Array, load: Array) -> Bools:
    sound = solver.healthy.volts[0, nodes]
    elsewhere = np.abs(volts - sound) < 0.02 * np.abs(sound) + 0.1
    pulled = (np.abs(volts) * (1.0 - load) > _SLIGHT_V) & (source_ohm > _HIGH_OHM)
    found: Bools = pulled & (~elsewhere | (source_ohm > _FLOATING_OHM))
    return found
