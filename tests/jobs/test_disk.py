"""Whatever the disk does, at most the entry being typed is lost, nothing is half kept, and the message says what to do.

The disk that fails is in disk.c and disk.py. Kill points are of two kinds: at every single call that changes a file (a
write being cut at any byte), and by SIGKILL at random times.
"""

from __future__ import annotations

import errno
import os
import random
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.store import Store, open_store
from chopstick.engine.reasoning.log import Note

from ..amount import amount
from . import disk
from .conftest import Cluster, OpenStore, note, opened
from .disk import FAIL, KILL, MAKE, READ, RECORD, WRITE, Disk, Outcome, Plan

CHUNKS = amount(2, 8)
KILLS, POWER_LOSSES = amount(20, 150), amount(25, 125)  # a chunk


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return disk.build(tmp_path_factory.mktemp("disk"))


@pytest.fixture
def faulty(library: Path, tmp_path: Path) -> Iterator[Disk]:
    process = Disk(library, tmp_path)
    yield process
    process.end()


def assert_nothing_lost(ended: Outcome, of: object) -> None:
    """Everything that was confirmed is there, at most the entry being typed besides; it is sound, and goes on."""
    assert ended.confirmed <= ended.kept <= ended.confirmed + 1, (of, ended)
    assert ended.in_order, (of, ended)
    assert ended.problems == (), (of, ended)
    assert ended.goes_on, (of, ended)


def test_a_disk_without_faults_keeps_everything(faulty: Disk) -> None:
    """So that the other tests strike what they mean to: a note takes about twenty calls."""
    ended = faulty.run(Plan(mode=FAIL, at=disk.FOREVER, notes=4, new=True))
    assert (ended.confirmed, ended.kept, ended.told, ended.problems) == (4, 4, "", ())
    assert ended.calls > 100


@pytest.mark.long
@pytest.mark.parametrize(("share", "first"), [(0, 1), (700, 2), (1000, 3)])
def test_killed_at_every_call_that_changes_a_file(share: int, first: int, faulty: Disk) -> None:
    """From the empty folder to the second note: 0 and 1000 are before and after the call, 700 within a write. Each call
    is struck in one of these ways, in the long run in all."""
    at, step = amount(first, 1), amount(3, 1)
    while (ended := faulty.run(Plan(KILL, at, share, notes=2, new=True))).calls == 0:
        assert_nothing_lost(ended, (at, share))
        at += step
    assert at > 80
    assert ended.confirmed == 2


@pytest.mark.long
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_killed_at_random_calls_and_bytes(chunk: int, faulty: Disk) -> None:
    choose = random.Random(chunk)
    calls = faulty.run(Plan(mode=FAIL, at=disk.FOREVER, notes=6)).calls
    struck = 0
    for _ in range(KILLS):
        plan = Plan(KILL, choose.randint(1, calls), choose.randint(0, 1000), notes=6)
        ended = faulty.run(plan)
        assert_nothing_lost(ended, plan)
        struck += ended.calls == 0
    assert struck == KILLS


@pytest.mark.long
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_power_lost_at_random_with_writes_torn_and_in_any_order(chunk: int, faulty: Disk, tmp_path: Path) -> None:
    """What was not yet forced to the disk may be there in part, in any order, or not at all."""
    record = tmp_path / "record"
    assert faulty.run(Plan(RECORD, notes=5, new=True, record=str(record))).confirmed == 5
    made = disk.calls(record)
    choose = random.Random(chunk)
    first = next(number for number, call in enumerate(made) if call.kind == MAKE)
    seen = set()
    for until in sorted(choose.randint(first + 1, len(made)) for _ in range(POWER_LOSSES)):
        disk.after_power_loss(made, until, choose, tmp_path / "after")
        confirmed = sum(call.kind == 0 for call in made[:until]) - 1
        ended = disk.found(tmp_path / "after", confirmed)
        assert_nothing_lost(ended, until)
        seen.add(ended.kept)
    assert seen >= {0, 1, 2, 3, 4}


@pytest.mark.long
@pytest.mark.parametrize(
    ("error", "kinds", "says"),
    [
        (errno.ENOSPC, WRITE, "is full"),
        (errno.EIO, WRITE, "gives errors"),
        (errno.EIO, disk.FORCE, "gives errors"),
        (errno.EIO, disk.REMOVE, "gives errors"),
        (errno.EACCES, MAKE, "can't be read or written here"),
        (errno.EROFS, MAKE, "can't be read or written here"),
        (errno.EIO, READ, "gives errors"),
    ],
)
@pytest.mark.parametrize("forever", [True, False], ids=["from then on", "once"])
def test_an_error_of_the_disk_is_told_and_costs_one_entry_at_most(
    error: int, kinds: int, says: str, forever: bool, faulty: Disk
) -> None:
    """At each call in turn, the first of them in every run; a write is cut short first, as a disk that fills up does it."""
    told = set()
    for at in range(1, amount(14, 200)):
        share = (0, 400)[at % 2] if kinds == WRITE else 0
        plan = Plan(FAIL, at, share, error, disk.FOREVER if forever else at, notes=2, kinds=kinds)
        ended = faulty.run(plan)
        assert_nothing_lost(ended, plan)
        if ended.calls < at:
            break
        told.add(ended.told)
        if "not kept" in ended.told:
            assert ended.kept == ended.confirmed, (plan, ended)
    assert at > 2
    assert any(says in one for one in told), told
    assert all(not one or "other folder" in one or "check" in one for one in told), told


def test_a_file_that_may_not_grow_is_told(tmp_path: Path) -> None:
    """A quota, or a file system's largest file: the system's own error, not ours."""
    import resource

    store = open_store(tmp_path)
    job = store.create(opened())
    size = Path(store.where).stat().st_size
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size + 8192, limits[1]))
    try:
        with pytest.raises(JobError, match=r"gives errors|is full"):
            job.append(note("x" * 100_000))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert len(open_store(tmp_path).find(1).log) == 1
    job.append(note("kept"))
    assert len(open_store(tmp_path).find(1).log) == 2


# --- killed from outside, at any time; on either database ---


@pytest.mark.long
@pytest.mark.parametrize("round_", range(amount(1, 8)))
def test_sigkill_at_random_times(round_: int, open_again: OpenStore) -> None:
    store = open_again()
    store.create(opened())
    choose = random.Random(round_)
    kept = 0
    for _ in range(40):
        confirmed = killed_after(store, kept, choose.randint(0, 3), choose.uniform(0.0, 0.02))
        log = open_again().find(1).log[1:]
        assert confirmed <= len(log) <= confirmed + 1
        assert [entry.text for entry in log if isinstance(entry, Note)] == [str(number) for number in range(len(log))]
        kept = len(log)
    assert kept > 20


def killed_after(store: Store, start: int, notes: int, seconds: float) -> int:
    """A bench in a process of its own that enters notes, and is killed so long after so many of them were confirmed;
    how many notes are confirmed in all."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reading)
            if store.database.file is None:  # a connection can't be shared with the process it came from
                store.database.engine.dispose(close=False)
            job = store.find(1)
            for number in range(start, 10_000):
                job.append(note(str(number)))
                os.write(writing, b".")
        finally:
            os._exit(1)
    os.close(writing)
    with open(reading, "rb", buffering=0) as told:
        confirmed = sum(len(told.read(1)) for _ in range(notes))
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return start + confirmed + len(told.readall())


def test_a_server_that_is_killed_keeps_what_it_confirmed(cluster: Cluster, tmp_path: Path) -> None:
    store = open_store(tmp_path, cluster.new())
    job = store.create(opened())
    for number in range(20):
        job.append(note(str(number)))
    cluster.stop("immediate")  # as a crash: nothing is tidied up
    try:
        with pytest.raises(JobError, match="can't be reached"):
            job.append(note("lost"))
    finally:
        cluster.start()
    assert len(store.find(1).log) == 21
    job.append(note("and on"))
    assert len(open_store(tmp_path, store.database.engine.url.render_as_string(False)).find(1).log) == 22
