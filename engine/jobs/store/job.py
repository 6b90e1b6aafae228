"""One job as far as it has been read, and how its rows become its log. No database is imported for it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Protocol

from pydantic import ValidationError

from ...reasoning.log import ENTRY, LogEntry, Undone
from .errors import JobError


class Row(Protocol):
    """An entry as a database has it. number: its number in the log of its job; body: the entry as JSON."""

    @property
    def job(self) -> int: ...
    @property
    def number(self) -> int: ...
    @property
    def body(self) -> str: ...
    @property
    def hash(self) -> str: ...


class KeptJobs(Protocol):
    """The kept jobs, as far as they teach: what a store and the quick way into it both answer."""

    def closed(self, kinds: Sequence[str]) -> Iterator[tuple[int, list[LogEntry]]]:
        """Of every job that has been closed, the entries of some kinds that hold ('undone' must be one of them). A job
        that can't be read is left out."""

    def marked(self, name: str) -> datetime | None:
        """When a mark was last set; None for never. Raises JobError."""


class Keeper(Protocol):
    """Where a job is kept, as far as the job itself asks: see Store."""

    @property
    def where(self) -> str:
        """Where the jobs are kept, for people."""

    def append(self, job: Job, added: Sequence[LogEntry], merge: bool) -> tuple[LogEntry, ...]:
        """Add entries to the job."""

    def renew(self, job: Job) -> tuple[LogEntry, ...]:
        """Read what came in from elsewhere."""


class Job:
    """One job as far as it has been read. Two benches may hold the same job: see append."""

    def __init__(
        self, store: Callable[[], Keeper], shop: KeptJobs, folder: Path, number: int, log: list[LogEntry], hash_: str
    ) -> None:
        self._store, self._folder = store, folder
        self.number, self.log = number, log
        self.shop = shop  # the jobs it is kept among, to read from
        self.hash = hash_  # of the last entry read

    @property
    def store(self) -> Keeper:
        """Where it is kept."""
        return self._store()

    @property
    def path(self) -> Path:
        """Where the job's own things lie: its layer of knowledge is the folder of this name that ends in .knowledge."""
        return self._folder / f"{self.number:04d}.job"

    def append(self, *added: LogEntry, merge: bool = True) -> tuple[LogEntry, ...]:
        """Add entries, all in one transaction, forced to the disk when this returns. Raises JobError, nothing kept.

        Entries that another bench added meanwhile are read into the log first, and given back; one's own follow them.
        When that makes no sense (merge.py), or with `merge` off, MovedOn is raised instead: the log has what came in,
        and a person decides whether to add the same again.
        """
        return self.store.append(self, added, merge)

    def renew(self) -> tuple[LogEntry, ...]:
        """Read what came in from elsewhere; the new entries, which are now part of the log. Raises JobError."""
        return self.store.renew(self)


def hashed(before: str, body: str) -> str:
    """The hash of an entry. before: the hash of the one before it, '' for the first of a job."""
    return hashlib.sha256(f"{before}\n{body}".encode()).hexdigest()


def standing_of(found: Iterable[Row]) -> Iterator[tuple[int, list[LogEntry]]]:
    """By job, the entries of its rows that hold; the rows are in order. A job that can't be read is left out."""
    for number, group in groupby(found, key=lambda row: int(row.job)):
        with suppress(JobError):
            log = {row.number: entry_of(row) for row in group}
            gone = {entry.number for entry in log.values() if isinstance(entry, Undone)}
            yield number, [entry for at, entry in log.items() if at not in gone and not isinstance(entry, Undone)]


def log_of(found: Sequence[Row], count: int = 0, hash_: str = "") -> list[LogEntry]:
    """The entries of a job's rows, in order, that follow its first `count`. Raises JobError when a row is missing or
    not as it was written."""
    log = []
    for number, row in enumerate(found, start=count + 1):
        hash_ = hashed(hash_, row.body)
        if row.number != number or row.hash != hash_:
            raise JobError(
                f"job {row.job} is damaged from entry {number} on: it is not as it was written.", "check", "restore"
            )
        log.append(entry_of(row))
    return log


def entry_of(row: Row) -> LogEntry:
    """The entry of a row. Raises JobError when it is none."""
    try:
        return ENTRY.validate_json(row.body)
    except ValidationError as error:
        detail = error.errors()[0]
        place = ".".join(str(part) for part in detail["loc"])
        raise JobError(
            f"entry {row.number} of job {row.job} can't be read ({place}: {detail['msg']}). Either a later chopstick "
            "wrote it: update this one; or it is damaged.",
            "check",
        ) from error
