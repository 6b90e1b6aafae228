"""Starting: the version, and the first question at the bench. Counted in the processor time of the started process."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from ..cli.terminal import Terminal
from .conftest import Row
from .measure import BUSY, child_s, installed

PROGRAM = [sys.executable, "-m", "chopstick.cli.main"]
COMPLAINTS = ["hum-constant=it hums", "knob-crackle=the volume knob is scratchy"]


@pytest.fixture(scope="module")
def environment(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return installed(tmp_path_factory.mktemp("start"))


def test_the_version_against_a_bare_interpreter(environment: dict[str, str], row: Row) -> None:
    child_s([*PROGRAM, "--version"], environment, 1)  # the modules are compiled once
    bare = child_s([sys.executable, "-c", "pass"], environment)
    version = child_s([*PROGRAM, "--version"], environment)
    row(
        "`chopstick --version` against a bare interpreter start",
        f"{version / bare:.1f} times ({version * 1e3:.0f} ms against {bare * 1e3:.0f} ms)",
        "4 times",
    )
    assert version / bare < 4 * BUSY


def first_question_s(jobs: Path, environment: dict[str, str]) -> float:
    """The processor time `bench` has taken when it waits in a terminal for the answer to its first question."""
    terminal = Terminal(jobs, "bench", "1", kb=None, **environment)
    terminal.shows("load")
    os.kill(terminal.child.pid, signal.SIGKILL)
    _, _, used = os.wait4(terminal.child.pid, 0)
    return used.ru_utime + used.ru_stime


def test_the_first_question_of_bench(environment: dict[str, str], tmp_path: Path, row: Row) -> None:
    words = [word for complaint in COMPLAINTS for word in ("--complaint", complaint)]
    intake = [*PROGRAM, "intake", *words, "--amp", "power-tube=6V6GT", "--jobs", str(tmp_path / "jobs")]
    subprocess.run(intake, env=environment, stdin=subprocess.DEVNULL, capture_output=True, check=True)
    first_question_s(tmp_path / "jobs", environment)  # the modules are compiled once
    kept = min(first_question_s(tmp_path / "jobs", environment) for _ in range(3))
    cold = first_question_s(tmp_path / "jobs", {**environment, "XDG_CACHE_HOME": str(tmp_path / "empty")})
    row("start of `bench` to its first question, knowledge from the cache", f"{kept:.2f} s", "0.5 s")
    row("the same when the knowledge has changed and is read and checked anew", f"{cold:.2f} s", "")
    assert kept < 0.5 * BUSY
