"""Triage across the shop: which open job to take up next.

First come jobs with an open hold that something found on the amp has raised: the amp is not safe as it is, and its
owner must hear of it. Then what can be worked on, then what waits for parts; within each, by the day it was promised
for (none comes last), then by the bench minutes left, least first (the shortest job first keeps the average wait
shortest: W. E. Smith, "Various optimizers for single-stage production", Naval Research Logistics Quarterly 3, 1956;
from memory), then by number.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

from ...circuit.collection import Circuits
from ...knowledge.layers import Layer
from ...late import late
from ...reasoning.log import Log
from ...reasoning.session import Session, Standing
from ...reasoning.wording import step_name
from ...reference.errors import KnowledgeError
from .agreement import Waiting, agreed
from .learned import Lesson, learn
from .minutes_left import expected
from .workers import JOBS_A_PROCESS, pool, portions

with late():
    from ...knowledge import cache as caching
    from ...knowledge import load as knowledge_load

Group = Literal["held", "to do", "waiting for parts"]
GROUPS: tuple[Group, ...] = ("held", "to do", "waiting for parts")


@dataclass(frozen=True)
class Open:
    """An open job to be placed. layers: the knowledge laid over the base for it."""

    number: int
    log: Log
    layers: tuple[Layer, ...] = ()


@dataclass(frozen=True)
class JobRead:
    """How jobs are read. root: of another knowledge base; cache: the folder of its cache; level: of whoever is at the
    bench; lessons: what closed jobs teach, heeded where the shop's knowledge lets it."""

    root: Path | None = None
    cache: Path | None = None
    level: str = ""
    lessons: tuple[Lesson, ...] = ()

    def session(self, layers: tuple[Layer, ...]) -> Session:
        """Raises KnowledgeError."""
        base = caching.load(self.root, layers, self.cache) if self.cache else knowledge_load.load(self.root, layers)
        taught = learn(base, self.lessons) if self.lessons and base.shop.learn else None
        return Session(base, self.level, taught, Circuits(self.root, layers))


@dataclass(frozen=True)
class Queued:
    """An open job in its place. hold: the id of the open hold, raised by a finding; next: the step that comes next, in
    words; minutes: bench minutes left. trouble: why that can't be worked out; the job is listed all the same."""

    number: int
    title: str
    hold: str = ""
    promised: date | None = None
    minutes: float | None = None
    awaited: tuple[Waiting, ...] = ()
    priority: str = ""
    next: str = ""
    trouble: str = ""

    @property
    def group(self) -> Group:
        return "held" if self.hold else "waiting for parts" if self.awaited else "to do"

    def overdue(self, today: date) -> bool:
        return self.promised is not None and self.promised < today


def in_order(jobs: Iterable[Queued]) -> list[Queued]:
    """The order in which to take them up."""
    return sorted(
        jobs,
        key=lambda one: (
            GROUPS.index(one.group),
            one.promised or date.max,
            one.minutes if one.minutes is not None else float("inf"),
            one.number,
        ),
    )


def queue(jobs: Sequence[Open], how: JobRead, processes: int = 2) -> list[Queued]:
    """The open jobs in order. A few are read here, many in processes of their own. Raises KnowledgeError."""
    if len(jobs) <= JOBS_A_PROCESS:
        return in_order(placed(jobs, how))
    with pool(processes) as workers:
        done = [workers.submit(placed, portion, how) for portion in portions(jobs)]
        return in_order(one for portion in done for one in portion.result())


def placed(jobs: Iterable[Open], how: JobRead) -> list[Queued]:
    """Each job with what its place depends on, read in this process."""
    sessions: dict[tuple[Layer, ...], Session] = {}
    found = []
    for job in jobs:
        try:
            if job.layers not in sessions:
                sessions[job.layers] = how.session(job.layers)
        except KnowledgeError as error:
            if not any(layer.kind == "job" for layer in job.layers):
                raise
            found.append(_told(job.number, job.log, trouble=f"its own knowledge is broken: {error.problems[0]}"))
            continue
        found.append(place(job.number, job.log, sessions[job.layers].read(job.log)))
    return found


def place(number: int, log: Log, now: Standing) -> Queued:
    """A job's place, from where it stands."""
    step = now.next
    what, _ = step_name(now.base, step)
    said = f"{step.kind}: {what}" if what else "hand it back"
    raised = [hold.hold for hold in now.holds if hold.kind != "standing" and hold.answered is not True]
    hold = step.id if step.kind == "held" else next(iter(raised), "")
    return _told(number, log, hold, expected(now), said)


def _told(
    number: int, log: Log, hold: str = "", minutes: float | None = None, next_: str = "", trouble: str = ""
) -> Queued:
    told = agreed(log)
    title = getattr(log[0], "title", "")
    return Queued(number, title, hold, told.promised, minutes, told.awaited, told.priority, next_, trouble)
