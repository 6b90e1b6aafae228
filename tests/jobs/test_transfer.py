"""Jobs move between stores whole, in their order, and are never doubled; a backup can be relied on."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from pathlib import Path

import pytest
from chopstick.engine.jobs.store import embedded, transfer
from chopstick.engine.jobs.store.check import problems
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.store import Store, open_store
from chopstick.engine.jobs.store.transfer import TakenIn, backup, exported, incoming, lines, restore, take_in
from chopstick.engine.reasoning.log import Complaint, LogEntry, Note

from .conftest import AT, OpenStore, note, opened


def filled(store: Store) -> Store:
    store.create(opened("one"), Complaint(at=AT, says="it hums =1+1", symptom="hum"))
    store.create(opened("two"))
    store.find(1).append(note("Ω \x1b[31m \u202e"))
    return store


def logs(store: Store) -> dict[int, list[LogEntry]]:
    return {job.number: job.log for job in store.jobs()}


def test_what_is_exported_comes_in_the_same(store: Store, tmp_path: Path) -> None:
    written = list(exported(filled(store)))
    assert all(line.isascii() and line.isprintable() for line in written)  # nothing that steers a terminal
    other = open_store(tmp_path / "other")
    assert take_in(other, lines(written, "x")) == [TakenIn(1, 1, 3, True), TakenIn(2, 2, 1, True)]
    assert logs(other) == logs(store)
    assert problems(other) == []


def test_the_shape_of_a_line_is_as_documented(store: Store) -> None:
    """sha256 is of the line without it: here worked out by cutting it off and by hashlib alone."""
    (line,) = exported(filled(store), [2])
    before, sum_ = line.split(',"sha256":"')
    assert sum_ == hashlib.sha256(f"{before}}}".encode()).hexdigest() + '"}'
    assert json.loads(f"{before}}}") == {
        "shape": "chopstick job 1",
        "number": 2,
        "entries": [
            {"kind": "opened", "at": "2026-01-01T09:30:00Z", "title": "two", "fingerprint": "f" * 64, "amp": {}}
        ],
    }


def test_a_job_that_is_there_is_not_doubled_and_gets_what_it_has_less(store: Store, tmp_path: Path) -> None:
    before = list(exported(filled(store)))
    store.find(2).append(note("more"))
    after = list(exported(store))
    other = open_store(tmp_path / "other")
    take_in(other, lines(before, "x"))
    assert take_in(other, lines(after, "x")) == [TakenIn(1, 1, 0, False), TakenIn(2, 2, 1, False)]
    assert take_in(other, lines(before, "x")) == [TakenIn(1, 1, 0, False), TakenIn(2, 2, 0, False)]
    assert logs(other) == logs(store)
    assert problems(other) == []


def test_a_number_that_is_taken_is_not_given_twice(store: Store, tmp_path: Path) -> None:
    other = open_store(tmp_path / "other")
    other.create(opened("theirs"))
    assert take_in(other, lines(exported(filled(store)), "x")) == [TakenIn(1, 2, 3, True), TakenIn(2, 3, 1, True)]
    assert [job.log[0] for job in other.jobs()] == [opened("theirs"), opened("one"), opened("two")]


def test_jobs_that_went_apart_are_kept_as_two(store: Store, tmp_path: Path) -> None:
    """The same job was worked on in two stores: neither side is thrown away."""
    other = open_store(tmp_path / "other")
    take_in(other, lines(exported(filled(store)), "x"))
    other.find(2).append(note("here"))
    store.find(2).append(note("there"))
    assert take_in(other, lines(exported(store, [2]), "x")) == [TakenIn(2, 3, 2, True)]
    assert [job.log[-1] for job in other.jobs()][1:] == [note("here"), note("there")]


def test_two_jobs_that_look_alike_stay_two(store: Store, tmp_path: Path) -> None:
    for _ in range(2):
        store.create(opened("the same pair of heads"))
    other = open_store(tmp_path / "other")
    for added in (1, 0):  # and the second time nothing is new
        assert [one.added for one in take_in(other, lines(exported(store), "x"))] == [added, added]
    assert len(other.listed()) == 2


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("{}", "number"),
        ('{"number": 1, "entries": []}', "entries"),
        ('{"number": 1, "entries": [{"kind": "note", "at": "2026-01-01T00:00:00Z", "text": "x"}]}', "'opened'"),
        ('{"shape": "chopstick job 2", "number": 1, "entries": []}', "shape"),
        ("no json", "not a job"),
    ],
)
def test_a_line_that_is_no_job_is_named_and_nothing_is_taken_in(line: str, says: str, store: Store) -> None:
    good = '{"number": 7, "entries": [' + opened().model_dump_json() + "]}"
    with pytest.raises(JobError, match="x:2:") as told:
        take_in(store, lines([good, line], "x"))
    assert says in str(told.value)
    assert store.listed() == []


def test_a_folder_of_old_job_files_comes_in(store: Store, tmp_path: Path) -> None:
    old = tmp_path / "old"
    old.mkdir()
    (old / "0007.job").write_text(opened("old").model_dump_json() + "\n" + note("x").model_dump_json() + "\n")
    assert take_in(store, incoming(old)) == [TakenIn(7, 7, 2, True)]
    assert take_in(store, incoming(old)) == [TakenIn(7, 7, 0, False)]


def test_what_is_neither_says_so(tmp_path: Path) -> None:
    for content, says in ((b"\xff\xfe", "neither"), (b"SQLite format 3\0 and no more", "relied on")):
        (tmp_path / "x").write_bytes(content)
        with pytest.raises(JobError, match=says):
            incoming(tmp_path / "x")
    with pytest.raises(JobError, match="can't be read"):
        incoming(tmp_path / "nowhere")


# --- backup and restore ---


def test_a_backup_holds_everything_and_can_be_put_back(store: Store, open_again: OpenStore, tmp_path: Path) -> None:
    path = tmp_path / "stick" / "backup.sqlite"
    path.parent.mkdir()
    before = logs(filled(store))
    assert backup(store, path) == 2
    assert path.stat().st_mode & 0o777 == 0o600
    assert [one.name for one in path.parent.iterdir()] == ["backup.sqlite"]
    if store.database.file is None:
        with pytest.raises(JobError, match="Name an empty database"):
            restore(store, path)
    else:
        store.find(1).append(note("after the backup"))
        aside = restore(store, path)
        assert aside is not None
        assert logs(open_again()) == before
        # what was entered after the backup is not lost, and can be had back
        assert take_in(open_again(), incoming(aside)) == [TakenIn(1, 1, 1, False), TakenIn(2, 2, 0, False)]
    assert problems(open_again()) == []


def test_a_backup_goes_into_either_kind_of_store(store: Store, cluster: object, tmp_path: Path) -> None:
    """From one bench's file to the shop's server, and back."""
    from .conftest import Cluster

    assert isinstance(cluster, Cluster)
    filled(store).mark("learning", AT)
    backup(store, tmp_path / "one")
    server = open_store(tmp_path, cluster.new())
    assert restore(server, tmp_path / "one") is None
    assert logs(server) == logs(store)
    assert server.marked("learning") == AT
    assert problems(server) == []
    server.create(opened("three"))
    backup(server, tmp_path / "two")
    bench = open_store(tmp_path / "bench")
    assert restore(bench, tmp_path / "two") is None
    assert logs(bench) == logs(server)


def test_a_backup_never_overwrites(store: Store, tmp_path: Path) -> None:
    (tmp_path / "photos.zip").write_text("mine")
    with pytest.raises(JobError, match="is there already"):
        backup(filled(store), tmp_path / "photos.zip")
    assert (tmp_path / "photos.zip").read_text() == "mine"
    with pytest.raises(JobError, match="no job"):
        backup(open_store(tmp_path / "empty"), tmp_path / "backup")


def test_a_backup_that_is_spoilt_is_not_put_back(tmp_path: Path) -> None:
    store = filled(open_store(tmp_path / "jobs"))
    backup(store, tmp_path / "backup")
    content = (tmp_path / "backup").read_bytes()
    (tmp_path / "backup").write_bytes(content.replace(b"it hums =1+1", b"it hums =1+2"))
    with pytest.raises(JobError, match="entry 2 is not as it was written"):
        restore(store, tmp_path / "backup")
    (tmp_path / "backup").write_bytes(content[:5000])
    with pytest.raises(JobError, match="relied on"):
        restore(store, tmp_path / "backup")
    assert len(store.find(1).log) == 3
    assert sorted(path.name for path in store.folder.iterdir()) == ["jobs.sqlite"]


def test_a_damaged_store_is_put_aside_for_the_backup(tmp_path: Path) -> None:
    store = filled(open_store(tmp_path / "jobs"))
    before = logs(store)
    backup(store, tmp_path / "backup")
    Path(store.where).write_bytes(b"coffee" * 1000)
    with pytest.raises(JobError, match="is damaged") as damaged:
        open_store(tmp_path / "jobs").find(1)
    assert damaged.value.todo == ("check", "restore")
    aside = restore(open_store(tmp_path / "jobs"), tmp_path / "backup")
    assert aside is not None
    assert aside.read_bytes() == b"coffee" * 1000
    assert logs(open_store(tmp_path / "jobs")) == before


def test_a_store_that_is_in_use_is_not_exchanged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(embedded, "WAIT_S", 0.1)
    store = filled(open_store(tmp_path / "jobs"))
    backup(store, tmp_path / "backup")
    other = sqlite3.connect(store.where, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(JobError, match="another program holds"):
        restore(store, tmp_path / "backup")
    other.close()
    assert sorted(path.name for path in store.folder.iterdir()) == ["jobs.sqlite"]


def test_a_bench_that_had_the_job_open_does_not_write_into_the_restored_one_unseen(tmp_path: Path) -> None:
    store = filled(open_store(tmp_path / "jobs"))
    backup(store, tmp_path / "backup")
    job = store.find(1)
    job.append(Note(at=AT, text="after the backup"))
    restore(open_store(tmp_path / "jobs"), tmp_path / "backup")
    with pytest.raises(JobError, match="put back or exchanged"):
        job.append(note("on the old state"))
    assert len(open_store(tmp_path / "jobs").find(1).log) == 3


def test_nothing_of_a_copy_that_failed_stays(store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    filled(store)
    folder = tmp_path / "stick"
    folder.mkdir()
    monkeypatch.setattr(transfer.os, "replace", full)
    with pytest.raises(JobError, match="No space left"):
        backup(store, folder / "backup")
    assert list(folder.iterdir()) == []
