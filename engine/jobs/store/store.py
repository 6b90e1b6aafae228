"""The kept jobs: a log of entries each, only ever added to, in a database (database.py says which).

A command opens the store, finds a job and adds entries to it:

    job = open_store(folder, url).find(12)
    job.log                        # the entries so far
    job.append(Note(...))          # on the disk when this returns, or a JobError and nothing kept

Nothing is touched before the first use. What is read is one state of the database; what is written is one transaction.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select

from ...reasoning.log import Closed, LogEntry, Opened, RepairDone, still_standing
from . import old_files
from .database import Database, of_file, of_server
from .errors import JobError, MovedOn
from .job import Job, entry_of, hashed, log_of, standing_of
from .made import MADE, strange
from .merge import clash
from .migrate import migrate
from .schema import entries as rows
from .schema import jobs as labels
from .schema import marks, taken_over
from .sound_log import faults
from .times import sortable, told

MOST_JOBS = 10**9 - 1  # nine digits on a label, and less than what a column of numbers holds


@dataclass(frozen=True)
class Listed:
    """A job as a list shows it. faults: the causes it was closed with or repaired for. trouble: why it can't be read,
    '' when it can."""

    number: int
    title: str = ""
    opened: datetime | None = None
    last: datetime | None = None
    entries: int = 0
    closed: bool = False
    faults: tuple[str, ...] = ()
    trouble: str = ""


def open_store(folder: Path, url: str = "") -> Store:
    """The store of a folder, or of a PostgreSQL URL. Nothing is read or made yet. Raises JobError for a wrong URL."""
    return Store(of_server(url, folder) if url else of_file(folder))


class Store:
    """All jobs of a folder or a server. alone: for a database by itself, as a copy is: what else lies in its folder is
    none of its business."""

    def __init__(self, database: Database, alone: bool = False) -> None:
        self.database, self._alone = database, alone
        self._ready = False
        self.untaken: dict[int, JobError] = {}  # old job files that can't be read, by number, and why
        self.unread: dict[int, JobError] = {}  # jobs that the last `jobs` left out, by number, and why

    @property
    def where(self) -> str:
        """Where the jobs are kept, for people: the database's file, or a server's URL without its password."""
        return self.database.where

    @property
    def folder(self) -> Path:
        return self.database.folder

    def there(self, making: bool = False) -> bool:
        """Whether there is a store yet, brought forward to the latest version. making: make it if not."""
        if self._ready:
            return True
        waiting = {} if self._alone or self.database.file is None else old_files.job_files(self.folder)
        if not (making or waiting or self.database.exists):
            return False
        self.database.make()
        migrate(self.database)
        self.look()
        self._ready = True
        if waiting:
            self._take_over(waiting)
        return True

    def create(self, opened: Opened, *more: LogEntry) -> Job:
        """A new job with the next free number, and its first entries, all or none of them. Raises JobError."""
        self.there(making=True)
        with self.database.writing() as connection:
            self.database.alone(connection)
            last = connection.execute(select(func.max(labels.c.number))).scalar() or 0
            number = max(last, *self.untaken, 0) + 1
            if number > MOST_JOBS:
                number = free({*connection.execute(select(labels.c.number)).scalars(), *self.untaken})
            connection.execute(insert(labels).values(number=number))
            hash_ = add(connection, number, (), "", (opened, *more))
        return self._job(number, [opened, *more], hash_)

    def find(self, number: int | None = None) -> Job:
        """The job of that number; with none, the one written to last. Raises JobError."""
        none = JobError(f"there is no job {number} in {self.where}")
        if number is None:
            none = JobError(f"there is no job in {self.where} yet.", "start a job")
        if not self.there() or (number is not None and not 0 < number <= MOST_JOBS):
            raise none
        with self.database.reading() as connection:
            latest = select(rows.c.job).order_by(rows.c.place.desc()).limit(1)
            wanted = number if number is not None else connection.execute(latest).scalar()
            found = connection.execute(_OF_JOB.where(rows.c.job == wanted)).all() if wanted else []
        if not found:
            raise self.untaken.get(number or 0, none)
        return self._job(found[0].job, log_of(found), found[-1].hash)

    def append(self, job: Job, added: Sequence[LogEntry], merge: bool) -> tuple[LogEntry, ...]:
        """See Job.append."""
        self.there()
        moved: MovedOn | None = None
        with self.database.writing() as connection:
            came, hash_ = _news(connection, job, self.where)
            if came and (not merge or clash(came, added)):
                moved = MovedOn(job.number, came, clash(came, added))
            else:
                hash_ = add(connection, job.number, (*job.log, *came), hash_, added)
        job.hash = hash_
        if moved:
            job.log += came
            raise moved
        job.log += [*came, *added]
        return tuple(came)

    def renew(self, job: Job) -> tuple[LogEntry, ...]:
        """See Job.renew."""
        with self.database.reading() as connection:
            came, job.hash = _news(connection, job, self.where)
        job.log += came
        return tuple(came)

    def jobs(self) -> Iterator[Job]:
        """Every job that can be read, by number; what is left out is then in `unread`. Raises JobError when the
        database can't be read."""
        there = self.there()
        self.unread = dict(self.untaken)
        if not there:
            return
        with self.database.reading() as connection:
            found = connection.execute(_OF_JOB).all()
        for number, group in groupby(found, key=lambda row: int(row.job)):
            of_job = list(group)
            try:
                yield self._job(number, log_of(of_job), of_job[-1].hash)
            except JobError as error:
                self.unread[number] = error

    def listed(self) -> list[Listed]:
        """Every job by number, without reading the whole of it; one that can't be read is listed with its trouble."""
        if not self.there():
            return []
        telling = ("opened", "repair", "closed", "undone")
        with self.database.reading() as connection:
            counts = connection.execute(
                select(rows.c.job, func.count().label("entries"), func.max(rows.c.at).label("last"))
                .group_by(rows.c.job).order_by(rows.c.job)
            ).all()  # fmt: skip
            bodies = connection.execute(_OF_JOB.where(rows.c.kind.in_(telling))).all()
        of_job = {number: list(group) for number, group in groupby(bodies, key=lambda row: int(row.job))}
        found = [_listed(row.job, row.entries, row.last, of_job.get(row.job, [])) for row in counts]
        untaken = [Listed(number, trouble=str(trouble)) for number, trouble in self.untaken.items()]
        return sorted([*found, *untaken], key=lambda one: one.number)

    def closed(self, kinds: Sequence[str]) -> Iterator[tuple[int, list[LogEntry]]]:
        """See Shop.closed. Raises JobError."""
        if not self.there():
            return
        ever = select(rows.c.job).where(rows.c.kind == "closed")
        with self.database.reading() as connection:
            bodies = connection.execute(_OF_JOB.where(rows.c.kind.in_(kinds), rows.c.job.in_(ever))).all()
        yield from standing_of(bodies)

    def mark(self, name: str, at: datetime) -> None:
        """Set a mark of the shop's at a time. The last one of a name counts. Raises JobError."""
        self.there(making=True)
        with self.database.writing() as connection:
            connection.execute(insert(marks).values(name=name, at=sortable(at)))

    def marked(self, name: str) -> datetime | None:
        """What time the last mark of a name was set at; None for never. Raises JobError."""
        if not self.there():
            return None
        last = select(marks.c.at).where(marks.c.name == name).order_by(marks.c.place.desc()).limit(1)
        with self.database.reading() as connection:
            at = connection.execute(last).scalar()
        try:
            return None if at is None else told(at)
        except ValueError as error:
            raise JobError(f"{self.where} is damaged: {error}.", "check", "restore") from error

    def _job(self, number: int, log: list[LogEntry], hash_: str) -> Job:
        return Job(lambda: self, self, self.folder, number, log, hash_)

    def look(self) -> None:
        """See that an embedded database is made of nothing but what the program makes. Raises JobError."""
        if self.database.file is None:
            return  # a server's tables are its keeper's to answer for; the check looks at them
        with self.database.reading() as connection:
            found = strange(connection.exec_driver_sql(MADE).all())
        if found:
            raise JobError(
                f"{self.where} can't be relied on: {found[0]}. What is entered could be changed or dropped, so nothing "
                "is read from it or entered into it.",
                "restore",
            )

    def _take_over(self, waiting: Mapping[str, int]) -> None:
        """Take in the job files of the version before, once each; the files stay as they are."""
        with self.database.reading() as connection:
            done = set(connection.execute(select(taken_over.c.name)).scalars())
        for name, number in waiting.items():
            if name in done:
                continue
            try:
                log = old_files.read(self.folder / name)
            except JobError as error:
                self.untaken[number] = error
                continue
            if log:
                self._take(name, number, log)

    def _take(self, name: str, number: int, log: Sequence[LogEntry]) -> None:
        with self.database.writing() as connection:
            if connection.execute(select(taken_over).where(taken_over.c.name == name)).first():
                return  # another bench was first
            numbers = set(connection.execute(select(labels.c.number)).scalars())
            given = free(numbers, number)
            connection.execute(insert(labels).values(number=given))
            add(connection, given, (), "", log)
            connection.execute(insert(taken_over).values(name=name, job=given))


_OF_JOB = select(rows.c.job, rows.c.number, rows.c.body, rows.c.hash).order_by(rows.c.job, rows.c.number)


def _news(connection: Connection, job: Job, where: str) -> tuple[list[LogEntry], str]:
    """The entries beyond the log as it was read, and the hash of the last. Locks the job when writing."""
    connection.execute(select(labels.c.number).where(labels.c.number == job.number).with_for_update())
    found = connection.execute(
        _OF_JOB.where(rows.c.job == job.number, rows.c.number >= max(len(job.log), 1))
    ).all()  # fmt: skip
    if not found or found[0].hash != job.hash:
        raise JobError(
            f"job {job.number} in {where} is no longer what was read: the database was put back or exchanged "
            "meanwhile. Nothing was added; open the job again and look."
        )
    return log_of(found[1:], len(job.log), job.hash), found[-1].hash


def free(taken: Collection[int], wanted: int = 0) -> int:
    """A number for a job: the one wanted where it is free, else the next after all, else the first that is left."""
    if wanted and wanted not in taken:
        return wanted
    last = max(taken, default=0)
    return last + 1 if last < MOST_JOBS else next(number for number in range(1, MOST_JOBS + 1) if number not in taken)


def add(connection: Connection, job: int, before: Sequence[LogEntry], hash_: str, added: Sequence[LogEntry]) -> str:
    """Write entries after those that a job has; the hash of the last one written. Raises JobError for entries that
    would not make a log with them."""
    new = list(enumerate(added, start=len(before) + 1))
    for number, why in faults(new):
        raise JobError(f"entry {number} can't be added to job {job}: {why}. Nothing was added.")
    written = []
    for number, entry in new:
        body = entry.model_dump_json()
        hash_ = hashed(hash_, body)
        at = sortable(entry.at)
        written.append({"job": job, "number": number, "at": at, "kind": entry.kind, "body": body, "hash": hash_})
    if written:
        connection.execute(insert(rows), written)
    return hash_


def _listed(number: int, count: int, last: str, found: Sequence[Row[Any, Any, Any, Any]]) -> Listed:
    try:
        stands = [entry for _, entry in still_standing((row.number, entry_of(row)) for row in found)]
        at = told(last)
    except (JobError, ValueError, TypeError) as error:
        return Listed(number, entries=count, trouble=str(error))
    opened = next((entry for entry in stands if isinstance(entry, Opened)), None)
    was = [cause for entry in stands if isinstance(entry, Closed) for cause in entry.was]
    repaired = [entry.cause for entry in stands if isinstance(entry, RepairDone)]
    return Listed(
        number,
        title=opened.title if opened else "",
        opened=opened.at if opened else None,
        last=at,
        entries=count,
        closed=any(isinstance(entry, Closed) for entry in stands),
        faults=tuple(dict.fromkeys([*was, *repaired])),
    )
