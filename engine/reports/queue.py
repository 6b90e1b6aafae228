"""The open jobs of the shop, in the order in which to take them up."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Literal

from ..jobs.shop import queue as queueing
from ..jobs.shop.agreement import Waiting
from ..report import Day, Report


class QueuedJob(Report):
    """An open job in the queue. group: why it stands where it does. minutes: bench minutes left, None when they can't
    be worked out, and trouble then says why."""

    number: int
    job: str
    group: queueing.Group
    hold: str
    promised: Day
    overdue: bool
    minutes: float | None
    awaited: tuple[Waiting, ...]
    priority: str
    next: str
    trouble: str


class Queue(Report):
    """The open jobs in the order in which to take them up. today: the day that overdue is judged by."""

    shape: Literal["chopstick queue 1"] = "chopstick queue 1"
    today: Day
    jobs: tuple[QueuedJob, ...]


def queue(found: Iterable[queueing.Queued], today: date) -> Queue:
    """The queue on a day."""
    return Queue(
        today=today, jobs=tuple(QueuedJob.made_of(one, job=one.title, overdue=one.overdue(today)) for one in found)
    )
