"""A job file keeps every entry that was finished, whatever happens after it."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from chopstick.engine.jobs import files
from chopstick.engine.jobs.files import JobError, JobFile, create, default_folder, find, listed
from chopstick.engine.reasoning.log import Note, Opened
from hypothesis import given, settings
from hypothesis import strategies as st

AT = datetime(2026, 1, 1, tzinfo=UTC)


def opened(title: str = "Small combo") -> Opened:
    return Opened(at=AT, title=title, fingerprint="f" * 64)


def test_jobs_are_numbered_from_one(tmp_path: Path) -> None:
    assert [create(tmp_path, opened()).number for _ in range(3)] == [1, 2, 3]


def test_what_is_appended_is_read_back(tmp_path: Path) -> None:
    job = create(tmp_path, opened())
    job.append(Note(at=AT, text="smells of hot resin"), Note(at=AT, text="Ω, µ and \n a line end"))
    assert find(tmp_path, 1).log == job.log
    assert len(job.path.read_bytes().splitlines()) == 3


def test_folder_and_file_are_private(tmp_path: Path) -> None:
    job = create(tmp_path / "jobs", opened())
    assert stat.S_IMODE(job.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(job.path.parent.stat().st_mode) == 0o700


def test_the_folder_can_be_chosen_by_the_environment(tmp_path: Path) -> None:
    assert default_folder({files.ENVIRONMENT: str(tmp_path)}) == tmp_path
    assert default_folder({}).name == "jobs"


@given(cut=st.integers(min_value=0))
@settings(max_examples=60, deadline=None)
def test_a_file_cut_anywhere_loses_only_the_last_entry(cut: int, tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("jobs")
    job = create(folder, opened())
    job.append(*(Note(at=AT, text=f"note {number}") for number in range(5)))
    whole = job.path.read_bytes()
    first = whole.index(b"\n") + 1
    cut = first + cut % (len(whole) - first)
    job.path.write_bytes(whole[:cut])
    again = JobFile(job.path)
    kept = whole[:cut].count(b"\n")
    assert len(again.log) in (kept, kept + 1)  # one more when only the line end is missing
    assert again.log == job.log[: len(again.log)]
    again.append(Note(at=AT, text="after the kill"))
    assert JobFile(job.path).log == [*job.log[: len(again.log) - 1], Note(at=AT, text="after the kill")]


def test_a_torn_line_is_put_aside_not_thrown_away(tmp_path: Path) -> None:
    job = create(tmp_path, opened())
    with job.path.open("ab") as file:
        file.write(b'{"at":"2026-01-01T00:00:00Z","kind":"no')
    torn = JobFile(job.path)
    assert torn.torn.startswith(b'{"at"')
    assert torn.log == job.log
    torn.append(Note(at=AT, text="on"))
    assert job.path.with_suffix(".torn").read_bytes().startswith(b'{"at"')
    assert JobFile(job.path).torn == b""


def test_a_killed_process_loses_at_most_the_entry_being_written(tmp_path: Path) -> None:
    writer = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC\n"
        "from chopstick.engine.jobs.files import create\n"
        "from chopstick.engine.reasoning.log import Note, Opened\n"
        "at = datetime.now(UTC)\n"
        "job = create(Path(sys.argv[1]), Opened(at=at, title='t', fingerprint='f'))\n"
        "n = 0\n"
        "while True:\n"
        "    job.append(Note(at=at, text=str(n))); n += 1; print(n, flush=True)\n"
    )
    process = subprocess.Popen([sys.executable, "-c", writer, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    while int(process.stdout.readline()) < 20:
        time.sleep(0)
    process.send_signal(signal.SIGKILL)
    confirmed = 20 + len(process.stdout.read().splitlines())
    process.wait()
    log = find(tmp_path, 1).log
    assert confirmed <= len(log) - 1 <= confirmed + 1
    assert [entry.text for entry in log[1:] if isinstance(entry, Note)] == [str(n) for n in range(len(log) - 1)]


def test_two_benches_on_one_job_do_not_overwrite_each_other(tmp_path: Path) -> None:
    create(tmp_path, opened())
    one, other = find(tmp_path, 1), find(tmp_path, 1)
    one.append(Note(at=AT, text="first bench"))
    with pytest.raises(JobError, match="written to from somewhere else"):
        other.append(Note(at=AT, text="second bench"))
    assert [entry.kind for entry in find(tmp_path, 1).log] == ["opened", "note"]


def test_a_line_that_is_no_entry_is_named_by_its_number(tmp_path: Path) -> None:
    job = create(tmp_path, opened())
    job.append(Note(at=AT, text="good"))
    job.path.write_bytes(job.path.read_bytes() + b'{"kind": "nonsense"}\n')
    with pytest.raises(JobError, match=r"0001\.job:3: "):
        JobFile(job.path)
    assert next(iter(listed(tmp_path))).trouble


def test_a_missing_job_and_an_empty_folder_say_so(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="there is no job 7"):
        find(tmp_path, 7)
    with pytest.raises(JobError, match="chopstick intake"):
        find(tmp_path)


def test_the_last_one_written_to_is_found(tmp_path: Path) -> None:
    create(tmp_path, opened("one"))
    create(tmp_path, opened("two"))
    first = find(tmp_path, 1)
    os.utime(tmp_path / "0002.job", (0, 0))
    first.append(Note(at=AT, text="again"))
    assert find(tmp_path).number == 1


def test_a_file_in_the_way_of_the_folder_says_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "jobs").write_text("")
    with pytest.raises(JobError, match="--jobs DIR"):
        create(tmp_path / "jobs", opened())


@pytest.mark.parametrize(
    ("number", "says"),
    [(errno.EROFS, "can't be read or written"), (errno.EACCES, "can't be read or written"), (errno.ENOSPC, "is full")],
)
def test_trouble_of_the_system_is_told_in_words(
    number: int, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = create(tmp_path, opened())
    before = job.path.read_bytes()

    def refuse(*_: object) -> int:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(files.os, "write", refuse)
    with pytest.raises(JobError, match=says):
        job.append(Note(at=AT, text="lost"))
    monkeypatch.undo()
    assert job.path.read_bytes() == before
    assert len(job.log) == 1


def test_a_disk_that_fills_in_the_middle_of_a_line_leaves_no_half_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = create(tmp_path, opened())
    before = job.path.read_bytes()
    write = os.write
    monkeypatch.setattr(files.os, "write", lambda handle, line: write(handle, line[:10]))
    with pytest.raises(JobError, match="is full"):
        job.append(Note(at=AT, text="lost"))
    monkeypatch.undo()
    assert job.path.read_bytes() == before
    job.append(Note(at=AT, text="kept"))
    assert len(JobFile(job.path).log) == 2
