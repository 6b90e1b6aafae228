"""Two benches on one job, and a bench that is killed in the middle of an answer, through the real prompt."""

from __future__ import annotations

import random
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.reasoning.log import Answer, Note

from ..amount import amount
from .conftest import Run
from .terminal import Terminal
from .test_terminal import CORD, LIVE

STAY = "Add yours after it anyway? [yes, no]"


@pytest.fixture
def bench(jobs: Path, opened: int) -> Iterator[Terminal]:
    terminal = Terminal(jobs, "bench", str(opened))
    terminal.shows(CORD)
    yield terminal
    terminal.close()


def test_what_the_other_bench_entered_is_told_and_one_s_own_follows(
    bench: Terminal, run: Run, jobs: Path, opened: int
) -> None:
    assert run("take", str(opened), "--note", "owner rang").code == 0
    told = "The job moved on: 1 entry from another bench (owner rang); yours is kept after them."
    bench.says("yes", told, LIVE)
    assert [entry.kind for entry in open_store(jobs).find(opened).log][3:] == ["note", "answer"]


@pytest.mark.parametrize(("reply", "kept"), [("no", ["yes"]), ("yes", ["yes", "no"])])
def test_the_same_check_answered_on_both_benches_is_asked(
    reply: str, kept: list[str], bench: Terminal, run: Run, jobs: Path, opened: int
) -> None:
    assert run("take", str(opened), "look-at-cord=yes").code == 0
    bench.says("no", "The job moved on", "The check 'look-at-cord' was entered there too.", STAY)
    bench.says(reply, "HOLD" if reply == "no" else "What that changed")
    log = open_store(jobs).find(opened).log
    assert [entry.answer for entry in log if isinstance(entry, Answer)] == kept


@pytest.mark.long
def test_killed_in_mid_answer_again_and_again_and_resumed(jobs: Path, opened: int) -> None:
    """Before, while and after the line is ended; what was kept is a whole beginning of what was typed."""
    choose = random.Random(1)
    kept = 0
    for when in ["while typing", "at the line's end", "after it"] * amount(1, 10):
        terminal = Terminal(jobs, "bench", str(opened))
        terminal.shows(CORD)
        terminal.child.send(f"note {kept}" + ("" if when == "while typing" else "\r"))
        if when == "after it":
            terminal.shows("Noted", CORD)
            terminal.child.send("note and one mo")
        time.sleep(choose.uniform(0.0, 0.3))
        terminal.child.kill(signal.SIGKILL)
        terminal.close()
        notes = [entry.text for entry in open_store(jobs).find(opened).log if isinstance(entry, Note)]
        assert len(notes) in (kept, kept + 1)
        assert notes == [str(number) for number in range(len(notes))]
        assert len(notes) == kept or when != "while typing"
        assert len(notes) == kept + 1 or when != "after it"
        kept = len(notes)
    assert [path.name for path in jobs.iterdir() if path.name != "jobs.sqlite"] in ([], ["jobs.sqlite-journal"])
