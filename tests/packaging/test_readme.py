"""The README and the manual say what is so; test_guide.py holds DEVELOPERS.md."""

import io
import re
import tomllib
from pathlib import Path

import pytest
import yaml
from chopstick.cli.endings import FOR_LATER_PYTHONS
from chopstick.cli.main import app
from chopstick.cli.screen import manual_page
from chopstick.cli.screen.screen import Screen
from chopstick.engine.reasoning.session import Session
from typer.main import get_command

from ..shipped import shipped_knowledge
from .tour import BLOCK, PAGES, README, ROOT, renewed


@pytest.mark.parametrize("page", [page for page in PAGES if BLOCK.search(page.read_text())], ids=lambda page: page.stem)
def test_a_page_shows_real_output(page: Path) -> None:
    text = page.read_text()
    assert renewed(text) == text, "run: python -m tests.packaging.tour --write"


def test_the_readme_is_short_and_has_what_one_needs_first() -> None:
    text = README.read_text()
    assert len(text.splitlines()) <= 200
    assert BLOCK.search(text)
    assert re.search(r"^bash tests/run$", text, re.MULTILINE)
    assert re.search(r"^python3 -m venv .* && \.venv/bin/chopstick demo$", text, re.MULTILINE)
    assert "licensed or qualified person" in text


def test_every_page_of_the_manual_is_listed_and_every_link_leads_somewhere() -> None:
    assert {page.name for page in manual_page.pages()} == {page.name for page in PAGES} - {README.name}
    text = README.read_text()
    assert all(f"(cli/manual/{page.name})" in text for page in manual_page.pages())
    for page in PAGES:
        for link in re.findall(r"\]\(([^)]+)\)", page.read_text()):
            assert (page.parent / link).exists(), f"{page.name}: {link}"


def test_the_manual_is_read_on_the_screen() -> None:
    """Every page in 80 columns; commands and what programs print keep their lines."""
    for page in manual_page.pages():
        out = io.StringIO()
        manual_page.lay_out(Screen(out, 80, plain=False), page.read_text())
        lines = out.getvalue().splitlines()
        assert lines[0].endswith(page.read_text().splitlines()[0].removeprefix("# ")) or "\x1b" in lines[0]
        shown = [line[2:] for block in BLOCK.findall(page.read_text()) for line in block.splitlines()]
        assert all(any(part in line for line in lines) for part in shown if part.strip())
        assert "`" not in out.getvalue()


def test_every_yaml_block_of_the_manual_is_well_formed() -> None:
    blocks = [block for page in PAGES for block in re.findall(r"```yaml\n(.*?)```", page.read_text(), re.DOTALL)]
    assert blocks
    assert all(yaml.safe_load(block) for block in blocks)


@pytest.mark.parametrize("page", manual_page.pages(), ids=lambda page: page.stem)
def test_every_command_that_the_manual_names_is_there(page: Path) -> None:
    commands = set(get_command(app).list_commands(None))  # type: ignore[attr-defined, arg-type]
    named = re.findall(r"(?:`|^\$ |^    )chopstick ([a-z]+)", page.read_text(), re.MULTILINE)
    assert set(named) <= commands


def test_the_answer_file_of_the_manual_runs(tmp_path: Path) -> None:
    from datetime import datetime

    from chopstick.engine.reasoning import script

    text = (ROOT / "cli" / "manual" / "answer-files.md").read_text()
    sample = next(block for block in re.findall(r"```yaml\n(.*?)```", text, re.DOTALL) if block.startswith("job:"))
    path = tmp_path / "job.yaml"
    path.write_text(sample)
    session = Session(shipped_knowledge())
    run = script.run(script.read_answers(path, session), session, lambda: datetime(2026, 1, 1))
    assert run.standing.ranking.probability["baffle-nut-dug-in"] >= 0.8


def test_the_top_level_holds_what_it_should() -> None:
    import subprocess

    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.partition("/")[0] for line in tracked.splitlines()}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "kb", "engine", "cli", "tests",
    }  # fmt: skip
def test_python_is_claimed_and_set_up_alike_everywhere() -> None:
    """The setting that Python 3.13 wants stands in every command that installs, and each Python that is claimed may be
    taken by tests/run."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    claimed = re.findall(r"Python :: (3\.\d+)", " ".join(project["classifiers"]))
    script = (ROOT / "tests" / "run").read_text()
    for text in (README.read_text(), (ROOT / "DEVELOPERS.md").read_text(), script):
        assert FOR_LATER_PYTHONS.removeprefix("CPPFLAGS=") in text
        assert all("--no-cache-dir" in line for line in text.splitlines() if "-DPyEval" in line and "install" in line)
    low, high = claimed[0], f"3.{int(claimed[-1].partition('.')[2]) + 1}"
    assert project["requires-python"] == f">={low},<{high}"
    assert f"for candidate in {' '.join(f'python{one}' for one in claimed)} python3; do" in script
    assert f"Python {', '.join(claimed[:-1])} or {claimed[-1]}" in " ".join(README.read_text().split())
