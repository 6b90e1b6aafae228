"""The guide, 'How to add ...' in DEVELOPERS.md, followed to the letter on a copy of the repository."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from .tour import README

ROOT = README.parent
STEPS = ("a file", "a symptom", "a check", "a cause", "a repair", "a rule")  # their examples make one file, in this order


def chapter(name: str) -> str:
    """One chapter of the guide."""
    guide = (ROOT / "DEVELOPERS.md").read_text().partition("## How to add ...")[2]
    return guide.partition(f"\n### {name}\n")[2].partition("\n### ")[0]


def example(name: str, language: str = "yaml") -> str:
    """The first example of a chapter."""
    return chapter(name).partition(f"```{language}\n")[2].partition("```")[0]


def place(name: str, folder: str) -> str:
    """The file below a folder that a chapter names for its example."""
    (found,) = {path for path in re.findall(rf"`({folder}/[^`]*\.yaml)`", chapter(name)) if path == path.lower()}
    return found


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The repository with the examples put where the guide says."""
    copy = tmp_path_factory.mktemp("guide") / "checkout"
    ignore = shutil.ignore_patterns(".git", ".venv*", "__pycache__", "*.egg-info", "build", ".*_cache", ".hypothesis")
    shutil.copytree(ROOT, copy, ignore=ignore)
    fault = copy / place("a file", "kb/areas/[a-z]+")
    assert not fault.exists()
    fault.write_text("".join(example(step) for step in STEPS))
    (copy / place("and their test", "tests/sessions")).write_text(example("and their test"))
    for words in ("init -q", "add -A"):
        subprocess.run(["git", *words.split()], cwd=copy, check=True)
    # what the copy has goes before what is installed
    (copy.parent / "first" / "chopstick").mkdir(parents=True)
    for room in ("kb", "engine", "cli"):
        (copy.parent / "first" / "chopstick" / room).symlink_to(copy / room)
    return copy


@pytest.mark.parametrize("command", example("and their test", "sh").splitlines())
def test_what_the_guide_says_to_run_is_content(copy: Path, command: str) -> None:
    bin_ = Path(sys.executable).parent
    environment = {**os.environ, "PATH": f"{bin_}:{os.environ['PATH']}", "PYTHONPATH": str(copy.parent / "first")}
    ran = subprocess.run(command.split(), cwd=copy, env=environment, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    if command.endswith("kb check"):
        assert "0 errors, 0 warnings" in ran.stdout
    else:
        assert re.search(r"\b[1-9]\d* passed", ran.stdout)
        assert " skipped" not in ran.stdout


def test_the_copy_is_what_is_run(copy: Path) -> None:
    """And what is run is what the guide wrote."""
    code = "from chopstick.engine.knowledge import load; print(load.load().causes['switch-capacitor-leaky'].where)"
    environment = {**os.environ, "PYTHONPATH": str(copy.parent / "first")}
    ran = subprocess.run([sys.executable, "-c", code], cwd=copy, env=environment, capture_output=True, text=True, check=True)
    assert ran.stdout.startswith(place("a file", "kb/areas/[a-z]+"))


def test_a_pair_that_the_trade_can_not_part_is_written_as_the_guide_has_it() -> None:
    """Its causes are made up, so it is read and not put anywhere."""
    import yaml
    from chopstick.engine.knowledge.model import Inseparable

    (named,) = re.findall(r"```yaml\n(inseparable:.*?)```", chapter("a cause"), re.DOTALL)
    for id_, entry in yaml.safe_load(named)["inseparable"].items():
        Inseparable.model_validate({"id": id_, "where": {"file": "DEVELOPERS.md"}, **entry})
