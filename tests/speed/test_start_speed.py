"""Starting: the version, and the first question at the bench. Counted in the processor time of the started process."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path

import pytest

from .conftest import Row
from .measure import child_s, installed, within

pytestmark = pytest.mark.speed
PROGRAM = [sys.executable, "-m", "chopstick.cli.main"]
ASKED = b"[yes, no]"  # the end of the question
WAITING = b"\x1b[?2004h"  # what a line editor sends when it begins to take a line: paste in brackets
LIBRARIES = "import numpy, pydantic, questionary, rich.console, rich.table, typer"
COMPLAINTS = ["hum-constant=it hums", "knob-crackle=the volume knob is scratchy"]


@pytest.fixture(scope="module")
def environment(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return installed(tmp_path_factory.mktemp("start"))


def test_the_version_against_a_bare_interpreter(environment: dict[str, str], row: Row) -> None:
    """Held to twice: where this checkout is installed to be edited, a bare start takes twice as long as elsewhere."""
    command = [sys.executable, "-c", "import sys; from chopstick.cli.__main__ import main; sys.argv[1:] = ['--version']; main()"]
    child_s(command, environment, 1)  # the modules are compiled once
    bare = child_s([sys.executable, "-c", "pass"], environment)
    version = child_s(command, environment)
    row(
        "`chopstick --version` against a bare interpreter start",
        f"{version / bare:.1f} times ({version * 1e3:.0f} ms against {bare * 1e3:.0f} ms)",
        "4 times",
    )
    assert version / bare < 2


def first_question_s(jobs: Path, environment: dict[str, str], until: bytes) -> float:
    """The processor time `bench` has taken in a terminal when its first question stands on the screen (ASKED), or when
    it also waits for the answer (WAITING)."""
    ours, theirs = pty.openpty()
    quiet = {"TERM": "xterm", "PROMPT_TOOLKIT_NO_CPR": "1", "COLUMNS": "80", "LINES": "24"}
    child = subprocess.Popen(
        [*PROGRAM, "bench", "1", "--jobs", str(jobs)], stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True,
        env={**environment, **quiet, "CHOPSTICK_LEVEL": "senior"},
    )  # fmt: skip
    os.close(theirs)
    seen = b""
    # To wait for the answer it still works a little after its last word, and then falls still.
    while select.select([ours], [], [], 0.5 if WAITING in seen else 60.0)[0]:
        seen += os.read(ours, 65536)
        if until == ASKED and ASKED in seen:
            break
    taken = time.clock_gettime(~child.pid << 3 | 2)  # Linux's clock of another process's time (clock_getcpuclockid)
    child.kill()
    child.wait()
    os.close(ours)
    assert until in seen, seen.decode(errors="replace")
    return taken


def test_the_first_question_of_bench(environment: dict[str, str], tmp_path: Path, row: Row) -> None:
    """A technician reads the question while the line editor is still being imported; what is typed meanwhile waits."""
    words = [word for complaint in COMPLAINTS for word in ("--complaint", complaint)]
    jobs = tmp_path / "jobs"
    intake = [*PROGRAM, "intake", *words, "--amp", "power-tube=6V6GT", "--jobs", str(jobs)]
    subprocess.run(intake, env=environment, stdin=subprocess.DEVNULL, capture_output=True, check=True)
    first_question_s(jobs, environment, WAITING)  # the modules are compiled once
    asked, waiting = (min(first_question_s(jobs, environment, until) for _ in range(4)) for until in (ASKED, WAITING))
    cold = first_question_s(jobs, {**environment, "XDG_CACHE_HOME": str(tmp_path / "empty")}, WAITING)
    libraries = child_s([sys.executable, "-c", LIBRARIES], environment, 3)
    row(
        "start of `bench` until its first question stands on the screen, knowledge from the cache",
        f"{asked:.2f} s; {waiting:.2f} s until it takes an answer, of which {libraries:.2f} s are for importing libraries",
        "0.5 s",
    )
    row("until it takes an answer when the knowledge has changed and is read and checked anew", f"{cold:.2f} s", "")
    assert asked < within(0.5)
    # A machine on which the libraries alone take longer than this share is a slow one, and is held to the share.
    assert waiting < within(0.5) or waiting < 2.6 * libraries
