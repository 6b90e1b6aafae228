"""A folder that can't be written, a database that somebody holds, or one that was damaged: the message says what to do."""

from __future__ import annotations

import os
import random
import sqlite3
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from chopstick.engine.jobs.store import embedded
from chopstick.engine.jobs.store.check import problems
from chopstick.engine.jobs.store.errors import JobError, Locked
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.reasoning.log import LogEntry
from sqlalchemy import text

from ..amount import amount
from .conftest import Cluster, note, opened

NOBODY = 65534


def as_nobody(do: Callable[[], object]) -> str:
    """What an ordinary user who does not own the files is told; root is stopped by no permissions."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setegid(NOBODY)
                os.seteuid(NOBODY)
            try:
                said = repr(do())
            except JobError as error:
                said = f"told: {error} {error.todo}"
            os.write(writing, said.encode())
        finally:
            os._exit(0)
    os.close(writing)
    os.waitpid(child, 0)
    with open(reading, encoding="utf-8") as told:
        return told.read()


@pytest.fixture
def read_only() -> Iterator[Path]:
    """A folder with one job that may be read and not be written."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        store = open_store(folder)
        store.create(opened("Small combo"))
        Path(store.where).chmod(0o444)
        folder.chmod(0o555)
        yield folder
        folder.chmod(0o755)


def test_a_read_only_folder_can_be_read_and_says_so_when_written(read_only: Path) -> None:
    store = open_store(read_only)
    assert "Small combo" in as_nobody(lambda: store.find(1).log[0])
    assert as_nobody(lambda: problems(store)) == "[]"
    for entered in (lambda: store.find(1).append(note("x")), lambda: store.create(opened())):
        said = as_nobody(entered)
        assert said.startswith("told: ")
        assert "can't be read or written here" in said
        assert "not kept" in said
        assert "other folder" in said
    assert len(store.find(1).log) == 1


def test_a_folder_that_can_not_be_made_says_so(read_only: Path) -> None:
    said = as_nobody(lambda: open_store(read_only / "jobs").create(opened()))
    assert "can't be written here" in said
    assert "other folder" in said


# --- held by another program ---


def test_a_database_that_is_held_is_waited_for_a_little(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    job = store.create(opened())
    other = sqlite3.connect(store.where, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN EXCLUSIVE")
    let_go = threading.Event()

    def end() -> None:
        let_go.set()
        other.execute("COMMIT")

    threading.Timer(0.5, end).start()
    job.append(note("kept"))
    assert let_go.is_set(), "it did not wait"
    other.close()


def test_then_we_say_who_is_in_the_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(embedded, "WAIT_S", 0.2)
    store = open_store(tmp_path)
    job = store.create(opened())
    other = sqlite3.connect(store.where, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(Locked, match=r"another program holds .*jobs\.sqlite .* not kept"):
        job.append(note("lost"))
    other.execute("COMMIT")
    other.close()
    job.append(note("kept"))
    assert open_store(tmp_path).find(1).log == [opened(), note("kept")]


def test_a_server_s_table_that_is_held_too(cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(embedded, "WAIT_S", 0.2)
    store = open_store(tmp_path, cluster.new())
    job = store.create(opened())
    other = open_store(tmp_path, store.database.engine.url.render_as_string(False))
    with other.database.writing() as connection:
        connection.execute(text("LOCK TABLE jobs IN ACCESS EXCLUSIVE MODE"))
        with pytest.raises(Locked, match="did not let go"):
            job.append(note("lost"))
    job.append(note("kept"))
    assert open_store(tmp_path, other.database.engine.url.render_as_string(False)).find(1).log == job.log


def test_a_server_s_user_who_may_only_read_is_told(cluster: Cluster, tmp_path: Path) -> None:
    url = cluster.new()
    job = open_store(tmp_path, url).create(opened())
    reader = open_store(tmp_path, f"{url}&options=-c%20default_transaction_read_only%3Don")
    assert reader.find(1).log == job.log
    with pytest.raises(JobError, match="can't be written to by this user"):
        reader.find(1).append(note("x"))


# --- damaged ---


@pytest.mark.long
@pytest.mark.parametrize("round_", range(amount(1, 20)))
def test_bytes_overwritten_at_random_are_never_taken_for_what_was_written(round_: int, tmp_path: Path) -> None:
    """Damage either does not touch what was entered, or it is told, by the reading or by the check."""
    store = open_store(tmp_path / "jobs")
    for number in range(8):
        store.create(opened(str(number)), *(note(f"{number} {n} " + "x" * 60 * n) for n in range(6)))
    before: dict[int, list[LogEntry]] = {job.number: job.log for job in store.jobs()}
    sound = Path(store.where).read_bytes()
    choose = random.Random(round_)
    told = 0
    for _ in range(80):
        spoilt = bytearray(sound)
        start = choose.randrange(len(sound))
        for place in range(start, min(start + choose.choice([1, 4, 64, 4096]), len(sound))):
            spoilt[place] = choose.randrange(256)
        Path(store.where).write_bytes(spoilt)
        again = open_store(tmp_path / "jobs")
        wrong = problems(again)
        try:
            found = {job.number: job.log for job in again.jobs()}
        except JobError as error:
            assert "check" in error.todo, error
            found = {}
        if found != before:
            assert wrong
            told += 1
        for number, log in found.items():
            assert log == before[number][: len(log)]  # no word of it is another than was entered
    assert told > 20


def test_what_is_no_database_is_told_with_the_way_out(tmp_path: Path) -> None:
    (tmp_path / embedded.FILE).write_text("something else entirely " * 100)
    with pytest.raises(JobError, match="is damaged") as damaged:
        open_store(tmp_path).find(1)
    assert damaged.value.todo == ("check", "restore")
    assert problems(open_store(tmp_path))
