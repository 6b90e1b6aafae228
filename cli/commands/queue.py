"""`chopstick queue`: the open jobs of the shop, in the order in which to take them up."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import typer

from ...engine.late import late
from ..desk import NO_LEARNED, JobsFolder, Json, KnowledgeFolder, left_out, level, now, store_of
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.reports.queue import Queue

with late():
    from ...engine.jobs.shop import agreement, learned
    from ...engine.jobs.shop import queue as queueing
    from ...engine.knowledge import cache
    from ...engine.reports import queue as reports_queue
    from .. import knowledge_in_force


def queue(as_json: Json = False, jobs: JobsFolder = None, kb: KnowledgeFolder = None) -> None:
    """Order the open jobs: which to take up next.

    First an amp with an open hold that something found on it has raised: it is not safe; then what can be worked on;
    then what waits for parts. Within each: the day it was promised for, then the bench minutes left.
    Exit code 1 when a job can't be read, and so is left out.

    \b
    chopstick queue
    """
    store = store_of(jobs)
    open_ = [
        queueing.Open(job.number, job.log, knowledge_in_force.layers(kb, job=job.path))
        for job in store.jobs()
        if agreement.agreed(job.log).closed is None
    ]
    lessons = () if os.environ.get(NO_LEARNED) else learned.lessons_of(store)
    found = queueing.queue(open_, queueing.JobRead(kb, cache.default_folder(), level(), lessons))
    made = reports_queue.queue(found, now().astimezone().date())
    screen = Screen()
    if as_json:
        screen.json(made)
    else:
        _tell(screen, made)
    raise typer.Exit(left_out(store))


def _tell(screen: Screen, told: Queue) -> None:
    heads = {
        "held": "At an open hold: not safe as it is, and its owner should hear of it",
        "to do": "To work on, in this order",
        "waiting for parts": "Waiting for parts",
    }
    if not told.jobs:
        screen.line("No job is open.")
    for group in queueing.GROUPS:
        of_group = [one for one in told.jobs if one.group == group]
        if of_group:
            screen.heading(heads[group])
        for one in of_group:
            facts = []
            if one.promised:
                facts.append(f"promised for {one.promised}{' (OVERDUE)' if one.overdue else ''}")
            if one.minutes is not None:
                facts.append(f"about {one.minutes:.0f} min left")
            if one.priority:
                facts.append(f"owner wants: {one.priority}")
            screen.line(f"Job {one.number}: {one.job}", "bold", indent=2)
            if facts:
                screen.line("; ".join(facts), indent=4)
            for part in one.awaited:
                screen.line(f"awaited: {part.part}{f', due {part.due}' if part.due else ''}", indent=4)
            screen.line(one.trouble or one.next, indent=4)
