"""The quick way to a job gives what the store gives, and leaves to it whatever is out of the ordinary."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from chopstick.engine.jobs.store.embedded import FILE
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.migrate import migrate
from chopstick.engine.jobs.store.migrations import MIGRATIONS
from chopstick.engine.jobs.store.nearby import Nearby
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.reasoning.log import Closed, Note, Undone

from .conftest import AT, Cluster, note, opened
from .test_migrate import SECOND


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    store = open_store(tmp_path)
    for title in ("one", "two"):
        store.create(opened(title), note("Ω"), note("x" * 10_000))
    store.find(1).append(note("last"))
    return tmp_path


@pytest.mark.parametrize("number", [1, 2, None])
def test_it_finds_what_the_store_finds(number: int | None, folder: Path) -> None:
    quick, slow = Nearby(folder).find(number), open_store(folder).find(number)
    assert (quick.number, quick.log, quick.hash, quick.path) == (slow.number, slow.log, slow.hash, slow.path)


def test_the_job_found_is_written_to_as_any_other(folder: Path) -> None:
    quick, slow = Nearby(folder).find(2), open_store(folder).find(2)
    quick.append(note("quick"))
    assert slow.append(note("slow")) == (note("quick"),)
    assert quick.renew() == (note("slow"),)
    assert quick.log == slow.log == open_store(folder).find(2).log


def test_closed_jobs_teach_the_same_either_way(folder: Path) -> None:
    store, kinds = open_store(folder), ("opened", "closed", "undone")
    store.find(1).append(Closed(at=AT, was=("fuse-blown",)), note("and a note"))
    store.create(opened("three"), Closed(at=AT, was=("fuse-wrong",)), Undone(at=AT, number=2))
    assert list(Nearby(folder).closed(kinds)) == list(store.closed(kinds))
    assert [(number, len(entries)) for number, entries in store.closed(kinds)] == [(1, 2), (3, 1)]
    assert Nearby(folder).marked("learning") is None
    store.mark("learning", AT)
    assert Nearby(folder).marked("learning") == store.marked("learning") == AT


def test_what_is_out_of_the_ordinary_is_left_to_the_store(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    for number in (9, 0, -1, 10**30):
        with pytest.raises(JobError, match=f"there is no job {number} in"):
            Nearby(folder).find(number)
    empty = tmp_path_factory.mktemp("empty")
    with pytest.raises(JobError, match="there is no job in"):
        Nearby(empty).find()
    assert list(empty.iterdir()) == []
    (folder / "0007.job").write_text(opened("from before").model_dump_json() + "\n")
    assert Nearby(folder).find(7).log == [opened("from before")]
    database = open_store(folder).database
    migrate(database, (*MIGRATIONS, SECOND))
    with pytest.raises(JobError, match="later chopstick"):
        Nearby(folder).find(1)
    (folder / FILE).write_bytes(b"coffee" * 1000)
    with pytest.raises(JobError, match="is damaged"):
        Nearby(folder).find(1)


def test_a_changed_entry_is_not_taken_for_what_was_written(folder: Path) -> None:
    file = folder / FILE
    file.write_bytes(file.read_bytes().replace(b'"last"', b'"lost"'))
    with pytest.raises(JobError, match="damaged from entry 4 on"):
        Nearby(folder).find(1)
    assert all(not (isinstance(entry, Note) and entry.text == "lost") for entry in Nearby(folder).find(2).log)


def test_a_server_is_asked_where_one_is_named(cluster: Cluster, folder: Path) -> None:
    url = cluster.new()
    job = open_store(folder, url).create(opened("on the server"))
    assert Nearby(folder, url).find(1).log == job.log

# a module that is imported late is there, but has not been run
HAS_RUN = "{name for name, module in list(sys.modules.items()) if type(module).__name__ != '_LazyModule'}"


@pytest.mark.parametrize(
    "words",
    [["--version"], ["kb", "list", "symptoms"], ["figure"], ["show", "1"], ["bench", "1"]],
    ids=lambda words: words[0],
)
def test_nothing_waits_for_what_is_not_needed_before_the_first_question(words: list[str], folder: Path) -> None:
    """The database's library takes as long as half of all else, and what solves circuits a tenth of it."""
    late = "{'sqlalchemy', 'chopstick.engine.circuit.solve', 'scipy'}"
    code = f"import sys; from chopstick.cli.main import main\ntry: main()\nfinally: print(sorted({late} & {HAS_RUN}))"
    done = subprocess.run(
        [sys.executable, "-c", code, *words, *(["--jobs", str(folder)] if words[0] in ("show", "bench") else [])],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == "[]", done.stdout + done.stderr


def test_the_bench_is_ready_to_ask_without_what_it_needs_later() -> None:
    """The parser of files that are kept already, and the models of circuits, of reference figures and of what is
    printed as JSON: a fortieth of the time to the first question each."""
    late = {
        "yaml", "chopstick.engine.circuit.netlist", "chopstick.engine.reference.model", "chopstick.engine.report",
    }  # fmt: skip
    ready = "from chopstick.cli.commands import bench; from chopstick.cli.sitting import bench_sitting; from chopstick.cli.screen import terminal_pages; from chopstick.engine.knowledge import cache"
    code = f"import sys; {ready}; print(sorted({late} & {HAS_RUN}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
