"""Does 80 percent mean 80 percent? Closed jobs are read again, and what was believed is compared with what it was.

Each job is read as it stood before its first repair (or at its end, when nothing was repaired), with the knowledge base
alone, so that no job is judged by what it has taught itself. Every cause counts that is shown there: those that stand
out from what they are beforehand, with LEAST or more. In how many jobs was it really there? A cause left as it is was
there too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from ...knowledge.layers import Layer
from ...late import late
from ...reasoning.log import Closed, Log, LogEntry, RepairDone, standing
from ...reasoning.session import Session
from .workers import pool, portions

with late():
    from ...knowledge import cache as caching

LEAST = 0.05
EDGES = (LEAST, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0)
Z95 = 1.959963984540054  # of the normal distribution, for 95 percent


@dataclass(frozen=True)
class Shown:
    """A cause that was shown in a job with a probability, and whether it was there."""

    job: int
    cause: str
    probability: float
    there: bool


@dataclass(frozen=True)
class Bin:
    """Causes shown with a probability from low to high. expected: the mean probability; shown, there: how many, and how
    many of them were there; surely: the 95 percent interval of the share that are there."""

    low: float
    high: float
    expected: float
    shown: int
    there: int
    surely: tuple[float, float]

    @property
    def fits(self) -> bool:
        """Whether what was shown lies within what the counts allow."""
        return self.surely[0] <= self.expected <= self.surely[1]


def before_repairs(log: Log) -> tuple[LogEntry, ...]:
    """A log as it stood before the first repair, without what was taken back."""
    kept: list[LogEntry] = []
    for _, entry in standing(log):
        if isinstance(entry, RepairDone | Closed):
            break
        kept.append(entry)
    return tuple(kept)


def shown_in(session: Session, number: int, log: Log) -> tuple[Shown, ...]:
    """What was shown in a closed job; nothing for one that is open or says not what it was."""
    closed = [entry for _, entry in standing(log) if isinstance(entry, Closed)]
    if not closed or not closed[-1].verdict:
        return ()
    there = {*closed[-1].was, *closed[-1].left}
    leading = session.read(before_repairs(log)).leading
    return tuple(Shown(number, one.cause, p, one.cause in there) for one in leading if (p := one.probability) >= LEAST)


def bins(shown: Iterable[Shown], edges: Sequence[float] = EDGES) -> tuple[Bin, ...]:
    """The causes by how probable they were shown; empty bins are left out."""
    found = list(shown)
    made = []
    for low, high in pairwise(edges):
        last = high == edges[-1]
        inside = [one for one in found if low <= one.probability < high or (last and one.probability >= high)]
        if inside:
            expected = sum(one.probability for one in inside) / len(inside)
            there = sum(one.there for one in inside)
            made.append(Bin(low, high, expected, len(inside), there, wilson(there, len(inside))))
    return tuple(made)


def wilson(there: int, shown: int, z: float = Z95) -> tuple[float, float]:
    """The interval of a share from counts (Wilson 1927, from memory)."""
    share = there / shown
    middle = share + z * z / (2 * shown)
    half = z * ((share * (1 - share) + z * z / (4 * shown)) / shown) ** 0.5
    whole = 1 + z * z / shown
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)


def replay(
    jobs: Sequence[tuple[int, Log]], root: Path | None, layers: Sequence[Layer], cache: Path | None, processes: int = 2
) -> tuple[Shown, ...]:
    """What was shown in many closed jobs, read in processes of their own (the rule engine gives no memory back)."""
    with pool(processes) as workers:
        runs = [workers.submit(_portion, portion, root, tuple(layers), cache) for portion in portions(jobs)]
        return tuple(one for run in runs for one in run.result())


def _portion(
    jobs: Sequence[tuple[int, Log]], root: Path | None, layers: Sequence[Layer], cache: Path | None
) -> tuple[Shown, ...]:
    session = Session(caching.load(root, layers, cache))
    return tuple(one for number, log in jobs for one in shown_in(session, number, log))
