"""The kept jobs: the list, what a search finds, and what became of moving or checking them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from ..jobs.store.job import Job
from ..jobs.store.search import Hit
from ..jobs.store.store import Listed
from ..jobs.store.transfer import TakenIn
from ..report import MomentIfKnown, Report


class ListedJob(Report):
    """A kept job. path: of the database it is kept in, or its URL. last: when something was last entered. faults: the
    causes it was closed with or repaired for. trouble: why it can't be read, '' when it can."""

    number: int
    path: str
    job: str
    opened: MomentIfKnown
    entries: int
    trouble: str
    last: MomentIfKnown = None
    closed: bool = False
    faults: tuple[str, ...] = ()


class ListOfJobs(Report):
    shape: Literal["chopstick jobs 1"] = "chopstick jobs 1"
    folder: str
    jobs: tuple[ListedJob, ...]


class FoundJob(Report):
    """A job with its entries that hold the text that was searched."""

    number: int
    job: str
    hits: tuple[Hit, ...]


class FoundJobs(Report):
    shape: Literal["chopstick jobs search 1"] = "chopstick jobs search 1"
    text: str
    jobs: tuple[FoundJob, ...]


class Imported(Report):
    shape: Literal["chopstick jobs import 1"] = "chopstick jobs import 1"
    jobs: tuple[TakenIn, ...]


class Backup(Report):
    """A backup made or put back. aside: where what was there before was put, '' when nothing was."""

    shape: Literal["chopstick jobs backup 1"] = "chopstick jobs backup 1"
    file: str
    store: str
    jobs: int
    aside: str = ""


class StoreCheck(Report):
    """problems: what is wrong, in words; none when the store is intact."""

    shape: Literal["chopstick jobs check 1"] = "chopstick jobs check 1"
    store: str
    jobs: int
    problems: tuple[str, ...]


def list_of_jobs(where: str, found: Iterable[Listed]) -> ListOfJobs:
    """The jobs that are kept in a place."""
    return ListOfJobs(folder=where, jobs=tuple(ListedJob.made_of(one, path=where, job=one.title) for one in found))


def found_jobs(text: str, found: Iterable[tuple[Job, tuple[Hit, ...]]]) -> FoundJobs:
    """The jobs that have a text."""
    return FoundJobs(
        text=text,
        jobs=tuple(FoundJob(number=job.number, job=getattr(job.log[0], "title", ""), hits=hits) for job, hits in found),
    )
