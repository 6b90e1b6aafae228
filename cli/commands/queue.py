"""`chopstick queue`: the open jobs of the shop, in the order in which to take them up."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from ..desk import NO_LEARNED, JobsFolder, Json, KnowledgeFolder, level, now, store_of, told
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.reports.queue import Queue


def queue(as_json: Json = False, jobs: JobsFolder = None, kb: KnowledgeFolder = None) -> None:
    """Order the open jobs: which to take up next.

    First an amp with an open hold that something found on it has raised: it is not safe; then what can be worked on;
    then what waits for parts. Within each: the day it was promised for, then the bench minutes left.

    \b
    chopstick queue
    """
    from ...engine.jobs.shop import queue as queueing
    from ...engine.jobs.shop.agreement import agreed
    from ...engine.jobs.shop.learned import lessons_of
    from ...engine.knowledge.cache import default_folder
    from ...engine.reports.queue import queue as queued
    from ..knowledge_in_force import layers

    with told():
        store = store_of(jobs)
        open_ = [
            queueing.Open(job.number, job.log, layers(kb, job=job.path))
            for job in store.jobs()
            if agreed(job.log).closed is None
        ]
        lessons = () if os.environ.get(NO_LEARNED) else lessons_of(store)
        found = queueing.queue(open_, queueing.JobRead(kb, default_folder(), level(), lessons))
    made = queued(found, now().astimezone().date())
    screen = Screen()
    if as_json:
        screen.json(made)
    else:
        _tell(screen, made)


def _tell(screen: Screen, told: Queue) -> None:
    from ...engine.jobs.shop.queue import GROUPS

    heads = {
        "held": "At an open hold: not safe as it is, and its owner should hear of it",
        "to do": "To work on, in this order",
        "waiting for parts": "Waiting for parts",
    }
    if not told.jobs:
        screen.line("No job is open.")
    for group in GROUPS:
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
