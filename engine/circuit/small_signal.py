"""Small signals at many operating points at once: what one volt at a node gives at every other.

The nodal equations of the good circuit (response.py) are inverted once a frequency. A variant differs from it in a few
conductances and capacitances and in the slopes of its tubes and supplies, so what it does follows by the Woodbury
identity, for all variants together; where no tube has moved, from the few changes alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ..devices.tubes import Array
from .network import Ints
from .response import Complexes, Response
from .solve import Bools, Solution, Solver

#: Slopes that differ by less than this (S) from the good circuit's are taken to be the same.
SAME_S = 1e-9
AT_ONCE = 400


@dataclass(frozen=True)
class Signals:
    """The variants of a solution, seen by small signals. Rows without an operating point give NaN."""

    solver: Solver
    solution: Solution
    inverses: dict[float, Complexes] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def _moved(self) -> Array:
        """How the slopes of tubes and supplies differ from the good circuit's, (variants, ports, ports)."""
        found: Array = np.nan_to_num(self.solution.slope - self.solver.healthy.slope[0])
        found[np.abs(found) < SAME_S] = 0.0
        return found

    def sound(self, Hz: float) -> Complexes:
        """Inverse of the good circuit's equations; the last row and column are the chassis: zero."""
        if Hz not in self.inverses:
            self.inverses[Hz] = self._inverse(Hz)
        return self.inverses[Hz]

    def _inverse(self, Hz: float) -> Complexes:
        found: Complexes = np.linalg.inv(Response(self.solver.healthy).matrix(np.array([Hz]))[0])
        found[-1, :] = 0.0
        found[:, -1] = 0.0
        return found

    def gains(self, source: int, Hz: float) -> Complexes:
        """Volts at every node for one volt held at node `source`, (variants, nodes)."""
        found = self.given(source, Hz)
        result: Complexes = found / found[:, source : source + 1]
        return result

    def given(self, source: int, Hz: float, rows: Ints | None = None) -> Complexes:
        """Volts at every node for one ampere into node `source`, (variants, nodes), of all variants or of `rows`."""
        z, network = self.sound(Hz), self.solver.network
        nodes = len(network.nodes)
        ends, changes = self._changes(Hz)
        found = np.tile(z[:nodes, source], (len(ends), 1))
        for alike, ports in self._kinds:
            kept = alike if rows is None else np.intersect1d(alike, rows)
            for k in range(0, len(kept), AT_ONCE):
                some = kept[k : k + AT_ONCE]
                found[some] -= self._less(z, source, ends[some], changes[some], ports, some)[:, :nodes]
        found[~self.solution.converged] = np.nan
        return found if rows is None else found[rows]

    @cached_property
    def _kinds(self) -> list[tuple[Ints, Ints]]:
        """The variants by which ports' currents have moved slopes, with those ports."""
        moved: Bools = (self._moved != 0.0).any(axis=2)
        still = ~moved.any(axis=1)
        grids = np.zeros(moved.shape[1], dtype=bool)
        triodes, pentodes = len(self.solver.network.triodes), len(self.solver.network.pentodes)
        grids[: 2 * triodes : 2] = True
        grids[2 * triodes : 2 * triodes + 3 * pentodes : 3] = True
        drawing = moved[:, grids].any(axis=1) & ~still
        groups = (np.flatnonzero(one) for one in (still, ~still & ~drawing, drawing))
        return [(rows, np.flatnonzero(moved[rows].any(axis=0))) for rows in groups if len(rows)]

    def _changes(self, Hz: float) -> tuple[Ints, Complexes]:
        """Ends (variants, changes, 2) and admittances of what differs beside the slopes."""
        elements, batch = self.solver.network.elements, self.solution.batch
        farads = [variant.farads for variant in self.solution.variants]
        most = max((len(one) for one in farads), default=0)
        ends = np.full((len(farads), most, 2), -1, dtype=np.intp)
        admittance = np.zeros((len(farads), most), dtype=complex)
        for row, changed in enumerate(farads):
            for place, (index, factor) in enumerate(changed):
                element = elements[index]
                ends[row, place] = element.a, element.b
                admittance[row, place] = 2j * np.pi * Hz * element.farad * (factor - 1.0)
        direct, conductance = batch.ends.copy(), batch.change.astype(complex)
        # A winding that has come open is a resistance in the transformer's own equation, no conductance between nodes.
        for winding, index in enumerate(self._windings):
            one = elements[index]
            here = (batch.ends == (one.a, one.b)).all(axis=2) & (batch.change < 0.0)
            direct[here] = len(self.solver.network.nodes) + winding, -1
            conductance[here] = 1.0 / one.siemens - 1.0 / (one.siemens + batch.change[here])
        return np.concatenate([direct, ends], axis=1), np.concatenate([conductance, admittance], axis=1)

    @cached_property
    def _windings(self) -> list[int]:
        elements = self.solver.network.elements
        return [index for index, one in enumerate(elements) if one.name.startswith("primary_")]

    def _less(self, z: Complexes, source: int, ends: Ints, changes: Complexes, ports: Ints, rows: Ints) -> Complexes:
        """What the variants' changes take from the good circuit's volts."""
        network = self.solver.network
        incidence = np.zeros((len(z), network.ports))
        incidence[: len(network.nodes)] = network.incidence
        # Woodbury: z' = z - z B (1 + K B'z B)^-1 K B'z, B the ports and the changed elements, K what has changed there.
        at_ports = z @ incidence  # (n, P)
        across = z[:, ends[..., 0]] - z[:, ends[..., 1]]  # (n, V, R)
        across = across.transpose(1, 0, 2)
        few = np.arange(len(ends))[:, None]
        own = across[few, ends[..., 0]] - across[few, ends[..., 1]]  # (V, R, R)
        held = z[ends[..., 0], source] - z[ends[..., 1], source]  # (V, R)
        if not len(ports):
            core = np.eye(ends.shape[1]) + changes[..., None] * own
            flow = np.linalg.solve(core, (changes * held)[..., None])
            found: Complexes = (across @ flow)[..., 0]
            return found
        slopes = self._moved[rows][:, ports]  # (V, A, P)
        seen = incidence.T @ at_ports  # (P, P)
        seen_across = np.matmul(incidence.T, across)  # (V, P, R)
        port_across = at_ports[ends[..., 0]] - at_ports[ends[..., 1]]  # (V, R, P)
        drawn, size = len(ports), len(ports) + ends.shape[1]
        core = np.zeros((len(rows), size, size), dtype=complex)
        core[:, :drawn, :drawn] = slopes @ seen[:, ports]
        core[:, :drawn, drawn:] = slopes @ seen_across
        core[:, drawn:, :drawn] = changes[..., None] * port_across[:, :, ports]
        core[:, drawn:, drawn:] = changes[..., None] * own
        core[:, np.arange(size), np.arange(size)] += 1.0
        push = np.concatenate([slopes @ (incidence.T @ z[:, source]), changes * held], axis=1)
        flow = np.linalg.solve(core, push[..., None])
        result: Complexes = (at_ports[:, ports] @ flow[:, :drawn] + across @ flow[:, drawn:])[..., 0]
        return result
