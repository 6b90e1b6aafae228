"""Does 80 percent mean 80 percent? Closed jobs are read again, and what was believed is compared with what it was.

Each job is read as it stood before its first repair (or at its end, when nothing was repaired), with the knowledge base
alone, so that no job is judged by what it has taught itself. Every cause counts that is shown there: those that stand
out from what they are beforehand, with LEAST or more. In how many jobs was it really there? A cause left as it is was
there too.

Reading a job again takes a tenth of a second, so what was shown is kept (verdicts_kept.py), and at one time no more
than MOST_READ jobs are read: those whose hash is least, which is a draw by lot. The rest waits for the next time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from ...knowledge.layers import Layer
from ...late import late
from ...reasoning.log import Closed, Log, LogEntry, RepairDone, standing
from ...reasoning.session import Session
from . import verdicts_kept
from .verdicts_kept import Causes
from .workers import pool, portions

with late():
    from ...knowledge import cache as caching

MOST_READ = 60
A_PROCESS = 20  # jobs that one process reads: it takes longer to start than to read six
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


@dataclass(frozen=True)
class ClosedJob:
    """A closed job. hash: of its whole log."""

    number: int
    hash: str
    log: Log


@dataclass(frozen=True)
class Replayed:
    """shown: the causes of the jobs that were read, now or before. read: how many jobs that is, of `jobs`."""

    shown: tuple[Shown, ...]
    read: int
    jobs: int


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
    return _held(number, log, _believed(session, log)) if _closing(log) else ()


def _closing(log: Log) -> Closed | None:
    """How a job was closed, where that says what it was."""
    closed = [entry for _, entry in standing(log) if isinstance(entry, Closed)]
    return closed[-1] if closed and closed[-1].verdict else None


def _believed(session: Session, log: Log) -> Causes:
    leading = session.read(before_repairs(log)).leading
    return tuple((one.cause, one.probability) for one in leading if one.probability >= LEAST)


def _held(number: int, log: Log, believed: Causes) -> tuple[Shown, ...]:
    """What was believed against what it was."""
    closing = _closing(log)
    there = {*closing.was, *closing.left} if closing else set()
    return tuple(Shown(number, cause, p, cause in there) for cause, p in believed)


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
    jobs: Sequence[ClosedJob],
    fingerprint: str,
    root: Path | None,
    layers: Sequence[Layer],
    most: int | None = MOST_READ,
    folder: Path | None = None,
) -> Replayed:
    """What was shown in closed jobs. fingerprint: of the knowledge in force; most: how many are read again at most,
    None for all; folder: where what was shown is kept."""
    folder, name = folder or verdicts_kept.default_folder(), verdicts_kept.key(fingerprint)
    closed = [job for job in jobs if _closing(job.log)]
    kept = verdicts_kept.read(folder, name) if closed else {}
    waiting = sorted((job for job in closed if job.hash not in kept), key=lambda job: job.hash)[:most]
    if waiting:
        new = _read_again(waiting, root, layers)
        verdicts_kept.add(folder, name, new)
        kept = {**kept, **new}
    read = [job for job in closed if job.hash in kept]
    shown = tuple(one for job in read for one in _held(job.number, job.log, kept[job.hash]))
    return Replayed(shown, len(read), len(closed))


def _read_again(jobs: Sequence[ClosedJob], root: Path | None, layers: Sequence[Layer]) -> Mapping[str, Causes]:
    """In processes of their own, since the rule engine gives no memory back."""
    found: dict[str, Causes] = {}
    with pool() as workers:
        for run in [workers.submit(_portion, portion, root, tuple(layers)) for portion in portions(jobs, A_PROCESS)]:
            found.update(run.result())
    return found


def _portion(jobs: Sequence[ClosedJob], root: Path | None, layers: Sequence[Layer]) -> Mapping[str, Causes]:
    session = Session(caching.load(root, layers))
    return {job.hash: _believed(session, job.log) for job in jobs}
