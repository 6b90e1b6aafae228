"""What closed jobs taught, and whether what was believed of them was so."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Literal

from ..jobs.shop.calibration import Bin
from ..jobs.shop.learned import Learned, RateChange
from ..report import MomentIfKnown, Report


class LearnedOfKind(Report):
    """What was learned of one kind of amp. kind: the facts that make it one; jobs: how many closed jobs teach of it."""

    kind: tuple[str, ...]
    jobs: int
    changes: tuple[RateChange, ...]


class Lessons(Report):
    """What closed jobs taught. fingerprint: of the table; off: what switches it off, '' when nothing does; since: the
    last reset; prior_amps: how many closed jobs weigh as much as the knowledge base."""

    shape: Literal["chopstick learned 1"] = "chopstick learned 1"
    fingerprint: str
    knowledge: str
    off: str
    since: MomentIfKnown
    jobs: int
    prior_amps: float
    kinds: tuple[LearnedOfKind, ...]


class CalibratedBin(Report):
    """Causes shown with low to high; expected: the mean of what was shown; surely: the 95 percent interval (Wilson) of
    the share that are there; fits: whether expected is within it."""

    low: float
    high: float
    expected: float
    shown: int
    there: int
    surely: tuple[float, float]
    fits: bool


class Calibration(Report):
    """closed: the jobs that say what they were; read: how many of them were read again so far, and count here."""

    shape: Literal["chopstick calibration 1"] = "chopstick calibration 1"
    jobs: int
    closed: int
    read: int
    bins: tuple[CalibratedBin, ...]


def lessons(table: Learned, off: str, since: datetime | None) -> Lessons:
    """What was learned."""
    base = table.base
    return Lessons(
        fingerprint=table.fingerprint,
        knowledge=base.fingerprint,
        off=off,
        since=since,
        jobs=len(table.lessons),
        prior_amps=base.shop.prior_amps,
        kinds=tuple(
            LearnedOfKind(
                kind=tuple(f"{fact} {value}" for fact, value in zip(base.shop.kinds_by, kind, strict=True)),
                jobs=count,
                changes=table.changes(kind),
            )
            for kind, count in table.kinds.items()
        ),
    )


def calibration(found: Sequence[Bin], closed: int, jobs: int, read: int) -> Calibration:
    """How what was shown agrees with what was there."""
    return Calibration(jobs=jobs, closed=closed, read=read, bins=tuple(CalibratedBin.made_of(one) for one in found))
