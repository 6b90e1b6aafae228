"""A database of an older version is brought forward when it is opened.

All migrations that are wanted run in one transaction: they hold together, or nothing has changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from sqlalchemy import Connection, insert, select

from .database import Database
from .errors import Barred, JobError
from .migrations import MIGRATIONS, Statements
from .schema import schema_version
from .times import sortable


def migrate(database: Database, migrations: Sequence[Statements] = MIGRATIONS) -> None:
    """Bring a database to the latest version. Raises JobError, and Barred when a later chopstick
    has written it."""
    with database.reading() as connection:
        version = version_of(connection)
    if version > len(migrations):
        raise Barred(
            f"{database.where} was written by a later chopstick (version {version} of the database; this one knows "
            f"{len(migrations)}). Update chopstick on this bench; nothing was changed."
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
    """The version of the database; 0 when nothing is there yet. Raises JobError when it makes no sense."""
    if not connection.dialect.has_table(connection, schema_version.name):
        return 0
    found = list(connection.execute(select(schema_version.c.version).order_by(schema_version.c.version)).scalars())
    if found != list(range(1, len(found) + 1)):  # each step was written down, so a lone high number is damage
        raise JobError("the database is damaged: it does not say which version it is of.", "check", "restore")
    return len(found)
