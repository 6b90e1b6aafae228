"""A database of an older version is brought forward when it is opened.

All migrations that are wanted run in one transaction: they hold together, or nothing has changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from sqlalchemy import Connection, func, insert, select

from .database import Database
from .errors import JobError
from .migrations import MIGRATIONS, Statements
from .schema import schema_version, sortable


def migrate(database: Database, migrations: Sequence[Statements] = MIGRATIONS) -> None:
    """Bring a database to the latest version. Raises JobError, also when a later chopstick has written it."""
    with database.reading() as connection:
        version = version_of(connection)
    if version > len(migrations):
        raise JobError(
            f"{database.where} was written by a later chopstick (version {version} of the database; this one knows "
            f"{len(migrations)}). Update chopstick on this bench; nothing was changed. If no bench runs a later one, "
            "the database may be damaged.",
            "check",
        )
    if version == len(migrations):
        return
    with database.writing() as connection:
        database.alone(connection)
        for number in range(version_of(connection), len(migrations)):
            for statement in migrations[number][connection.dialect.name]:
                connection.exec_driver_sql(statement)
            connection.execute(insert(schema_version).values(version=number + 1, at=sortable(datetime.now(UTC))))


def version_of(connection: Connection) -> int:
    """The version of the database; 0 when nothing is there yet."""
    if not connection.dialect.has_table(connection, schema_version.name):
        return 0
    return connection.execute(select(func.max(schema_version.c.version))).scalar() or 0
