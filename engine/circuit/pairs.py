"""What the test points read with two faults at once, one degree of each, for faults that act through one another.

What two faults give together can often be guessed from what each gives alone. Where it can't (one takes the supply
away from the other, or a coupling path), only solving both together tells; so every pair of faults in different stages
is solved beforehand. No spread is worked out: this is for finding the pairs that come into question, which are then
solved with it, and in every degree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .network import Ints

if TYPE_CHECKING:
    from .dictionary import Dictionary

AT_ONCE = 2000
MOVED = 3.0  # standard deviations of the meter: a fault that moves no test point by as much is left out


@dataclass(frozen=True)
class Pairs:
    """rows (pairs, 2): two rows of the dictionary; mean (pairs, test points): what they give together, in V.

    between (pairs + 1, ports): port volts beyond what adding up each fault's gives; last, nil for two that are no pair.
    """

    rows: Ints
    mean: NDArray[np.float32]
    between: NDArray[np.float32]


def middle_degrees(owner: Ints, rows: Ints) -> Ints:
    """Of each fault's rows among `rows`, which stand in order, the middle one."""
    _, first, count = np.unique(owner[rows], return_index=True, return_counts=True)
    found: Ints = rows[first + count // 2]
    return found


def solve_pairs(dictionary: Dictionary) -> Pairs:
    """Every pair of faults in different stages; pairs without an operating point are left out."""
    expected = dictionary.expected
    sound = expected.mean[0]
    moved = np.abs(expected.mean - sound) > MOVED * np.sqrt(dictionary.meter.variance(sound))
    rows = np.flatnonzero((dictionary.row_fault >= 0) & expected.converged & moved.any(axis=1))
    rows = middle_degrees(dictionary.row_fault, rows)
    stage = np.array([dictionary.faults[k].stage for k in dictionary.row_fault[rows]])
    one, other = np.triu_indices(len(rows), 1)
    apart = stage[one] != stage[other]
    pairs = np.stack([rows[one[apart]], rows[other[apart]]], axis=1)
    pieces = [_solved(dictionary, pairs[k : k + AT_ONCE]) for k in range(0, len(pairs), AT_ONCE)]
    nothing = tuple(np.zeros((0, width), dtype=np.float32) for width in (len(sound), dictionary.network.ports))
    mean, between = (np.concatenate(parts) for parts in zip(nothing, *pieces, strict=True))
    good = np.isfinite(mean).all(axis=1)
    return Pairs(pairs[good], np.asfortranarray(mean[good]), np.pad(between[good], ((0, 1), (0, 0))))


def _solved(dictionary: Dictionary, pairs: Ints) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    near, load = dictionary.guessed(pairs)
    severities = dictionary.severities
    both = [severities[a].variant | severities[b].variant for a, b in pairs.tolist()]
    nodes = [dictionary.network.node(point) for point in dictionary.points]
    solution = dictionary.solver.solve(both, near)
    mean = solution.volts[:, nodes] * load
    return np.asarray(mean, dtype=np.float32), np.asarray(solution.port_V - near, dtype=np.float32)
