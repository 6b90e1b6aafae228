"""`chopstick paper`: every kind in every format, and slips said to a person."""

from __future__ import annotations

from pathlib import Path

import pytest
from chopstick.cli.main import app
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.reasoning.log import LogEntry, Opened
from typer.testing import CliRunner, Result

SMALL = Path(__file__).parents[1] / "cli" / "kb"


@pytest.fixture
def folder(begun: list[LogEntry], tmp_path: Path) -> Path:
    first = begun[0]
    assert isinstance(first, Opened)
    open_store(tmp_path / "jobs").create(first, *begun[1:])
    return tmp_path


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(app, ["paper", *words, "--kb", str(SMALL), "--jobs", str(folder / "jobs")])


@pytest.mark.parametrize("kind", ["checklist", "check-over", "estimate", "work-order", "hand-back", "record"])
@pytest.mark.parametrize("ending", ["md", "html", "pdf"])
def test_the_ending_of_the_file_tells_the_format(folder: Path, kind: str, ending: str) -> None:
    file = folder / f"paper.{ending}"
    done = run(folder, kind, "1", "--to", str(file), "--page", "Letter")
    assert done.exit_code == 0, done.output
    begins = {"md": b"# ", "html": b"<!DOCTYPE html>", "pdf": b"%PDF-"}
    assert file.read_bytes().startswith(begins[ending])


def test_a_paper_goes_to_the_screen_as_markdown(folder: Path) -> None:
    done = run(folder, "checklist", "1")
    assert done.exit_code == 0
    assert done.stdout.startswith("# Checklist\n")
    assert "it crackles when I turn the volume" in done.stdout


def test_blank_papers_need_no_job(tmp_path: Path) -> None:
    assert run(tmp_path, "intake").stdout.startswith("# Intake\n")
    told = run(tmp_path, "check-over", "--amp", "power-tube=6V6GT", "--minutes", "5").stdout
    assert "power tube: **6V6GT**" in told
    assert not (tmp_path / "jobs").exists()


def test_the_record_as_a_table(folder: Path) -> None:
    done = run(folder, "record", "1", "--format", "csv")
    assert done.stdout.splitlines() == ["entry,at,check,reading,value,unit,meaning"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("checklist", "1", "--format", "csv"), "only the record"),
        (("checklist", "9"), "there is no job 9"),
        (("check-over", "1", "--amp", "bias=fixed"), "without a job"),
        (("check-over", "--amp", "bias=warm"), "it is one of"),
        (("record", "1", "--to", "/nowhere/at/all.md"), "/nowhere/at/all.md: No such file or directory. See that the name is right."),
    ],
)
def test_slips_are_said_and_end_with_two(folder: Path, words: tuple[str, ...], said: str) -> None:
    done = run(folder, *words)
    assert done.exit_code == 2
    assert said in done.stderr
