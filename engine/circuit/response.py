"""Small-signal response of a circuit at its operating point: gains, corners, impedances, ripple on the supply nodes.

The same elements as in the DC solve, with capacitors, inductors, the tubes' slopes and capacitances, and an output
transformer (ideal windings, winding resistances, magnetizing inductance), in nodal equations over frequency.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..devices.supply import HARMONICS
from ..devices.tubes import Array
from ..late import late
from .network import INSULATION_OHM, Network
from .solve import Solution, Solver, port_currents

with late():
    import eseries

Complexes = NDArray[np.complexfloating[Any, Any]]
#: Fundamentals of the open strings in standard tuning (equal temperament, A = 440 Hz).
GUITAR_STRINGS_Hz = {"E": 82.41, "A": 110.0, "D": 146.83, "G": 196.0, "B": 246.94, "e": 329.63}
BASS_STRINGS_Hz = {"E": 41.2, "A": 55.0, "D": 73.42, "G": 98.0}
PROBE_Hz = (41.0, 82.0, 110.0, 400.0)


@dataclass(frozen=True)
class Response:
    """Small-signal view of one operating point (row `row` of a solution).

    changes: capacitances or inductances that differ, by element name (F or H).
    stray_F: wiring capacitance from each tube's plate and grid to chassis.
    """

    solution: Solution
    row: int = 0
    changes: tuple[tuple[str, float], ...] = ()
    stray_F: float = 0.0

    @property
    def network(self) -> Network:
        return self.solution.network

    def gain(self, source: str, to: str, Hz: Sequence[float] | Array) -> Complexes:
        """Complex gain from an ideal source at `source` to node `to`, at each frequency."""
        i, j = self.network.node(source), self.network.node(to)
        found = self._solve(np.asarray(Hz, dtype=float), i)
        result: Complexes = found[:, j] / found[:, i]
        return result

    def impedance(self, node: str, Hz: Sequence[float] | Array, shorted: str | None = None) -> Complexes:
        """Impedance (ohm) from `node` to chassis, with the node `shorted` (the input, say) held at signal ground."""
        at = self.network.node(node)
        frequencies = np.asarray(Hz, dtype=float)
        own = self._solve(frequencies, at)
        if shorted is None:
            result: Complexes = own[:, at]
            return result
        short = self.network.node(shorted)
        other = self._solve(frequencies, short)
        result = own[:, at] - other[:, at] * own[:, short] / other[:, short]
        return result

    def level_dB(self, source: str, to: str, Hz: Sequence[float] | Array, reference_Hz: float = 1000.0) -> Array:
        """Level at each frequency against the level at `reference_Hz`."""
        gains = np.abs(self.gain(source, to, [*np.asarray(Hz, dtype=float), reference_Hz]))
        result: Array = 20.0 * np.log10(gains[:-1] / gains[-1])
        return result

    def corners_Hz(self, source: str, to: str, reference_Hz: float = 1000.0) -> tuple[float | None, float | None]:
        """The frequencies nearest to the reference, below and above, where the level is 3.01 dB down; None if beyond
        1 Hz to 1 MHz."""
        grid = np.geomspace(1.0, 1e6, 361)
        level = self.level_dB(source, to, grid, reference_Hz) + 10.0 * np.log10(2.0)
        middle = int(np.searchsorted(grid, reference_Hz))
        low = next((k for k in range(middle, 0, -1) if level[k - 1] < 0 <= level[k]), None)
        high = next((k for k in range(middle, len(grid) - 1) if level[k + 1] < 0 <= level[k]), None)

        def cross(a: int, b: int) -> float:
            share = level[a] / (level[a] - level[b])
            return float(np.exp(np.log(grid[a]) + share * np.log(grid[b] / grid[a])))

        return (cross(low, low - 1) if low else None), (cross(high, high + 1) if high else None)

    def seen_by(self, element: str, Hz: float = 20.0) -> float:
        """Resistance (ohm) that a capacitor sees across its ends at a frequency, with itself taken out."""
        e = self.network.elements[self.network.element(element)]
        without = Response(self.solution, self.row, (*self.changes, (element, 0.0)), self.stray_F)
        frequencies = np.array([Hz])
        total = 0.0 + 0.0j
        for end, sign in ((e.a, 1.0), (e.b, -1.0)):
            if end < 0:
                continue
            found = without._solve(frequencies, end)[0]
            total += sign * ((found[e.a] if e.a >= 0 else 0.0) - (found[e.b] if e.b >= 0 else 0.0))
        return float(np.abs(total))

    def _solve(self, Hz: Array, node: int) -> Complexes:
        """Node volts for one ampere into `node`, shape (frequencies, nodes)."""
        matrix = self.matrix(Hz)
        drive = np.zeros((len(Hz), matrix.shape[1], 1), dtype=complex)
        drive[:, node, 0] = 1.0
        result: Complexes = np.linalg.solve(matrix, drive)[:, : len(self.network.nodes), 0]
        return result

    @cached_property
    def _slopes(self) -> Array:
        """Conductances of tubes and supplies between nodes, (N, N), at the operating point."""
        network, row = self.network, self.row
        one = self.solution.batch.take(np.array([row]))
        _, slopes = port_currents(one, self.solution.port_V[row : row + 1], np.ones(1))
        ports = np.zeros((network.ports, network.ports))
        for rows, columns, values in slopes:
            ports[np.arange(network.ports)[rows], np.arange(network.ports)[columns]] += values[0]
        result: Array = network.incidence @ ports @ network.incidence.T
        return result

    def matrix(self, Hz: Array) -> Complexes:
        """Nodal equations, (frequencies, n, n): the nodes, the transformer's windings, and the chassis, which stands
        last by itself."""
        network = self.network
        size, omega = len(network.nodes), 2.0 * np.pi * Hz
        output = network.circuit.output
        windings = len(output.primary) - 1 if output else 0
        full = np.zeros((len(Hz), size + windings + 1, size + windings + 1), dtype=complex)
        changes = dict(self.changes)

        def stamp(a: int, b: int, value: Complexes | complex) -> None:
            full[:, a, a] += value
            full[:, b, b] += value
            full[:, a, b] -= value
            full[:, b, a] -= value

        for element in network.elements:
            if element.name.startswith("primary_"):
                continue
            value: Complexes | complex = complex(element.siemens)
            if element.kind == "capacitor":
                value = 1.0 / INSULATION_OHM + 1j * omega * changes.get(element.name, element.farad)
            elif element.kind == "inductor":
                value = 1.0 / (1.0 / element.siemens + 1j * omega * changes.get(element.name, element.henry))
            stamp(element.a, element.b, value)
        batch = self.solution.batch
        halves = [e for e in network.elements if e.name.startswith("primary_")]
        for (a, b), siemens in zip(batch.ends[self.row], batch.change[self.row], strict=True):
            half = next((k for k, e in enumerate(halves) if (e.a, e.b) == (a, b) and siemens < 0.0), None)
            if half is None:
                stamp(int(a), int(b), complex(siemens))
            else:  # a winding's resistance stands in the transformer's own equation
                full[:, size + half, size + half] -= 1.0 / (halves[half].siemens + siemens) - 1.0 / halves[half].siemens
        full[:, :size, :size] += self._slopes
        for _name, tube in network.circuit.tubes.items():
            law = network.library.tube(tube.type)
            grid, plate, cathode = (network.node(n) for n in (tube.grid, tube.plate, tube.cathode))
            stamp(grid, plate, 1j * omega * law.grid_plate_F)
            stamp(grid, cathode, 1j * omega * law.grid_cathode_F)
            stamp(plate, cathode, 1j * omega * law.plate_cathode_F)
            for node in (grid, plate):
                stamp(node, -1, 1j * omega * self.stray_F)
        if output:
            self._transformer(full, omega, size)
        full[:, -1, :] = 0.0
        full[:, :, -1] = 0.0
        full[:, -1, -1] = 1.0
        return full

    def _transformer(self, full: Complexes, omega: Array, size: int) -> None:
        network, output = self.network, self.network.circuit.output
        assert output is not None
        plates = [network.node(name) for name in output.primary]
        centre, secondary = plates.pop(1), network.node(output.secondary)
        turns = np.sqrt(output.primary_ohm / output.load_ohm) / len(plates)
        for k, plate in enumerate(plates):
            row, ratio = size + k, turns if k == 0 else -turns
            for node, sign in ((plate, 1.0), (centre, -1.0)):
                full[:, node, row] += sign  # the winding's current leaves at the plate and enters at B+
                full[:, row, node] += sign
            full[:, row, secondary] -= ratio
            full[:, row, row] -= output.winding_ohm[min(k, len(output.winding_ohm) - 1)]
            full[:, secondary, row] -= ratio
        full[:, secondary, secondary] += (turns * len(plates)) ** 2 / (1j * omega * output.primary_henry)


@dataclass(frozen=True)
class CapacitorEffect:
    """What one capacitor costs at each probe frequency (dB), the resistance it sees and its corner."""

    name: str
    farad: float
    loss_dB: tuple[float, ...]
    sees_ohm: float
    corner_Hz: float


def capacitor_effects(
    response: Response, source: str, to: str, Hz: Sequence[float] = PROBE_Hz, least_dB: float = 0.1
) -> list[CapacitorEffect]:
    """What each capacitor does to the lows: the loss against the same capacitor made very large."""
    here = np.abs(response.gain(source, to, Hz))
    found: list[CapacitorEffect] = []
    for element in response.network.elements:
        if element.kind != "capacitor" or element.farad == 0.0:
            continue
        large = Response(response.solution, response.row, ((element.name, 1.0),), response.stray_F)
        loss = 20.0 * np.log10(here / np.abs(large.gain(source, to, Hz)))
        if np.abs(loss).max() < least_dB:
            continue
        sees = response.seen_by(element.name)
        corner = 1.0 / (2.0 * np.pi * element.farad * sees)
        found.append(CapacitorEffect(element.name, element.farad, tuple(float(x) for x in loss), sees, corner))
    return found


def capacitor_for_corner(response: Response, element: str, corner_Hz: float, series: str = "E12") -> float:
    """The preferred value (F) that puts a capacitor's corner nearest to `corner_Hz`: C = 1/(2 pi f R) (identity)."""
    exact = 1.0 / (2.0 * np.pi * corner_Hz * response.seen_by(element, corner_Hz))
    return float(eseries.find_nearest(eseries.ESeries[series], exact))


@dataclass(frozen=True)
class NodeRipple:
    """Ripple at one node, V peak to peak, and its part at twice the mains frequency (V peak)."""

    node: str
    peak_to_peak_V: float
    double_mains_V: float


def ripple(solver: Solver, solution: Solution, row: int = 0, nodes: Sequence[str] = ()) -> list[NodeRipple]:
    """Ripple of the first positive supply at its reservoir and at `nodes` (default: every node named bplus_...)."""
    network = solver.network
    which = next((k for k, port in enumerate(network.supplies) if port.sign > 0), None)
    if which is None:
        return []
    port = network.supplies[which]
    column = network.ports - len(network.supplies) + which
    index = int(solution.batch.curve_of[row, which])
    found = solver.curves[index]
    level = float(solution.port_V[row, column])
    grid = np.linspace(0.0, found.top_V, found.harmonics_V.shape[1])
    amplitude = np.array(
        [np.interp(level, grid, h.real) + 1j * np.interp(level, grid, h.imag) for h in found.harmonics_V]
    )
    times = np.linspace(0.0, 1.0, 240, endpoint=False)
    waves = np.exp(2j * np.pi * np.outer(HARMONICS, times))
    frequencies = [port.spec.mains_Hz * h for h in HARMONICS]
    reservoir = network.nodes[port.node]
    response = Response(solution, row)
    wanted = nodes or [name for name in network.nodes if name.startswith("bplus_")]
    result: list[NodeRipple] = []
    for node in wanted:
        if node == reservoir:
            result.append(NodeRipple(node, found.at(level, found.ripple_pp_V), float(np.abs(amplitude[1]))))
            continue
        here = response.gain(reservoir, node, frequencies) * amplitude
        result.append(NodeRipple(node, float(np.ptp((here @ waves).real)), float(np.abs(here[1]))))
    return result
