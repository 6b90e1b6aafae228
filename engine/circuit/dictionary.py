"""The fault dictionary of a circuit: what every test point reads, and how surely, healthy and under every fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..devices.supply import SupplyCurve, SupplySpec
from ..devices.tubes import Array
from ..late import late
from .calibration import deviations
from .expected import HEALTHY, Expected, Meter, expect, guessed
from .faults import Fault, Severity, single_faults
from .logged import Bench, Logged, logged
from .netlist import Circuit
from .network import Ints, Network, compile_circuit
from .pairs import Pairs, solve_pairs
from .quantities import Quantity, quantity
from .solve import Solver

with late():
    from ..reference import errors

MOST_SOLVED = 1500


#: Mean (points,) and covariance (points, points); None without an operating point.
Together = tuple[Array, Array] | None


@dataclass(frozen=True)
class Dictionary:
    """Readings at `points` for the healthy circuit (row 0) and every severity of every fault.

    row_fault: index of the fault of each row, -1 for the healthy circuit. shift: what the circuit's printed volts say
    of its quantities (calibration.py). known_pairs: `pairs`, where they were solved
    before. solved: sets of rows that were solved together for some readings, kept for the next ones.
    """

    solver: Solver
    meter: Meter
    points: tuple[str, ...]
    faults: tuple[Fault, ...]
    severities: tuple[Severity, ...]
    row_fault: NDArray[np.intp]
    expected: Expected
    shift: Array | None = None
    known_pairs: Pairs | None = None
    solved: dict[tuple[int, ...], Together] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def pairs(self) -> Pairs:
        """What two faults at once give; solving all of them takes a second or two."""
        return self.known_pairs or solve_pairs(
            self.solver, self.meter, self.points, self.faults, self.severities, self.row_fault, self.expected
        )

    @property
    def has_pairs(self) -> bool:
        """Whether what two faults give is known, or would have to be solved."""
        return self.known_pairs is not None or "pairs" in self.__dict__

    @cached_property
    def bench(self) -> Bench:
        """What else than volts can be read, solved when first asked for."""
        port_V = np.where(self.expected.converged[:, None], self.expected.port_V, np.nan)
        return Bench(self.solver, [severity.variant for severity in self.severities], port_V)

    def quantity(self, name: str) -> Quantity:
        """What a reading's name means; raises KeyError, in words, for what this circuit does not have."""
        return quantity(self.network.circuit, name)

    def direct(self, name: str) -> bool:
        """Whether a reading is of DC, so that the volts of the test points say all of it."""
        return self.quantity(name).kind == "volts"

    def logged(self, readings: Mapping[str, float]) -> Logged | None:
        """Readings of signals, ripple and ohms against every row; None without any."""
        columns = [self.bench.column(self.quantity(name)) for name in readings]
        return logged(columns, tuple(readings.values()), self.row_fault) if columns else None

    def readout(self, name: str) -> tuple[Array, Array]:
        """What one reading gives under every row, and its standard deviation, the meter's error taken in; on the scale
        on which its error is even (logged.py)."""
        one = self.quantity(name)
        if one.kind != "volts":
            column = self.bench.column(one)
            return column.mean, column.sigma
        mix = self.mixed([one])
        mean = (self.expected.mean @ mix)[:, 0]
        variance = ((self.expected.covariance @ mix) * mix).sum(axis=1)[:, 0]
        return mean, np.sqrt(variance + self.meter.variance(mean / one.scale) * one.scale**2)

    def predicted(self, row: int, name: str) -> float:
        """What a reading shows under one row, in its own unit."""
        one = self.quantity(name)
        if one.kind != "volts":
            column = self.bench.column(one)
            return column.read(float(column.mean[row]))
        return float((self.expected.mean[row] @ self.mixed([one]))[0])

    def mixed(self, quantities: Sequence[Quantity]) -> Array:
        """What DC readings are made of, (test points, readings): a point alone, or one less another, of which a meter
        across both takes no more than it does of each."""
        found = np.zeros((len(self.points), len(quantities)))
        for column, one in enumerate(quantities):
            if one.plain:
                found[self.points.index(one.a), column] = 1.0
                continue
            ends = [
                (self.points.index(node), sign) for node, sign in ((one.a, 1.0), (one.b, -1.0)) if node in self.points
            ]
            load = self.expected.load[0]
            source_ohm = sum(self.meter.ohm * (1.0 / load[at] - 1.0) for at, _ in ends)
            for at, sign in ends:
                share = self.meter.ohm / (self.meter.ohm + source_ohm) / load[at]
                found[at, column] += sign * one.scale * share
        return found

    @cached_property
    def row_stage(self) -> Ints:
        """A number for the stage of each row's fault; -1 for the healthy circuit."""
        numbers = {stage: k for k, stage in enumerate(dict.fromkeys(fault.stage for fault in self.faults))}
        return np.array([-1, *(numbers[fault.stage] for fault in self.faults)], dtype=np.intp)[self.row_fault + 1]

    def together(self, sets: Sequence[tuple[int, ...]]) -> list[Together]:
        """Sets of rows, each with all its faults at once, the meter's pull guessed; None without an operating point."""
        known = {rows: self.solved[rows] for rows in sets if rows in self.solved}
        fresh = [rows for rows in dict.fromkeys(sets) if rows not in known]
        if fresh:
            most = max(len(rows) for rows in fresh)
            padded = np.array([[*rows, *[0] * (most - len(rows))] for rows in fresh], dtype=np.intp)
            near, load = guessed(self.expected, padded)
            if self.has_pairs:
                for one, other in combinations(self.row_fault[padded].T, 2):
                    near += self.pairs.between[self._pair_of[one, other]]
            severities = [self._all_of(rows) for rows in fresh]
            found = expect(self.solver, severities, self.points, self.meter, near, load, self.shift)
            for k, rows in enumerate(fresh):
                known[rows] = (found.mean[k], found.covariance[k]) if found.converged[k] else None
            self.solved.update(known)
            for rows in list(self.solved)[: max(0, len(self.solved) - MOST_SOLVED)]:
                del self.solved[rows]
        return [known[rows] for rows in sets]

    @cached_property
    def _pair_of(self) -> Ints:
        """Where the pair of any two faults stands; -1 where there is none, and for the healthy circuit, fault -1."""
        found = np.full((len(self.faults) + 1,) * 2, -1, dtype=np.intp)
        one, other = self.row_fault[self.pairs.rows].T
        found[one, other] = found[other, one] = np.arange(len(one))
        return found

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

        raise KeyError(f"no fault '{name}' in this circuit. {errors.did_you_mean(name, [f.id for f in self.faults])}")

    def columns(self, points: Sequence[str]) -> Ints:
        """Where `points` stand among the test points; raises KeyError naming the unknown one."""
        for point in points:
            if point not in self.points:
                hint = errors.did_you_mean(point, self.points)
                raise KeyError(f"'{point}' is not a test point of this circuit. {hint}")
        return np.array([self.points.index(point) for point in points], dtype=np.intp)

    def chart(self, row: int = 0) -> Mapping[str, tuple[float, float]]:
        """Expected reading and its standard deviation (V) at every test point, part and meter error taken in."""
        mean = self.expected.mean[row]
        sigma = np.sqrt(np.diagonal(self.expected.covariance[row]) + self.meter.variance(mean))
        return {p: (float(m), float(s)) for p, m, s in zip(self.points, mean, sigma, strict=True)}

    @property
    def curves(self) -> tuple[SupplyCurve, ...]:
        """The regulation curve of every supply that the healthy circuit and its faults have."""
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
    """Solve the circuit healthy and under every single fault. Raises ArithmeticError when the healthy one can't be.

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
    points, shift = network.circuit.test_points, deviations(solver)
    if expected is None or expected.covariance.shape != (len(severities), len(points), len(points)):
        expected, pairs = expect(solver, severities, points, meter, shift=shift), None
    rows = np.array(owner, dtype=np.intp)
    return Dictionary(solver, meter, points, faults, tuple(severities), rows, expected, shift, pairs)


def _supplies(network: Network, faults: Sequence[Fault]) -> tuple[SupplySpec, ...]:
    """Every supply that the healthy circuit and its faults have, each once."""
    changed = (spec for fault in faults for one in fault.severities for _, spec in one.variant.supplies)
    return tuple(dict.fromkeys([*(port.spec for port in network.supplies), *changed]))


def sound_signals(circuit: Circuit) -> Bench:
    """The signals of the good circuit alone, without the faults, which take longer. Raises ArithmeticError."""
    solver = Solver(compile_circuit(circuit))
    return Bench(solver, [HEALTHY.variant], solver.healthy.port_V)


def sound_chart(circuit: Circuit, meter: Meter | None = None) -> Mapping[str, tuple[float, float]]:
    """What each test point reads when all is healthy, and its standard deviation (V), without the faults, which take
    longer. Raises ArithmeticError when there is no operating point."""
    solver, meter = Solver(compile_circuit(circuit)), meter or Meter()
    expected = expect(solver, [HEALTHY], circuit.test_points, meter, shift=deviations(solver))
    if not expected.converged[0]:
        raise ArithmeticError("no operating point was found for the good circuit")
    sigma = np.sqrt(np.diagonal(expected.covariance[0]) + meter.variance(expected.mean[0]))
    return {
        point: (float(mean), float(spread))
        for point, mean, spread in zip(circuit.test_points, expected.mean[0], sigma, strict=True)
    }
