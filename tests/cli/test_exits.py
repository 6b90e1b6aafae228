"""Exit codes mean something, and errors say what to do."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from chopstick.engine.reasoning import script

from .conftest import JOB, SMALL, Run


def test_done_is_0(run: Run, opened: int) -> None:
    assert run("show", str(opened)).code == 0
    assert run("kb", "check").code == 0
    assert run("jobs").code == 0


def broken(tmp_path: Path) -> Path:
    root = tmp_path / "kb"
    shutil.copytree(SMALL, root)
    file = root / "areas" / "small" / "small.yaml"
    text = file.read_text().replace("shows: {tingle:", "shows: {tinkle:")
    file.write_text(text)
    return root


def test_problems_of_the_knowledge_base_are_1_with_file_line_and_column(run: Run, tmp_path: Path) -> None:
    root = broken(tmp_path)
    ran = run("kb", "check", kb=root)
    assert ran.code == 1
    line = next(n for n, text in enumerate((root / "areas" / "small" / "small.yaml").read_text().splitlines(), 1) if "tinkle" in text)
    assert f"{root}/areas/small/small.yaml:{line}:21: error: " in ran.out
    assert "Did you mean 'tingle'?" in ran.out
    other = run("bench", "--answers", str(JOB), kb=root)
    assert other.code == 1
    assert f"small.yaml:{line}:21" in other.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("show", "99"), "there is no job 99"),
        (("bench",), "chopstick intake"),
        (("take", "99", "look-at-cord=yes"), "there is no job 99"),
        (("intake", "--complaint", "it smells of violets"), "SYMPTOM=TEXT"),
        (("intake", "--complaint", "crackle=x", "--amp", "power-tube=6V9GT"), "Did you mean '6V6GT'?"),
        (("intake", "--complaint", "crackle=x", "--amp", "power-tubes=6V6GT"), "Did you mean 'power-tube'?"),
        (("intake", "--complaint", "crackle=x", "--amp", "mains-here=4k7"), "resistance"),
        (("kb", "show", "track-drity"), "Did you mean 'track-dirty'?"),
        (("kb", "check", "--explain", "nothing"), "there is no lint"),
        (("bench", "--answers", "/nowhere.yaml"), "nowhere.yaml"),
    ],
)
def test_what_can_not_be_taken_is_2_and_says_what_would_do(words: tuple[str, ...], says: str, run: Run) -> None:
    ran = run(*words)
    assert ran.code == 2
    assert says in ran.err
    assert ran.out == ""


def test_an_unknown_command_or_option_is_2(process: Run) -> None:
    assert process("brew").code == 2
    assert process("show", "--colour").code == 2


def test_an_answer_file_that_does_not_fit_is_2_with_its_line(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "job.yaml"
    file.write_text("job: A try\nchecks:\n  look-at-chord: 'yes'\n")
    ran = run("bench", "--answers", str(file))
    assert ran.code == 2
    assert "job.yaml:3:3" in ran.err
    assert "Did you mean 'look-at-cord'?" in ran.err


def test_a_job_from_a_file_with_no_end_in_sight_ends_in_words(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(script, "MOST_STEPS", 2)
    ran = run("bench", "--answers", str(JOB))
    assert ran.code == 1
    assert script.ENDLESS in ran.err
    assert f"3. check, {script.ENDLESS}: " in " ".join(ran.out.split())
    assert "How each complaint ends" in ran.out
    last = run("bench", "--answers", str(JOB), "--json").json["steps"][-1]
    assert (last["remark"], last["got"]) == (script.ENDLESS, "")


def test_an_open_hold_is_3(run: Run, opened: int, tmp_path: Path) -> None:
    file = tmp_path / "job.yaml"
    file.write_text("job: No earth\ncomplaints: [{says: shock, symptom: tingle}]\nchecks: {look-at-cord: 'no'}\n")
    ran = run("bench", "--answers", str(file), "--json")
    assert ran.code == 3
    assert ran.json["next"]["kind"] == "held"
    assert {one["hold"]: one["answered"] for one in ran.json["holds"]}["earth-first"] is False
    barred = run("take", str(opened), "look-at-cord=no", "control-dc=0.1")
    assert barred.code == 3
    assert "--hold earth-first=yes" in barred.err
    assert run("show", str(opened), "--json").json["findings"][-1]["finding"] == "runs-hot"  # nothing was entered


def test_a_read_only_folder_is_2_and_names_the_way_out(run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    ran = run("intake", "--complaint", "crackle=x", "--jobs", str(tmp_path / "file"))
    assert ran.code == 2
    assert "--jobs DIR" in ran.err


def test_an_old_job_file_that_can_not_be_read_is_told_by_jobs_with_1(run: Run, opened: int, jobs: Path) -> None:
    (jobs / "0002.job").write_bytes(b"no json\n")
    ran = run("jobs", "--json")
    assert ran.code == 1
    assert "0002.job:1: " in ran.json["jobs"][1]["trouble"]
    shown = run("show", "2")
    assert shown.code == 2
    assert "0002.job:1: " in shown.err
    assert run("show", str(opened)).code == 0
