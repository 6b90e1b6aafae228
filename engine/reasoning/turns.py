"""In which order groups take their turn at the table of open findings (subsets.py), so that few are open at once.

The table doubles with each open finding, and the best order can't be told without trying, so a few greedy ones are
tried where it pays, and the cheapest is taken. On jobs with forty complaints that saved nine tenths of the cells.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

Findings = frozenset[int]
WORTH_TRYING = 20_000, 10**11  # cells between which another order is looked for; beyond, none saves enough
STARTS = 6


@dataclass(frozen=True)
class Turns:
    """groups: in their order. width: the most findings open at once; cells, tables: how many cells are gone through for
    one scenario, there or back, and how many are kept from the way there for the way back."""

    groups: tuple[int, ...]
    width: int
    cells: int
    tables: int


class _Cost(Protocol):
    def __call__(self, findings: Findings, left: Mapping[int, int], opened: set[int]) -> tuple[float, int]: ...


@lru_cache(maxsize=64)  # the same findings are asked about again and again
def turns(touched: tuple[Findings, ...], sizes: tuple[int, ...], trying: bool = True) -> Turns:
    """An order of the groups that touch several findings. touched: by group, the findings that it can show; sizes: how
    many causes it has; trying: whether other orders are tried than the first that comes.

    Groups that touch the same findings go together: after the first, the others open nothing.
    """
    alike: dict[Findings, list[int]] = {}
    for group, findings in enumerate(touched):
        if len(findings) > 1:
            alike.setdefault(findings, []).append(group)
    best = _greedy(alike, sizes, _fewest_open)
    if trying and WORTH_TRYING[0] < best.cells < WORTH_TRYING[1]:
        every = list(alike)
        starts: list[Findings | None] = [None, *every[:: max(1, len(every) // STARTS)]]
        tried = [_greedy(alike, sizes, cost, start) for cost in (_soon_closed, _nearly_done) for start in starts]
        best = min((best, *tried), key=lambda one: one.cells)
    return best


def _greedy(
    alike: Mapping[Findings, Sequence[int]], sizes: Sequence[int], cost: _Cost, start: Findings | None = None
) -> Turns:
    """Next comes what costs least, of those that touch what is open."""
    waiting = dict(alike)
    left = Counter(finding for findings in waiting for finding in findings)
    opened: set[int] = set()
    order: list[int] = []
    width = cells = tables = 0
    while waiting:
        near = [findings for findings in waiting if findings & opened] or list(waiting)
        chosen = start or min(near, key=lambda findings: (*cost(findings, left, opened), waiting[findings][0]))
        start = None
        groups = waiting.pop(chosen)
        order += groups
        opened |= chosen
        width = max(width, len(opened))
        cells += sum(1 + sizes[group] for group in groups) << len(opened)
        tables += len(groups) << len(opened)
        left.subtract(chosen)
        opened = {finding for finding in opened if left[finding]}
    return Turns(tuple(order), width, cells, tables)


def _opening(findings: Findings, opened: set[int]) -> int:
    return len(findings - opened)


def _fewest_open(findings: Findings, left: Mapping[int, int], opened: set[int]) -> tuple[float, int]:
    opening = _opening(findings, opened)
    return opening - sum(left[finding] == 1 for finding in findings), opening


def _soon_closed(findings: Findings, left: Mapping[int, int], opened: set[int]) -> tuple[float, int]:
    """The same, but a finding that few more wait for counts in part."""
    fewest, opening = _fewest_open(findings, left, opened)
    return fewest - 0.3 * sum(1 / left[finding] for finding in findings), opening


def _nearly_done(findings: Findings, left: Mapping[int, int], opened: set[int]) -> tuple[float, int]:
    opening = _opening(findings, opened)
    return opening - sum(1 / left[finding] for finding in findings & opened), opening
