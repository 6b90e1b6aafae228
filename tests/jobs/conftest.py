"""Stores to try things on: the embedded database, and a PostgreSQL of the tests' own; the same tests run on both."""

from __future__ import annotations

import getpass
import itertools
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from chopstick.engine.jobs.store.store import Store, open_store
from chopstick.engine.reasoning.log import Note, Opened

from .bench import plain, priced, shop

__all__ = ["plain", "priced", "shop"]  # fixtures that this folder's tests find here
AT = datetime(2026, 1, 1, 9, 30, tzinfo=UTC)
MISSING = "PostgreSQL's server is missing, and these tests need it. On Debian: apt-get install -y postgresql"
OpenStore = Callable[[], Store]


def opened(title: str = "Small combo") -> Opened:
    return Opened(at=AT, title=title, fingerprint="f" * 64)


def note(text: str) -> Note:
    return Note(at=AT, text=text)


class Cluster:
    """A PostgreSQL server of the tests' own, on a socket in a folder of its own; no network, nothing of the system's."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.data, self._numbers = folder, folder / "data", itertools.count(1)
        found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parts[-2]))
        on_path = shutil.which("initdb")
        assert found or on_path, MISSING
        self.bin = Path(str(on_path)).parent if on_path else found[-1]
        if os.geteuid() == 0:  # the server refuses to run as root
            shutil.chown(folder, "postgres", "postgres")
            self.user: str | None = "postgres"
        else:
            self.user = None
        self._run("initdb", "-D", self.data, "-U", "chopstick", "-A", "trust", "-E", "UTF8", "--no-sync")

    def _run(self, program: str, *words: object) -> None:
        subprocess.run(
            [str(self.bin / program), *map(str, words)], check=True, user=self.user, group=self.user, cwd=self.folder,
            stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL, timeout=300,
        )  # fmt: skip

    def start(self) -> None:
        options = f"-c listen_addresses='' -c unix_socket_directories='{self.folder}' -c fsync=off -c max_connections=40"
        self._run("pg_ctl", "start", "-w", "-D", self.data, "-l", self.folder / "log", "-o", options)

    def stop(self, how: str = "fast") -> None:
        self._run("pg_ctl", "stop", "-w", "-D", self.data, "-m", how)

    def url(self, database: str) -> str:
        return f"postgresql://chopstick@/{database}?host={self.folder}"

    def new(self) -> str:
        """The URL of a new, empty database."""
        import psycopg

        name = f"jobs{next(self._numbers)}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}".encode())
        return self.url(name)


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    folder = Path(tempfile.mkdtemp(prefix=f"chopstick-{getpass.getuser()}-"))
    server = Cluster(folder)
    server.start()
    yield server
    server.stop("immediate")
    shutil.rmtree(folder)


@pytest.fixture(params=["sqlite", "postgresql"])
def open_again(request: pytest.FixtureRequest, tmp_path: Path) -> OpenStore:
    """Opens the same store again and again, as another bench or another command would."""
    url = request.getfixturevalue("cluster").new() if request.param == "postgresql" else ""
    return lambda: open_store(tmp_path / "jobs", url)


@pytest.fixture
def store(open_again: OpenStore) -> Store:
    return open_again()
