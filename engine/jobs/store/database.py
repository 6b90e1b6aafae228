"""The databases jobs are kept in: an embedded one in a file of the jobs' folder, or PostgreSQL by its URL.

The embedded one (SQLite) keeps its rollback journal (DELETE, not WAL) with synchronous=EXTRA: an entry counts as kept
when its pages, the journal's end and the folder itself are forced to the disk, so a power loss at any moment leaves the
state before or after it (with FULL, the tests of power losses find confirmed entries lost). WAL would be as safe
against a kill, but leaves entries in a second file that a copy of the database misses, needs shared memory (no network
folders), and can't be read in a read-only folder.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from sqlalchemy import URL, Connection, Engine, create_engine, event, func, make_url, select
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from ...folders import make_private
from . import embedded
from .errors import JobError, Locked, Todo

LOCKED = ("SQLITE_BUSY", "SQLITE_LOCKED", "55P03", "57014", "40P01")  # how the two say so
_OUR_LOCK = 0x63686F70  # a number of our own
_WRITES = "chopstick_writes"
_NOT_KEPT = "What was being entered was not kept; everything before it is."
_DAMAGED = "Where a backup is put back, the damaged file is put aside, not thrown away."


@dataclass(frozen=True)
class Database:
    """A place for jobs. where: its name for people, without a password; folder: where the jobs' own layers of knowledge
    lie; file: of the embedded database, None for a server's."""

    engine: Engine
    where: str
    folder: Path
    file: Path | None = None

    @property
    def exists(self) -> bool:
        return self.file is None or self.file.exists()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one state of the database. Raises JobError."""
        options = {} if self.file else {"isolation_level": "REPEATABLE READ"}
        with self._told(), self.engine.connect().execution_options(**options) as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: kept whole, and on the disk, when the block ends; else nothing of it. Raises JobError."""
        with self._told(), self.engine.connect().execution_options(**{_WRITES: True}) as connection, connection.begin():
            yield connection

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            name = str(getattr(error.orig, "sqlite_errorname", getattr(error.orig, "sqlstate", "")))
            kind = Locked if name.startswith(LOCKED) else JobError
            message, *todo = self._server(error) if self.file is None else self._embedded(error, self.file)
            raise kind(message, *cast(list[Todo], todo)) from error
        except UnicodeDecodeError as error:  # sqlite3 says so of a damaged name or text, even in its own messages
            raise JobError(f"{self.where} is damaged ({error}). {_DAMAGED}", "check", "restore") from error
        except SQLAlchemyError as error:
            raise JobError(f"{self.where}: {error}") from error

    def alone(self, connection: Connection) -> None:
        """Until the transaction ends, no other bench numbers a job or brings the database forward."""
        if self.file is None:  # the embedded one is locked as a whole already
            connection.execute(select(func.pg_advisory_xact_lock(_OUR_LOCK)))

    def _embedded(self, error: DBAPIError, file: Path) -> tuple[str, ...]:
        """What went wrong with a file, and what can be done about it."""
        name = str(getattr(error.orig, "sqlite_errorname", ""))
        if name.startswith("SQLITE_FULL"):
            return f"the disk that holds {file} is full. {_NOT_KEPT} Make room, or keep them elsewhere.", "other folder"
        if name.startswith(LOCKED):
            return (
                f"another program holds {file} and did not let go within {embedded.WAIT_S:g} seconds. {_NOT_KEPT} "
                "End the other program, or wait until it is done, and enter it again.",
            )
        if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")):
            return f"{file} can't be read or written here ({error.orig}). {_NOT_KEPT}", "other folder"
        if name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
            return f"{file} is damaged ({error.orig}). {_DAMAGED}", "check", "restore"
        if name.startswith("SQLITE_IOERR"):
            return (
                f"the disk that holds {file} gives errors ({error.orig}). What was being entered may not be kept: open "
                "the job again and look. Make a backup now, on another disk.",
                "back up",
                "other folder",
            )
        return f"{file}: {error.orig}. {_NOT_KEPT}", "check"

    def _server(self, error: DBAPIError) -> tuple[str, ...]:
        """What went wrong with a server, and what can be done about it."""
        state = getattr(error.orig, "sqlstate", None) or ""
        said = " ".join(str(error.orig).split())
        if state == "53100":
            return (f"the disk of {self.where} is full. {_NOT_KEPT} Make room on the server.",)
        if state in LOCKED:
            return (
                f"another program holds {self.where} and did not let go. {_NOT_KEPT} Enter it again after a while.",
            )
        if state in ("25006", "42501"):
            return (f"{self.where} can't be written to by this user ({said}). {_NOT_KEPT}",)
        if state in ("XX001", "XX002"):
            return f"{self.where} is damaged ({said}). Restore a backup into a new database.", "restore"
        if error.connection_invalidated or not state or state.startswith(("08", "57P", "28", "3D")):
            return (
                f"{self.where} can't be reached ({said}). What was being entered may not be kept: open the job again "
                "when the server is back, and look.",
                "other store",
            )
        return (f"{self.where}: {said}. {_NOT_KEPT}",)

    def make(self) -> None:
        """Make the folder and the empty file, private to the user, when they are not there. Raises JobError."""
        if self.file is None or self.file.exists():
            return
        try:
            if not self.folder.is_dir():
                make_private(self.folder)
                force_folder(self.folder.parent)
            with suppress(FileExistsError):
                os.close(os.open(self.file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        except OSError as error:
            if error.errno in (17, 20):  # EEXIST, ENOTDIR
                reason = "can't be the folder of the jobs: a file stands in the way"
                raise JobError(f"{self.folder} {reason}.", "other folder") from error
            raise JobError(f"{self.folder} can't be written here ({error.strerror}).", "other folder") from error


def of_file(folder: Path, file: Path | None = None) -> Database:
    """The embedded database of a folder; it need not be there yet. file: another one than the folder's own."""
    path = (file or folder / embedded.FILE).absolute()
    engine = create_engine("sqlite://", creator=lambda: embedded.connect(path), poolclass=NullPool)
    event.listen(engine, "begin", _begin)
    return Database(engine, str(path), folder, path)


def _begin(connection: Connection) -> None:
    """A transaction that writes takes the lock at once, so that what it reads can't change under it."""
    writes = connection.get_execution_options().get(_WRITES)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def of_server(url: str, folder: Path) -> Database:
    """A PostgreSQL database by its URL. Raises JobError for a URL that is none, or when the driver is missing."""
    try:
        parsed = make_url(url)
    except (ArgumentError, ValueError):
        parsed = URL.create("none")
    if parsed.get_backend_name() not in ("postgresql", "postgres"):
        raise JobError(
            "the store's URL must read postgresql://USER@HOST/DATABASE; without one, jobs are kept in a folder.",
            "other store",
            "other folder",
        )
    settings: dict[str, Any] = {"connect_timeout": max(2, round(embedded.WAIT_S)), "application_name": "chopstick"}
    settings["options"] = f"-c lock_timeout={round(embedded.WAIT_S * 1000)}ms -c synchronous_commit=on"
    settings |= {key: value for key, value in parsed.query.items() if key in settings}
    try:
        engine = create_engine(
            parsed.set(drivername="postgresql+psycopg"), connect_args=settings, pool_size=1, pool_pre_ping=True
        )
    except ModuleNotFoundError:
        raise JobError(
            "a PostgreSQL store needs its driver; install it with: pip install 'chopstick[postgresql]'"
        ) from None
    host = parsed.host or str(parsed.query.get("host", "local")).strip("/").replace("/", "-")
    where = parsed.set(query={}).render_as_string(hide_password=True)
    return Database(engine, where, folder / f"{host}-{parsed.database}")


def force_folder(folder: Path) -> None:
    """Force a folder's new names to the disk, where the system lets a folder be opened."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
