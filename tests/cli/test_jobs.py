"""The kept jobs on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from chopstick.cli.main import settings_first
from chopstick.engine.jobs.store.embedded import FILE
from chopstick.engine.reports.queue import Queue
from chopstick.engine.reports.store import Backup, FoundJobs, Imported, ListOfJobs, StoreCheck

from .conftest import COMPLAINTS, Run
from .test_shapes import shaped


@pytest.fixture
def closed(run: Run, opened: int) -> int:
    """A second job, closed; beside the first, which is open."""
    from datetime import UTC, datetime

    from chopstick.cli.desk import store_of
    from chopstick.engine.reasoning.log import Closed

    number = int(run("intake", "--title", "Old head", *COMPLAINTS, "--json").json["number"])
    store_of(None).find(number).append(Closed(at=datetime.now(UTC), was=("capacitor-leaky",)))
    return number


def listed(run: Run, *words: str) -> list[int]:
    ran = run("jobs", "list", *words, "--json")
    shaped(ListOfJobs, ran.json)
    return [one["number"] for one in ran.json["jobs"]]


def test_a_list_can_be_narrowed(run: Run, opened: int, closed: int) -> None:
    assert listed(run) == [opened, closed]
    assert listed(run, "--open") == [opened]
    assert listed(run, "--closed") == [closed]
    assert listed(run, "--fault", "capacitor-leaky") == [closed]
    assert listed(run, "--since", "2020-01-01") == [opened, closed]
    assert listed(run, "--since", "2999-01-01") == []
    bad = run("jobs", "list", "--since", "yesterday")
    assert bad.code == 2
    assert "2026-03-01" in bad.err
    assert "closed" in run("jobs").out


def test_a_job_is_found_by_its_words(run: Run, opened: int) -> None:
    ran = run("jobs", "search", "big tubes HOT", "--json")
    shaped(FoundJobs, ran.json)
    assert [(one["number"], [hit["entry"] for hit in one["hits"]]) for one in ran.json["jobs"]] == [(opened, [3])]
    assert "Small combo" in run("jobs", "search", "big tubes").out
    assert "No job" in run("jobs", "search", "violets").out


def test_jobs_go_from_one_folder_to_another(run: Run, opened: int, tmp_path: Path) -> None:
    lines = run("jobs", "export").out
    assert [json.loads(line)["number"] for line in lines.splitlines()] == [opened]
    other = ("--jobs", str(tmp_path / "other"))
    assert "1 job new in" in run("jobs", "import", "-", *other, typed=lines).out
    again = run("jobs", "import", "-", *other, "--json", typed=lines)
    shaped(Imported, again.json)
    assert again.json["jobs"] == [{"was": opened, "number": opened, "added": 0, "new": False}]
    run("intake", "--title", "Theirs", *COMPLAINTS, "--jobs", str(tmp_path / "third"))
    assert "mark the amp's label" in run("jobs", "import", "-", "--jobs", str(tmp_path / "third"), typed=lines).out
    to = tmp_path / "jobs.jsonl"
    assert run("jobs", "export", str(opened), "--to", str(to)).code == 0
    assert to.read_text() == lines
    assert run("jobs", "export", "--to", str(to)).code == 2  # never overwritten
    spoilt = run("jobs", "import", "-", typed="{}\n")
    assert spoilt.code == 2
    assert "-:1:" in spoilt.err


def test_backup_check_damage_and_restore(run: Run, opened: int, jobs: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.sqlite"
    ran = run("jobs", "backup", str(kept), "--json")
    shaped(Backup, ran.json)
    assert run("jobs", "check").code == 0
    before = run("show", str(opened)).out
    file = jobs / FILE
    file.write_bytes(file.read_bytes().replace(b"too hot", b"too kot"))
    wrong = run("jobs", "check", "--json")
    shaped(StoreCheck, wrong.json)
    assert wrong.code == 1
    assert wrong.json["problems"] == ["job 1: entry 3 is not as it was written (its hash does not fit)"]
    shown = run("show", str(opened))
    assert shown.code == 2
    assert "chopstick jobs restore FILE" in shown.err
    told = run("jobs", "restore", str(kept))
    assert told.code == 0
    assert "jobs.sqlite.before-" in told.out
    assert run("jobs", "check").code == 0
    assert run("show", str(opened)).out == before


def test_the_queue_names_each_open_job_once(run: Run, opened: int, closed: int) -> None:
    run("take", str(opened), "--detail", "promised=2001-02-03", "--await", "rectifier tube")
    ran = run("queue", "--json")
    shaped(Queue, ran.json)
    (one,) = ran.json["jobs"]
    assert (one["number"], one["group"], one["overdue"]) == (opened, "waiting for parts", True)
    assert "OVERDUE" in run("queue").out
    run("take", str(opened), "look-at-cord=no")
    assert "At an open hold" in run("queue").out


def test_a_queue_without_jobs_says_so(run: Run) -> None:
    assert run("queue").out == "No job is open.\n"


def test_another_bench_s_entries_are_taken_account_of(run: Run, opened: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """`take` looks at what it was given again, from where the job stands now."""
    from chopstick.cli.sitting import given_on_the_line as given

    taken = given.taken
    calls = []

    def meanwhile(*words: object) -> object:
        got = taken(*words)  # type: ignore[arg-type]
        if not calls:
            calls.append(1)
            assert run("take", str(opened), "--note", "owner rang").code == 0
        return got

    monkeypatch.setattr(given, "taken", meanwhile)
    assert run("take", str(opened), "look-at-cord=yes").code == 0
    assert [one["entry"] for one in run("jobs", "search", "owner rang", "--json").json["jobs"][0]["hits"]] == [4]
    calls.clear()
    monkeypatch.setattr(given, "taken", lambda *words: clashing(*words))

    def clashing(*words: object) -> object:
        got = taken(*words)  # type: ignore[arg-type]
        if not calls:
            calls.append(1)
            monkeypatch.setattr(given, "taken", taken)
            assert run("take", str(opened), "sweep-ohms=rough", "--hold", "discharged=yes").code in (0, 3)
        return got

    ran = run("take", str(opened), "sweep-ohms=smooth", "--hold", "discharged=yes")
    assert ran.code == 2
    assert f"job {opened} moved on" in ran.err


def test_a_store_is_named_by_an_option_anywhere_or_by_a_setting(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert settings_first(["show", "1", "--store", "x", "--shop=y"]) == ["--store", "x", "--shop=y", "show", "1"]
    wrong = run("jobs", "--store", "mysql://shop")
    assert wrong.code == 2
    assert "postgresql://USER@HOST/DATABASE" in wrong.err
    monkeypatch.setenv("CHOPSTICK_STORE", "mysql://shop")
    assert run("jobs").code == 2
    assert run("jobs", "--jobs", "somewhere").code == 0  # a folder that is named goes first
