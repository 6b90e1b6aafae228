"""However a command ends: one sentence with what to do, the truth about what was kept, and the exit code too."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from chopstick.cli import endings
from chopstick.cli.sitting import photos
from chopstick.engine.jobs.store.embedded import FILE
from chopstick.engine.jobs.store.errors import Full
from chopstick.engine.jobs.store.job import Job
from chopstick.engine.reasoning import rules
from chopstick.engine.reasoning.answers import AnswerError
from chopstick.engine.reasoning.log import LogEntry, Note

from .conftest import COMPLAINTS, SMALL, Ran, Run
from .terminal import Terminal

LOST = "standard output can't be written to"


def shell(line: str, jobs: Path, **environment: str) -> Ran:
    """A command line of the shell, in which `chopstick` is this one."""
    command = f"chopstick() {{ '{sys.executable}' -m chopstick.cli.main \"$@\"; }}\n{line}"
    done = subprocess.run(
        ["bash", "-c", command], capture_output=True, timeout=300, check=False,
        env={**os.environ, "CHOPSTICK_JOBS": str(jobs), "COLUMNS": "80", **environment},
    )  # fmt: skip
    return Ran(done.returncode, done.stdout.decode(errors="replace"), done.stderr.decode(errors="replace"))


# --- the standard streams ---


@pytest.mark.parametrize(("where", "why"), [(">/dev/full", "No space left on device"), (">&-", "it is closed")])
def test_output_that_is_lost_is_said_to_be_and_what_was_entered_is_kept(
    where: str, why: str, run: Run, opened: int, jobs: Path
) -> None:
    ran = shell(f"chopstick take {opened} --note 'a note' --kb '{SMALL}' {where}", jobs)
    assert ran.code == 2
    assert f"{LOST} ({why})" in ran.err
    assert len(ran.err.splitlines()) == 1
    assert run("show", str(opened), "--json").json["notes"] == ["a note"]


def test_input_that_is_closed_is_at_its_end(jobs: Path, opened: int) -> None:
    ran = shell(f"chopstick bench {opened} --kb '{SMALL}' <&-", jobs)
    assert (ran.code, ran.err) == (0, "")
    assert "Stopped. Everything entered is kept." in ran.out


def test_whoever_has_read_enough_is_told_nothing_more(jobs: Path) -> None:
    assert shell("chopstick kb list symptoms | head -1", jobs).err == ""


def test_no_columns_at_all_are_the_usual_ones(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    wide = run("kb", "list", "checks").out
    assert wide.strip()
    monkeypatch.setenv("COLUMNS", "0")
    assert run("kb", "list", "checks").out == wide


# --- names and words ---


def test_a_name_that_is_no_text_can_be_given_and_what_is_no_text_in_a_note_shows(
    jobs: Path, run: Run, opened: int, tmp_path: Path
) -> None:
    run("jobs", "backup", str(tmp_path / "good"))
    line = f"cd '{tmp_path}' && cp good $'b\\xff.sqlite' && chopstick jobs restore $'b\\xff.sqlite' && chopstick take {opened} --note $'\\xffa' --kb '{SMALL}'"
    ran = shell(line, jobs)
    assert ran.code == 0, ran.err
    assert "b\ufffd.sqlite are back" in ran.out
    assert run("show", str(opened), "--json").json["notes"] == ["\ufffda"]


def test_an_odd_locale_takes_no_letter_away(jobs: Path, opened: int, run: Run) -> None:
    odd = {"PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "LC_ALL": "C"}
    ran = shell(f"chopstick take {opened} --note 'fuse of é' --kb '{SMALL}'", jobs, **odd)
    assert ran.code == 0, ran.err
    ran = shell(f"printf 'note ö too\\nstop\\n' | chopstick bench {opened} --kb '{SMALL}'", jobs, **odd)
    assert ran.code == 0, ran.err
    assert run("show", str(opened), "--json").json["notes"] == ["fuse of é", "ö too"]


@pytest.mark.parametrize("name", ["CHOPSTICK_JOBS", "CHOPSTICK_SHOP", "CHOPSTICK_USER"])
def test_a_home_that_nobody_has_is_told(name: str, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(name, "~nouser/x")
    ran = run("packs", "list") if name != "CHOPSTICK_JOBS" else run("jobs")
    assert ran.code == 2
    assert "~nouser/x: There is no such user here" in ran.err


LONG = "n" * 300


@pytest.mark.parametrize(
    "words",
    [("jobs", "backup", LONG), ("circuit", "volts", LONG), ("rules", "check", LONG), ("packs", "diff", LONG), ("packs", "remove", LONG)],
    ids=lambda words: " ".join(words[:2]),
)
def test_a_name_that_is_too_long_is_told(words: tuple[str, ...], run: Run, opened: int) -> None:
    assert opened
    ran = run(*words, kb=None)
    assert ran.code in (1, 2)
    assert "Traceback" not in ran.err
    assert ran.err


def unprivileged(words: Sequence[str]) -> list[str]:
    """The command without root's right to enter and read everything."""
    front = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"] if os.geteuid() == 0 else []
    return [*front, sys.executable, "-m", "chopstick.cli.main", *words]


@pytest.mark.parametrize(
    "words",
    [("jobs", "list"), ("jobs", "restore", "{shut}/b"), ("circuit", "volts", "{shut}/c.yaml"), ("kb", "check", "--kb", "{shut}/kb")],
    ids=lambda words: " ".join(words[:2]),
)  # fmt: skip
def test_a_folder_that_may_not_be_entered_is_named(words: tuple[str, ...], tmp_path: Path, opened: int, jobs: Path) -> None:
    assert opened
    shut = tmp_path / "shut"
    shutil.copytree(jobs, shut)
    shut.chmod(0)
    folder = shut if "{shut}" not in "".join(words) else jobs
    done = subprocess.run(
        unprivileged([word.format(shut=shut) for word in words]), capture_output=True, timeout=300, check=False,
        env={**os.environ, "CHOPSTICK_JOBS": str(folder)},
    )  # fmt: skip
    shut.chmod(0o700)
    told = done.stderr.decode() + done.stdout.decode()
    assert done.returncode in (1, 2)
    assert "Traceback" not in told
    assert str(shut) in told
    assert "ermission" in told or "can't be" in told


# --- photographs ---


def test_a_photograph_may_be_said_much_of(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").touch()
    words = "the burnt socket " * 40
    path, shows = photos.split(f"{tmp_path}/a.jpg {words}")
    assert (path, shows) == ((tmp_path / "a.jpg"), words.strip())


@pytest.mark.parametrize("typed", ["~nouser/x.jpg", "x" * 300, "/dev/null", "loop", "a\0b"])
def test_a_photograph_that_is_none_is_told(typed: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(AnswerError, match=r"Give the file's path first"):
        photos.split(typed)


def test_the_bench_goes_on_after_a_photograph_with_a_long_name(run: Run, opened: int) -> None:
    ran = run("bench", str(opened), typed=f"photo {'z' * 300}\nnote still here\nstop\n")
    assert ran.code == 0
    assert run("show", str(opened), "--json").json["notes"] == ["still here"]


# --- what was entered, and not kept ---


def test_what_was_not_kept_is_the_last_thing_said(run: Run, opened: int, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Job.append

    def append(job: Job, *added: LogEntry, **how: Any) -> Any:
        if any(isinstance(entry, Note) for entry in added):
            raise Full("the disk is full")
        return real(job, *added, **how)

    monkeypatch.setattr(Job, "append", append)
    ran = run("bench", str(opened), typed="note of the disk\nnote never read\n")
    assert ran.code == 2
    assert "Everything entered is kept" not in ran.out
    assert ran.err.splitlines()[-1].startswith("NOT KEPT: ")
    assert "of the disk" in ran.err
    assert "never read" not in ran.out + ran.err  # lines of a pipe would answer another question


def test_at_a_terminal_the_sitting_goes_on_and_the_end_tells_what_is_lost(jobs: Path, opened: int, tmp_path: Path) -> None:
    """The database is exchanged for another one for a while, as when a disk is taken away."""
    with closing(sqlite3.connect(jobs / FILE)) as source, closing(sqlite3.connect(tmp_path / "aside")) as aside:
        source.backup(aside)
    terminal = Terminal(jobs, "bench", str(opened))
    terminal.shows("Look at the mains cord")
    (jobs / FILE).write_bytes(b"")
    terminal.says("note one", "NOT KEPT", "Enter it again")
    shutil.copy2(tmp_path / "aside", jobs / FILE)
    terminal.says("note one", "Noted.")
    (jobs / FILE).write_bytes(b"")
    terminal.says("note two", "NOT KEPT")
    terminal.type("stop")
    last = terminal.end().rpartition("To see it again")[2]
    assert "NOT KEPT:" in last
    assert "two" in last
    assert "one" not in last
    assert "".join(last.split()).endswith("Allelsethatwasenterediskept.")
    assert terminal.child.exitstatus == 2


def test_jobs_that_can_not_be_read_are_named_where_they_are_left_out(run: Run, opened: int, jobs: Path, tmp_path: Path) -> None:
    run("intake", "--title", "Whole", *COMPLAINTS)
    with closing(sqlite3.connect(jobs / FILE)) as connection, connection:
        triggers = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("UPDATE entries SET body = replace(body, 'crackles', 'grackles') WHERE job = ?", (opened,))
        for _, made in triggers:
            connection.execute(made)
    said = f"chopstick: job {opened} is left out: job {opened} is damaged from entry 2 on"
    for words in (("jobs", "export"), ("jobs", "export", "--to", str(tmp_path / "out")), ("jobs", "search", "amp"), ("queue",)):
        ran = run(*words)
        assert ran.code == 1, words
        assert said in ran.err
    assert [json.loads(line)["number"] for line in (tmp_path / "out").read_text().splitlines()] == [2]
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o600


# --- a paper over another file ---


def test_a_paper_is_written_over_another_file_only_when_that_is_wanted(run: Run, opened: int, tmp_path: Path) -> None:
    file = tmp_path / "record.md"
    file.write_text("mine")
    ran = run("paper", "record", str(opened), "--to", str(file))
    assert (ran.code, file.read_text()) == (2, "mine")
    assert "is there already. Name a new file, or write over it with --yes." in ran.err
    assert run("paper", "record", str(opened), "--to", str(file), "--yes").code == 0
    assert "Small combo" in file.read_text()
    assert [one.name for one in tmp_path.iterdir() if "record" in one.name] == ["record.md"]


def test_at_a_terminal_a_paper_asks_before_it_is_written_over_another(jobs: Path, opened: int, tmp_path: Path) -> None:
    file = tmp_path / "record.md"
    file.write_text("mine")
    for answer, left in (("no", True), ("yes", False)):
        terminal = Terminal(jobs, "paper", "record", str(opened), "--to", str(file), size=(200, 24))
        terminal.shows("is there already. Write over it?")
        terminal.type(answer)
        terminal.end()
        assert (file.read_text() == "mine") is left
        assert terminal.child.exitstatus == (2 if left else 0)


@pytest.mark.parametrize("where", ["jobs/jobs.sqlite", "jobs/0009.job", "link.md", "backup.sqlite", "jobs.jsonl", "kb/areas/x.md"])
def test_a_paper_is_never_written_over_what_the_program_keeps(where: str, run: Run, opened: int, jobs: Path, tmp_path: Path) -> None:
    run("jobs", "backup", str(tmp_path / "backup.sqlite"))
    run("jobs", "export", "--to", str(tmp_path / "jobs.jsonl"))
    (tmp_path / "link.md").symlink_to(jobs / FILE)
    shutil.copytree(SMALL, tmp_path / "kb")
    file = tmp_path / where
    before = file.read_bytes() if file.exists() else None
    ran = run("paper", "record", str(opened), "--to", str(file), "--yes", kb=tmp_path / "kb")
    assert ran.code == 2
    assert "belongs to what chopstick keeps" in ran.err
    assert (file.read_bytes() if file.exists() else None) == before
    assert run("jobs", "check").code == 0


def test_a_paper_goes_whole_or_not_at_all(run: Run, opened: int) -> None:
    ran = run("paper", "record", str(opened), "--to", "/dev/full")
    assert ran.code == 2
    assert ran.err == "chopstick: /dev/full: No space left on device. Make room, or name a place on another disk. Nothing was written.\n"
    assert run("paper", "record", str(opened), "--to", "/dev/null").code == 0


# --- what is told in JSON, and how a command was called ---


def test_a_value_that_is_not_there_says_in_json_what_would_settle_it(run: Run, opened: int) -> None:
    run("take", str(opened), "plates.plate-volts=400", "--hold", "ready-for-live=yes")
    (doubt,) = run("show", str(opened), "--json").json["doubts"]
    assert set(doubt) == {"check", "quantity", "findings", "text", "settle", "facts"}
    assert doubt["check"] == "plates"


def test_a_slip_on_the_command_line_is_one_sentence_that_says_where_to_look(run: Run) -> None:
    ran = run("show", "--colour")
    assert ran.code == 2
    assert ran.err.count("\n") == 1
    assert ran.err.startswith("chopstick: No such option: --colour")
    assert ran.err.rstrip().endswith("show --help")


def test_a_chainer_that_is_not_built_for_this_python_is_told_with_the_way_out(run: Run, monkeypatch: pytest.MonkeyPatch, opened: int) -> None:
    def missing() -> None:
        raise ImportError("durable_rules_engine.so: undefined symbol: PyEval_CallObject")

    monkeypatch.setattr(rules, "_host", missing)
    ran = run("show", str(opened))
    assert ran.code == 2
    assert ran.err.startswith("chopstick: durable-rules, which works the rules, is not built for this Python (")
    assert f"{endings.FOR_LATER_PYTHONS} {sys.executable} -m pip install --force-reinstall" in ran.err
    assert ran.err.count("\n") == 1
