"""Jobs written as files, by the version before the database, are taken over once; the files stay as they are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from chopstick.engine.jobs.store import old_files
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.reasoning.log import LogEntry
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .conftest import note, opened


def written(folder: Path, number: int, *log: LogEntry) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / f"{number:04d}.job"
    path.write_bytes(b"".join(entry.model_dump_json().encode() + b"\n" for entry in log))
    return path


@given(cut=st.integers(min_value=0))
@settings(max_examples=amount(60, 1200))
def test_a_file_cut_anywhere_loses_only_the_last_entry(cut: int, tmp_path_factory: pytest.TempPathFactory) -> None:
    log: Sequence[LogEntry] = [opened(), *(note(f"note {number}") for number in range(5))]
    path = written(tmp_path_factory.mktemp("jobs"), 1, *log)
    whole = path.read_bytes()
    cut %= len(whole) + 1
    path.write_bytes(whole[:cut])
    again = old_files.read(path)
    kept = whole[:cut].count(b"\n")
    assert len(again) in (kept, kept + 1)  # one more when only the line end is missing
    assert again == log[: len(again)]


def test_a_line_that_is_no_entry_is_named_by_its_number(tmp_path: Path) -> None:
    path = written(tmp_path, 1, opened(), note("good"))
    path.write_bytes(path.read_bytes() + b'{"kind": "nonsense"}\n')
    with pytest.raises(JobError, match=r"0001\.job:3: "):
        old_files.read(path)


def test_they_are_taken_over_with_their_numbers_when_the_store_is_first_opened(tmp_path: Path) -> None:
    log = [opened("An old one"), note("from before")]
    paths = [written(tmp_path, 3, *log), written(tmp_path, 12, opened("Another"))]
    before = [path.read_bytes() for path in paths]
    assert [(one.number, one.title) for one in open_store(tmp_path).listed()] == [(3, "An old one"), (12, "Another")]
    assert open_store(tmp_path).find(3).log == log
    assert [path.read_bytes() for path in paths] == before
    assert open_store(tmp_path).create(opened()).number == 13


def test_they_are_taken_over_once(tmp_path: Path) -> None:
    path = written(tmp_path, 1, opened())
    open_store(tmp_path).find(1).append(note("in the database"))
    path.write_bytes(path.read_bytes() + note("in the file").model_dump_json().encode() + b"\n")
    assert [entry.kind for entry in open_store(tmp_path).find(1).log] == ["opened", "note"]
    assert len(open_store(tmp_path).listed()) == 1


def test_one_that_came_later_gets_the_next_number_when_its_own_is_taken(tmp_path: Path) -> None:
    open_store(tmp_path).create(opened("new"))
    written(tmp_path, 1, opened("old"))
    assert [(one.number, one.title) for one in open_store(tmp_path).listed()] == [(1, "new"), (2, "old")]


def test_one_that_can_not_be_read_is_told_and_keeps_its_number(tmp_path: Path) -> None:
    written(tmp_path, 4, opened()).write_bytes(b"{}\n")
    store = open_store(tmp_path)
    assert [(one.number, "0004.job:1:" in one.trouble) for one in store.listed()] == [(4, True)]
    with pytest.raises(JobError, match=r"0004\.job:1:"):
        store.find(4)
    assert store.create(opened()).number == 5
