"""Whether a store is sound: the database's own check, and every entry against its number, its hash and its shape."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, select, text

from .errors import JobError
from .job import entry_of, hashed
from .schema import entries, jobs, sortable
from .store import Store

GUARDS = {  # the triggers that refuse changes
    "sqlite": ("SELECT name FROM sqlite_master WHERE type = 'trigger'", 5),
    "postgresql": ("SELECT tgname FROM pg_trigger WHERE tgname LIKE '%\\_refused'", 3),
}


def problems(store: Store) -> list[str]:
    """Everything that is wrong with a store, in words; nothing when it is sound, or not there yet."""
    found: list[str] = []
    try:
        if store.database.exists:
            with store.database.reading() as connection:
                found += _database(connection)
        if store.there():
            found += map(str, store.untaken.values())
            with store.database.reading() as connection:
                found += _guards(connection)
                found += _jobs(connection)
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


def _guards(connection: Connection) -> Iterator[str]:
    query, count = GUARDS[connection.dialect.name]
    there = len(connection.execute(text(query)).all())
    if there < count:
        yield f"{count - there} of the {count} guards that refuse changes to entries are gone from the database"


def _jobs(connection: Connection) -> Iterator[str]:
    query = select(entries).order_by(entries.c.job, entries.c.number)
    filled = set()
    for number, rows in groupby(connection.execute(query), key=lambda row: row.job):
        filled.add(number)
        yield from _log(number, rows)
    for number in sorted(set(connection.execute(select(jobs.c.number)).scalars()) - filled):
        yield f"job {number} has no entries"


def _log(job: int, rows: Iterator[Any]) -> Iterator[str]:
    expected, before, whole = 1, "", True
    for row in rows:
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
        if (entry.kind == "opened") != (row.number == 1):
            yield f"job {job}: a log begins with the entry 'opened', and has one only; see entry {row.number}"
