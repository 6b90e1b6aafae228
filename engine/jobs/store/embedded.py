"""The embedded database as Python's own library sees it: where its file lies, and how it is opened."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from pathlib import Path

from ...folders import named
from ...late import late

with late():
    import platformdirs

ENVIRONMENT = "CHOPSTICK_JOBS"
STORE = "CHOPSTICK_STORE"
FILE = "jobs.sqlite"
WAIT_S = 5.0  # how long another program may hold the database before we say so


def default_folder(environment: Mapping[str, str]) -> Path:
    """The folder of the jobs: CHOPSTICK_JOBS where it is set, else the user's data folder."""
    if chosen := environment.get(ENVIRONMENT):
        return named(chosen)

    return Path(platformdirs.user_data_dir("chopstick", appauthor=False)) / "jobs"


def connect(path: Path) -> sqlite3.Connection:
    """Open a database file that is there already (only `Database.make` makes one, with the right permissions)."""
    connection = sqlite3.connect(f"{path.as_uri()}?mode=rw", uri=True, timeout=WAIT_S, isolation_level=None)
    for pragma in ("synchronous = EXTRA", "fullfsync = ON", "foreign_keys = ON", "trusted_schema = OFF"):
        connection.execute(f"PRAGMA {pragma}")
    return connection
