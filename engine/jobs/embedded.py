"""The embedded database as Python's own library sees it, and the quick way to one job in it.

SQLAlchemy is not imported here: that alone takes as long as half of what stands before the first question at the bench.
So a job is read without it, and it is imported when the first entry is kept.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from . import files
from .job import Job, log_of
from .migrations import MIGRATIONS

if TYPE_CHECKING:
    from .store import Store

ENVIRONMENT = "CHOPSTICK_JOBS"
STORE = "CHOPSTICK_STORE"
FILE = "jobs.sqlite"
WAIT_S = 5.0  # how long another program may hold the database before we say so
_LATEST = "SELECT job FROM entries ORDER BY place DESC LIMIT 1"


class _Row(NamedTuple):
    job: int
    number: int
    body: str
    hash: str


def default_folder(environment: Mapping[str, str]) -> Path:
    """The folder of the jobs: CHOPSTICK_JOBS where it is set, else the user's data folder."""
    if chosen := environment.get(ENVIRONMENT):
        return Path(chosen).expanduser()
    import platformdirs

    return Path(platformdirs.user_data_dir("chopstick", appauthor=False)) / "jobs"


def connect(path: Path) -> sqlite3.Connection:
    """Open a database file that is there already (only `Database.make` makes one, with the right permissions)."""
    connection = sqlite3.connect(f"{path.as_uri()}?mode=rw", uri=True, timeout=WAIT_S, isolation_level=None)
    for pragma in ("synchronous = EXTRA", "fullfsync = ON", "foreign_keys = ON", "trusted_schema = OFF"):
        connection.execute(f"PRAGMA {pragma}")
    return connection


def find(folder: Path, url: str = "", number: int | None = None) -> Job:
    """The job of that number; with none, the one written to last; as `Store.find` does. Raises JobError."""

    @cache
    def store() -> Store:
        from .store import open_store

        return open_store(folder, url)

    if url or (found := _rows(folder, number)) is None:
        return store().find(number)
    return Job(store, folder, found[0].job, log_of(found), found[-1].hash)


def _rows(folder: Path, number: int | None) -> list[_Row] | None:
    """The rows of a job; None when there is anything to it that the store should deal with."""
    try:
        with closing(connect((folder / FILE).absolute())) as connection:
            connection.execute("BEGIN")
            if connection.execute("SELECT max(version) FROM schema_version").fetchone() != (len(MIGRATIONS),):
                return None
            taken = {name for (name,) in connection.execute("SELECT name FROM taken_over")}
            if not taken.issuperset(files.job_files(folder)):
                return None
            wanted = (number,) if number is not None else connection.execute(_LATEST).fetchone()
            query = "SELECT job, number, body, hash FROM entries WHERE job = ? ORDER BY number"
            return [_Row(*row) for row in connection.execute(query, wanted or (0,))] or None
    except (sqlite3.Error, OSError, UnicodeDecodeError):
        return None
