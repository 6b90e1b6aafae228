"""A database of an older version is brought forward when it is opened; one of a later version is left alone."""

from __future__ import annotations

import pytest
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.migrate import migrate, version_of
from chopstick.engine.jobs.store.migrations import MIGRATIONS, Statements
from chopstick.engine.jobs.store.schema import metadata
from chopstick.engine.jobs.store.store import Store
from sqlalchemy import inspect

from .conftest import OpenStore, note, opened

SECOND: Statements = dict.fromkeys(
    ("sqlite", "postgresql"), ("CREATE TABLE shelves (job INTEGER NOT NULL REFERENCES jobs (number), shelf TEXT)",)
)
BROKEN: Statements = dict.fromkeys(("sqlite", "postgresql"), (*SECOND["sqlite"], "CREATE TABLE entries (x TEXT)"))


def version(store: Store) -> int:
    with store.database.reading() as connection:
        return version_of(connection)


def test_the_tables_are_as_queries_see_them(store: Store) -> None:
    store.there(making=True)
    with store.database.reading() as connection:
        look = inspect(connection)
        there = {table: {column["name"] for column in look.get_columns(table)} for table in look.get_table_names()}
    there.pop("sqlite_sequence", None)
    assert there == {table.name: set(table.columns.keys()) for table in metadata.sorted_tables}


def test_an_older_database_is_brought_forward_and_keeps_its_jobs(store: Store) -> None:
    job = store.create(opened(), note("from before"))
    migrate(store.database, (*MIGRATIONS, SECOND))
    migrate(store.database, (*MIGRATIONS, SECOND))  # once only
    assert version(store) == len(MIGRATIONS) + 1
    assert store.find(1).log == job.log


def test_a_migration_that_fails_changes_nothing(store: Store) -> None:
    job = store.create(opened())
    with pytest.raises(JobError, match="entries"):
        migrate(store.database, (*MIGRATIONS, BROKEN))
    assert version(store) == len(MIGRATIONS)
    migrate(store.database, (*MIGRATIONS, SECOND))  # nothing of the broken one stands in the way
    assert store.find(1).log == job.log


def test_a_database_of_a_later_chopstick_is_not_touched(store: Store, open_again: OpenStore) -> None:
    store.create(opened())
    migrate(store.database, (*MIGRATIONS, SECOND))
    with pytest.raises(JobError, match="Update chopstick on this bench"):
        open_again().find(1)
