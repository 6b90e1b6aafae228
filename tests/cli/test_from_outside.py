"""At the command line: what comes from outside hides nothing, stops nothing, and is told in a sentence."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from chopstick.cli.commands import jobs as jobs_command
from chopstick.engine.jobs.store.embedded import FILE

from ..circuit.test_files import GOOD
from .conftest import COMPLAINTS, Run


def test_an_undoing_that_waits_is_refused_and_the_finding_stays(run: Run, opened: int, tmp_path: Path) -> None:
    """A file that would void what is entered next: refused by its line, and the hold is raised as ever."""
    (line,) = run("jobs", "export", str(opened)).out.splitlines()
    job = {name: value for name, value in json.loads(line).items() if name != "sha256"}
    job["entries"].append({"kind": "undone", "at": "2026-01-01T00:00:00Z", "number": len(job["entries"]) + 2})
    (tmp_path / "jobs.jsonl").write_text(json.dumps(job))
    ran = run("jobs", "import", str(tmp_path / "jobs.jsonl"))
    assert ran.code == 2
    assert "jobs.jsonl:1: " in ran.err
    run("take", str(opened), "look-at-cord=no")
    assert "hold" in run("show", str(opened), "--json").out
    assert "taken back" not in run("paper", "record", str(opened)).out
    assert run("jobs", "check").code == 0


@pytest.mark.parametrize("minutes", ["inf", "1e300", "nan"])
def test_minutes_that_none_can_take_are_refused(run: Run, opened: int, minutes: str) -> None:
    ran = run("close", str(opened), "--minutes", minutes, "--unsaid")
    assert ran.code == 2
    assert ("give it as in 85" in ran.err) is (minutes != "nan")  # which is no number already for the option itself
    assert run("show", str(opened), "--json").json["agreed"]["closed"] is None


def test_a_database_of_a_later_version_is_not_to_be_put_back(run: Run, opened: int, jobs: Path) -> None:
    assert opened
    with closing(sqlite3.connect(jobs / FILE)) as connection, connection:
        connection.execute("INSERT INTO schema_version SELECT max(version) + 1, '2030' FROM schema_version")
    ran = run("jobs", "check")
    assert ran.code == 2
    assert "Update chopstick" in ran.err
    assert "restore" not in ran.out + ran.err


def test_a_database_with_something_of_another_s_in_it_is_not_entered_into(run: Run, opened: int, jobs: Path) -> None:
    with closing(sqlite3.connect(jobs / FILE)) as connection, connection:
        connection.execute("CREATE TRIGGER quiet BEFORE INSERT ON entries BEGIN SELECT RAISE(IGNORE); END")
    ran = run("take", str(opened), "look-at-cord=no")
    assert ran.code == 2
    assert "entry kept" not in ran.out
    assert "the trigger 'quiet' in the database was not made by chopstick" in ran.err
    assert run("jobs", "check").code == 1


def test_a_search_with_too_many_hits_shows_the_last_and_says_so(
    run: Run, opened: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs_command, "MOST_FOUND", 2)
    monkeypatch.setattr(jobs_command, "MOST_HITS", 3)
    for number in range(4):
        run("intake", "--title", f"Combo {number}", *COMPLAINTS)
    run("take", "5", *(word for number in range(7) for word in ("--note", f"crackle heard, {number}")))
    out = run("jobs", "search", "crackle").out
    assert "5 jobs have these words. The last 2 of them" in out
    assert [line[:5] for line in out.splitlines() if line.startswith("Job ")] == ["Job 4", "Job 5"]
    assert out.count("crackle heard") == 2
    assert "and 5 more of its entries" in out
    assert len(run("jobs", "search", "crackle", "--json").json["jobs"]) == 4 + opened


def test_jobs_can_be_learned_from_again_after_a_clock_that_was_wrong(
    run: Run, opened: int, jobs: Path
) -> None:
    assert opened
    run("jobs", "learned", "--reset")
    with closing(sqlite3.connect(jobs / FILE)) as connection, connection:
        connection.execute(
            "INSERT INTO shop_marks (name, at) VALUES ('learning', '2999-01-01T00:00:00.000000+00:00')"
        )
    assert run("jobs", "learned", "--json").json["since"].startswith("2999")
    run("jobs", "learned", "--reset")
    assert not run("jobs", "learned", "--json").json["since"].startswith("2999")


def test_the_circuit_of_a_pack_is_there_once_it_is_taken_in(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHOPSTICK_USER", str(tmp_path / "user"))
    pack = tmp_path / "pack"
    (pack / "circuits").mkdir(parents=True)
    (pack / "pack.yaml").write_text('name: amp-lore\nversion: "1"\nabout: An amp.\n')
    (pack / "circuits" / "our-own-amp.yaml").write_text(GOOD)
    assert "added: circuits our-own-amp" in run("packs", "add", str(pack), "--yes", kb=None).out
    ran = run("circuit", "volts", "our-own-amp", kb=None)
    assert (ran.code, "v1a.plate" in ran.out) == (0, True), ran.err
