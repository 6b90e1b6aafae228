"""The README says what is so."""

import re
from pathlib import Path

from chopstick.engine.knowledge import load
from chopstick.engine.reasoning.session import Session

from .tour import BLOCK, README, renewed

ROOT = README.parent


def test_the_tour_shows_real_output() -> None:
    text = README.read_text()
    assert len(BLOCK.findall(text)) >= 4
    assert renewed(text) == text, "run: python tests/packaging/tour.py --write"


def test_both_commands_stand_in_the_readme() -> None:
    text = README.read_text()
    assert re.search(r"^bash tests/run$", text, re.MULTILINE)
    assert "-DPyEval_CallObject=PyObject_CallObject" in text
    assert "licensed or qualified person" in text


def test_the_answer_file_of_the_readme_runs(tmp_path: Path) -> None:
    from datetime import datetime

    from chopstick.engine.reasoning import script

    text = README.read_text()
    sample = next(block for block in re.findall(r"```yaml\n(.*?)```", text, re.DOTALL) if block.startswith("job:"))
    path = tmp_path / "job.yaml"
    path.write_text(sample)
    session = Session(load.load())
    run = script.run(script.read_answers(path, session), session, lambda: datetime(2026, 1, 1))
    assert run.standing.ranking.probability["baffle-nut-dug-in"] >= 0.8


def test_the_top_level_holds_what_it_should() -> None:
    import subprocess

    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.partition("/")[0] for line in tracked.splitlines()}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "kb", "engine", "cli", "tests",
    }  # fmt: skip
