"""What the test points read with two faults at once, one degree of each, for faults that act through one another.

What two faults give together can often be guessed from what each gives alone. Where it can't (one takes the supply
away from the other, or a coupling path), only solving both together tells; so every pair of faults in different stages
is solved beforehand. No spread is worked out: this is for finding the pairs that come into question, which are then
solved with it, and in every degree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .expected import Expected, Meter, guessed
from .faults import Fault, Severity
from .network import Ints
from .solve import Solver

AT_ONCE = 2000
MOVED = 3.0  # standard deviations of the meter: a fault that moves no test point by as much is left out


@dataclass(frozen=True)
class Pairs:
    """rows (pairs, 2): two rows of the dictionary; mean (pairs, test points): what they give together, in V.

    between (pairs + 1, ports): port volts beyond what adding up each fault's gives; last, zeros for two that are not
    a pair.
    """

    rows: Ints
    mean: NDArray[np.float32]
    between: NDArray[np.float32]


def middle_degrees(owner: Ints, rows: Ints) -> Ints:
    """Of each fault's rows among `rows`, which stand in order, the middle one."""
    _, first, count = np.unique(owner[rows], return_index=True, return_counts=True)
    found: Ints = rows[first + count // 2]
    return found


def solve_pairs(
    solver: Solver,
    meter: Meter,
    points: Sequence[str],
    faults: Sequence[Fault],
    severities: Sequence[Severity],
    row_fault: Ints,
    expected: Expected,
) -> Pairs:
    """Every pair of faults in different stages; pairs without an operating point are left out.

    severities, row_fault, expected: the rows of a dictionary, whose fault each is (-1: healthy), and what each reads.
    """
    sound = expected.mean[0]
    moved = np.abs(expected.mean - sound) > MOVED * np.sqrt(meter.variance(sound))
    rows = np.flatnonzero((row_fault >= 0) & expected.converged & moved.any(axis=1))
    rows = middle_degrees(row_fault, rows)
    stage = np.array([faults[k].stage for k in row_fault[rows]])
    one, other = np.triu_indices(len(rows), 1)
    apart = stage[one] != stage[other]
    pairs = np.stack([rows[one[apart]], rows[other[apart]]], axis=1)
    nodes = [solver.network.node(point) for point in points]

    def solved(some: Ints) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        near, load = guessed(expected, some)
        both = [severities[a].variant | severities[b].variant for a, b in some.tolist()]
        solution = solver.solve(both, near)
        mean = solution.volts[:, nodes] * load
        return np.asarray(mean, dtype=np.float32), np.asarray(solution.port_V - near, dtype=np.float32)

    pieces = [solved(pairs[k : k + AT_ONCE]) for k in range(0, len(pairs), AT_ONCE)]
    nothing = tuple(np.zeros((0, width), dtype=np.float32) for width in (len(sound), solver.network.ports))
    mean, between = (np.concatenate(parts) for parts in zip(nothing, *pieces, strict=True))
    good = np.isfinite(mean).all(axis=1)
    return Pairs(pairs[good], np.asfortranarray(mean[good]), np.pad(between[good], ((0, 1), (0, 0))))
