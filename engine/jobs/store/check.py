"""Whether a store is intact: the database's own check, its tables and guards, and every entry against its number, its
hash, its shape and what makes a log. What is intact here can be copied whole, so it takes a backup."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, select, text

from .errors import Barred, JobError
from .job import entry_of, hashed
from .made import at_a_server
from .schema import entries, jobs, marks
from .sound_log import faults
from .store import MOST_JOBS, Store
from .times import sortable, told

MOST_ROWS = 2**53  # no shop ever gets there; a count beyond it was put in, and ends what can be added


def problems(store: Store) -> list[str]:
    """Everything that is wrong with a store, in words; nothing when it is intact, or not there yet. Raises Barred when
    that can't be found out as things are."""
    found: list[str] = []
    try:
        if store.database.exists:
            with store.database.reading() as connection:
                found += _database(connection)
        if store.there():
            store.look()
            found += map(str, store.untaken.values())
            with store.database.reading() as connection:
                found += _counts(connection)
                found += _marks(connection)
                found += _jobs(connection)
    except Barred:
        raise
    except JobError as error:
        found.append(str(error))
    return list(dict.fromkeys(found))


def _database(connection: Connection) -> Iterator[str]:
    """What the embedded database finds wrong with its own pages and indexes. A server watches its own."""
    if connection.dialect.name != "sqlite":
        return
    for (said,) in connection.execute(text("PRAGMA integrity_check(20)")):
        if said != "ok":
            yield f"the database is damaged: {' '.join(str(said).split())}"
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        yield f"the table {row[0]} has a row (number {row[1]}) of a job that is not there"


def _counts(connection: Connection) -> Iterator[str]:
    """What the embedded database believes it has counted. (Its tables and guards are seen to when it is opened.)"""
    if connection.dialect.name != "sqlite":
        yield from at_a_server(connection)
        return
    for name, count in connection.execute(text("SELECT name, seq FROM sqlite_sequence")):
        if type(count) is not int or not 0 <= count <= MOST_ROWS:
            yield f"the table {name} counts wrongly, and would soon take nothing more"


def _marks(connection: Connection) -> Iterator[str]:
    for name, at in connection.execute(select(marks.c.name, marks.c.at)):
        try:
            told(at)
        except ValueError:
            yield f"the mark '{name}' has an invalid time"


def _jobs(connection: Connection) -> Iterator[str]:
    query = select(entries).order_by(entries.c.job, entries.c.number)
    filled = set()
    for number, rows in groupby(connection.execute(query), key=lambda row: row.job):
        filled.add(number)
        yield from _log(number, rows)
    numbers = set(connection.execute(select(jobs.c.number)).scalars())
    for number in sorted(numbers - filled):
        yield f"job {number} has no entries"
    for number in sorted(one for one in numbers if not 0 < one <= MOST_JOBS):
        yield f"job {number} has a number that no job can have"


def _log(job: int, rows: Iterator[Any]) -> Iterator[str]:
    expected, before, whole = 1, "", True
    for row in rows:
        if type(row.number) is not int:
            yield f"job {job}: an entry has an invalid number"
            return
        if row.number != expected:
            missing = f"entry {expected}" if row.number == expected + 1 else f"entries {expected} to {row.number - 1}"
            yield f"job {job}: {missing} of its log missing"
            whole = False
        if whole and row.hash != hashed(before, row.body):
            yield f"job {job}: entry {row.number} is not as it was written (its hash does not fit)"
            whole = False  # the hashes that follow rest on this one
        expected, before = row.number + 1, row.hash
        try:
            entry = entry_of(row)
        except JobError as error:
            yield str(error)
            continue
        if (row.kind, row.at) != (entry.kind, sortable(entry.at)):
            yield f"job {job}: entry {row.number} is listed under another kind or time than it has"
        for number, why in faults([(row.number, entry)]):
            yield f"job {job}: entry {number} does not belong in a log: {why}"
