"""The quick way to the jobs of a folder.

SQLAlchemy is not imported here: that alone takes as long as half of what stands before the first question at the bench.
So a job is read without it, and it is imported when the first entry is kept.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from ...late import late
from ...reasoning.log import LogEntry
from . import old_files
from .embedded import FILE, connect
from .job import Job, log_of, standing_of
from .made import MADE, strange
from .migrations import MIGRATIONS
from .times import told

if TYPE_CHECKING:
    from .store import Store

with late():
    from . import store as store_store

_ROWS = "SELECT job, number, body, hash FROM entries"
_LATEST = "SELECT job FROM entries ORDER BY place DESC LIMIT 1"


class _Row(NamedTuple):
    job: int
    number: int
    body: str
    hash: str


class Nearby:
    """The jobs of a folder or a server, read without SQLAlchemy where that will do; else the store is asked.

    It will do for an intact database of the latest version in the folder, with no old job files waiting.
    """

    def __init__(self, folder: Path, url: str = "") -> None:
        self.folder, self.url = folder, url

    @cached_property
    def store(self) -> Store:
        return store_store.open_store(self.folder, self.url)

    def find(self, number: int | None = None) -> Job:
        """As `Store.find`."""
        wanted = _LATEST if number is None else "SELECT ?"
        found = self._rows(f"{_ROWS} WHERE job = ({wanted}) ORDER BY number", () if number is None else (number,))
        if not found:
            return self.store.find(number)
        rows = [_Row(*row) for row in found]
        return Job(lambda: self.store, self, self.folder, rows[0].job, log_of(rows), rows[-1].hash)

    def closed(self, kinds: Sequence[str]) -> Iterator[tuple[int, list[LogEntry]]]:
        """As `Store.closed`."""
        places = ", ".join("?" for _ in kinds)
        ever = "SELECT job FROM entries WHERE kind = 'closed'"
        query = f"{_ROWS} WHERE kind IN ({places}) AND job IN ({ever}) ORDER BY job, number"
        found = self._rows(query, kinds)
        yield from self.store.closed(kinds) if found is None else standing_of(_Row(*row) for row in found)

    def marked(self, name: str) -> datetime | None:
        """As `Store.marked`."""
        found = self._rows("SELECT at FROM shop_marks WHERE name = ? ORDER BY place DESC LIMIT 1", (name,))
        try:
            return self.store.marked(name) if found is None else told(found[0][0]) if found else None
        except ValueError:
            return self.store.marked(name)  # which says what is wrong

    def _rows(self, query: str, values: Sequence[object]) -> list[tuple[Any, ...]] | None:
        """What a query finds; None when there is anything to it that the store should deal with."""
        if self.url:
            return None
        try:
            with closing(connect((self.folder / FILE).absolute())) as connection:
                connection.execute("BEGIN")
                if connection.execute("SELECT max(version) FROM schema_version").fetchone() != (len(MIGRATIONS),):
                    return None
                if strange(connection.execute(MADE)):
                    return None
                taken = {name for (name,) in connection.execute("SELECT name FROM taken_over")}
                if not taken.issuperset(old_files.job_files(self.folder)):
                    return None
                return connection.execute(query, tuple(values)).fetchall()
        except (sqlite3.Error, OSError, UnicodeDecodeError, OverflowError, TypeError):
            return None
