"""The JSON of `jobs learned` and `jobs calibration`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Literal

from ...engine.jobs.shop.calibration import Bin
from ...engine.jobs.shop.learned import Learned
from .shapes import Shape


class ChangeShape(Shape):
    """A cause on a kind of amp. prior: how common the knowledge base has it on the amps seen; found: on how many of
    `amps` it was; now: how common it is reckoned; kept: it was not let fall, since it bears on safety."""

    cause: str
    name: str
    prior: float
    amps: int
    found: int
    now: float
    kept: bool


class KindShape(Shape):
    kind: tuple[str, ...]
    jobs: int
    changes: tuple[ChangeShape, ...]


class LearnedShape(Shape):
    """What `jobs learned` prints. fingerprint: of the table; off: what switches it off, '' when nothing does; since:
    the last reset, '' when there was none; prior_amps: how many closed jobs weigh as much as the knowledge base."""

    shape: Literal["chopstick learned 1"] = "chopstick learned 1"
    fingerprint: str
    knowledge: str
    off: str
    since: str
    jobs: int
    prior_amps: float
    kinds: tuple[KindShape, ...]


class BinShape(Shape):
    """Causes shown with low to high; expected: the mean of what was shown; surely: the 95 per cent interval (Wilson) of
    the share that are there; fits: whether expected is within it."""

    low: float
    high: float
    expected: float
    shown: int
    there: int
    surely: tuple[float, float]
    fits: bool


class CalibrationShape(Shape):
    """What `jobs calibration` prints. closed: the jobs that say what they were."""

    shape: Literal["chopstick calibration 1"] = "chopstick calibration 1"
    jobs: int
    closed: int
    bins: tuple[BinShape, ...]


def learned_shape(table: Learned, off: str, since: datetime | None) -> LearnedShape:
    """What was learned, as its documented shape."""
    base = table.base
    return LearnedShape(
        fingerprint=table.fingerprint, knowledge=base.fingerprint, off=off,
        since="" if since is None else since.isoformat(), jobs=len(table.lessons), prior_amps=base.shop.prior_amps,
        kinds=tuple(
            KindShape(
                kind=tuple(f"{fact} {value}" for fact, value in zip(base.shop.kinds_by, kind, strict=True)),
                jobs=count,
                changes=tuple(
                    ChangeShape(
                        cause=one.cause, name=base.causes[one.cause].name, prior=one.prior, amps=one.amps,
                        found=one.found, now=one.rate, kept=one.kept,
                    )
                    for one in table.changes(kind)
                ),
            )
            for kind, count in table.kinds.items()
        ),
    )  # fmt: skip


def calibration_shape(found: Sequence[Bin], closed: int, jobs: int) -> CalibrationShape:
    """A calibration as its documented shape."""
    return CalibrationShape(
        jobs=jobs, closed=closed,
        bins=tuple(
            BinShape(
                low=one.low, high=one.high, expected=one.expected, shown=one.shown, there=one.there, surely=one.surely,
                fits=one.fits,
            )
            for one in found
        ),
    )  # fmt: skip
