"""What every command needs: the knowledge base, the jobs' folder, and what to type when one of them is wrong."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ..engine.late import late
from . import exits
from .screen.screen import Screen

LEVEL = "CHOPSTICK_LEVEL"
LEVELS = ("junior", "senior")

if TYPE_CHECKING:
    from ..engine.circuit.collection import Circuits
    from ..engine.jobs.store.errors import JobError
    from ..engine.jobs.store.job import Job
    from ..engine.jobs.store.store import Store
    from ..engine.knowledge.base import KnowledgeBase
    from ..engine.reasoning.session import Session

with late():
    from ..engine.circuit import collection
    from ..engine.jobs.shop import learned
    from ..engine.jobs.store import embedded, nearby, store
    from ..engine.reasoning import session as reasoning_session
    from . import knowledge_in_force

NO_LEARNED = "CHOPSTICK_NO_LEARNED"
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON (its fields: chopstick.engine.reports).")]
JobNumber = Annotated[int | None, typer.Argument(help="Number of the job; the last one worked on when left out.")]
CircuitName = Annotated[
    str | None, typer.Option("--circuit", metavar="NAME", help="The circuit the amp is built to; none: not known.")
]
JobsFolder = Annotated[
    Path | None, typer.Option("--jobs", metavar="DIR", help="Folder the jobs are kept in (also CHOPSTICK_JOBS).")
]
KnowledgeFolder = Annotated[
    Path | None, typer.Option("--kb", metavar="DIR", help="Use this knowledge base, not the one that came along.")
]
HOW = {  # what an error of the store says can be done, and what to type
    "start a job": "Start one with: chopstick intake",
    "look at the job": "Look at it with: chopstick show {job}",
    "check": "See what is wrong with: chopstick jobs check",
    "restore": "Put a backup back: chopstick jobs restore FILE",
    "back up": "Make a backup: chopstick jobs backup FILE",
    "import": "Take jobs over with: chopstick jobs import FILE-OR-FOLDER",
    "other folder": "Choose another folder with --jobs DIR or CHOPSTICK_JOBS",
    "other store": "Name another store with --store URL or CHOPSTICK_STORE",
}
DETAILS = ("serial", "work-before", "accessories", "priority", "budget", "promised")
Details = Annotated[
    list[str] | None,
    typer.Option(
        "--detail", metavar="KEY=VALUE", help=f"What came with it and what its owner wants: {', '.join(DETAILS)}."
    ),
]


def level(unsaid: str = "junior") -> str:
    """The level of whoever is at the bench, junior or senior: as set, else as given here."""
    return os.environ.get(LEVEL, "") or unsaid


def now() -> datetime:
    return datetime.now(UTC)


def store_of(folder: Path | None) -> Store:
    """The store of the kept jobs. Raises JobError."""
    return store.open_store(*_place(folder))


def jobs_folder(chosen: Path | None) -> Path:
    """The folder of the jobs. Raises OSError."""
    return _place(chosen)[0]


def _place(folder: Path | None) -> tuple[Path, str]:
    """The folder of the jobs, and a server's URL or ''. A folder that was named goes before CHOPSTICK_STORE."""
    return (
        (folder, "")
        if folder is not None
        else (embedded.default_folder(os.environ), os.environ.get(embedded.STORE, ""))
    )


def knowledge(root: Path | None, job: Path | None = None) -> KnowledgeBase:
    """The knowledge base with all layers over it, from the cache if it can be. Raises KnowledgeError."""
    return knowledge_in_force.knowledge(root, job=job)


def circuits(root: Path | None, job: Path | None = None) -> Circuits:
    """The circuits that a job may choose, with all layers over them."""
    return collection.Circuits(root, knowledge_in_force.layers(root, job=job))


def session(root: Path | None, at: str = "", base: KnowledgeBase | None = None) -> Session:
    """A session for a log that is not kept; at: the level of experience. Raises KnowledgeError."""
    return reasoning_session.Session(base or knowledge(root), at, circuits=circuits(root))


def sheet_session(root: Path | None, job: Job) -> Session:
    """The session that a job's checklists are made with: heeding neither the level of whoever is at the bench nor what
    closed jobs taught meanwhile, so that a printed sheet keeps its numbers. Raises KnowledgeError."""
    return reasoning_session.Session(knowledge(root, job.path), circuits=circuits(root, job.path))


def session_of(root: Path | None, job: Job, base: KnowledgeBase | None = None) -> Session:
    """The session that reads a job, heeding what the closed jobs of its store taught. Raises KnowledgeError, JobError.

    base: where it is loaded already.
    """
    base = base or knowledge(root, job.path)
    if switched_off(base):
        return reasoning_session.Session(base, level(), circuits=circuits(root, job.path))

    table = learned.from_store(base, job.shop)
    return reasoning_session.Session(base, level(), table if table.lessons else None, circuits(root, job.path))


def switched_off(base: KnowledgeBase) -> str:
    """What keeps closed jobs from having a say; '' when nothing does."""
    if os.environ.get(NO_LEARNED):
        return f"--no-learned (or {NO_LEARNED})"
    return "" if base.shop.learn else "`shop: {learn: false}` in a layer of knowledge"


def job_of(folder: Path | None, number: int | None) -> Job:
    """A kept job; the one worked on last when no number is given. Raises JobError."""
    return nearby.Nearby(*_place(folder)).find(number)


def left_out(store: Store) -> int:
    """Says of each job that could not be read, and so is not in what was shown, why; the exit code that tells of it."""
    for number, error in sorted(store.unread.items()):
        Screen().trouble(f"chopstick: job {number} is left out: {with_help(error)}")
    return exits.PROBLEMS if store.unread else exits.DONE


def with_help(error: JobError) -> str:
    """What is wrong with a job or the store, and what to type."""
    return ". ".join([str(error).rstrip("."), *(HOW[one].format(job=error.job or "JOB") for one in error.todo)])
