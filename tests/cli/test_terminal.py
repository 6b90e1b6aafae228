"""The real prompts, in a real terminal of 80 columns and 24 lines."""

from __future__ import annotations

import os
import re
import signal
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pexpect
import pyte
import pytest
from chopstick.engine.jobs.agreed import agreed
from chopstick.engine.jobs.store import open_store
from chopstick.engine.reasoning.log import standing

from .conftest import COMPLAINTS, SMALL, Run

PLAIN = {"TERM": "xterm", "PROMPT_TOOLKIT_NO_CPR": "1"}  # nothing here answers where the cursor is


class Terminal:
    """A command in a pseudo-terminal, with what its screen shows."""

    def __init__(self, jobs: Path, *words: str, **environment: str) -> None:
        self.screen = pyte.Screen(80, 24)
        self.stream = pyte.Stream(self.screen)
        self.raw = ""
        self.child = pexpect.spawn(
            sys.executable,
            ["-m", "chopstick.cli.main", *words, "--kb", str(SMALL)],
            dimensions=(24, 80),
            encoding="utf-8",
            timeout=20,
            env={**os.environ, "CHOPSTICK_JOBS": str(jobs), **PLAIN, **environment},
        )

    def wait(self, text: str) -> str:
        """Wait for a text, and give what was written up to it, without its escape sequences."""
        self.child.expect(text)
        written = str(self.child.before) + str(self.child.after)
        self.raw += written
        self.stream.feed(written)
        return re.sub(r"\x1b\[[0-?]*[ -/]*[@-~]", "", written)

    def type(self, line: str) -> None:
        self.child.send(line + "\r")

    def reply(self, line: str, says: str, prompt: str = "") -> str:
        """Type a line, wait for what is said to it and then for the next prompt; give both."""
        self.type(line)
        return self.wait(says) + (self.wait(prompt) if prompt else "")

    def end(self) -> str:
        """Wait for the end of the command; what was written until then."""
        self.child.expect(pexpect.EOF)
        self.raw += str(self.child.before)
        self.stream.feed(str(self.child.before))
        self.child.close()
        return str(self.child.before)

    @property
    def lines(self) -> list[str]:
        return [line.rstrip() for line in self.screen.display]


@pytest.fixture
def bench(jobs: Path, opened: int) -> Iterator[Terminal]:
    terminal = Terminal(jobs, "bench", str(opened))
    yield terminal
    terminal.child.close(force=True)


CORD = r"Has it an earth wire\? \[yes, no\]"
LIVE = r"Are you set up to work with high voltage present\? \[yes, no\]"
DISCHARGED = "every filter node below 50 V"
PLATE = r"Plate to cathode \(50 V to 800 V\):"
VOLTS = r"DC at the top of the control \(-5 V to 60 V\):"


def test_a_whole_session_with_a_slip_an_undo_a_why_a_hold_a_stop_and_a_resume(
    bench: Terminal, jobs: Path, opened: int
) -> None:
    first = bench.wait(CORD)
    assert "can kill" in first  # the standing caution comes first
    assert "Look at the mains cord" in first
    assert "why now" in first
    bench.reply("yess", "it takes: yes, no", CORD)  # a slip
    bench.reply("yes", "HOLD: stop here first", LIVE)
    bench.reply("maybe", "whole word", LIVE)  # a hold takes nothing but yes
    shown = bench.reply("yes", "CHECK: Measure DC across the control", VOLTS)
    assert "Lethal voltage is present" in shown
    assert "none to speak of" in shown  # what each outcome would mean
    bench.reply("why", "It bears on:", VOLTS)
    bench.reply("undo", "Taken back: Are you set up", LIVE)
    bench.reply("yes", "CHECK: Measure DC across the control", VOLTS)
    bench.reply("2,5", "a comma may mean", VOLTS)  # refused with the reason
    bench.reply("2.5 V", r"Leaky coupling capacitor: \d+% -> over 99%", PLATE)
    bench.reply("note hum came up when the lamp was touched", "Noted", PLATE)
    bench.type("stop")
    ending = bench.end()
    assert "Everything entered is kept" in ending
    assert "can kill" in re.sub(r"\s+", " ", ending)
    assert bench.child.exitstatus == 0

    resumed = Terminal(jobs, "bench", str(opened))
    assert "Going on where it was left" in resumed.wait(PLATE)
    resumed.reply("453.5", "Cathode current of one tube")
    resumed.reply("28mA", "share = ", DISCHARGED)  # the worked figure
    done = r"Is it done\? \[done, later\]"
    resumed.reply("yes", "REPAIR: Fit the rectifier", done)
    resumed.reply("later", "REPAIR: Replace the coupling capacitor", done)
    resumed.reply("done", "HOLD", LIVE)
    resumed.reply("yes", "PROOF: Turn each control", r"Does it still crackle\? \[yes, no\]")
    resumed.reply("no", r"Replace the coupling capacitor: proven\.", DISCHARGED)
    resumed.child.close(force=True)
    kinds = [entry.kind for _, entry in standing(open_store(jobs).find(opened).log)]
    assert kinds == [
        "opened", "complaint", "complaint", "answer", "hold", "reading", "note", "reading", "hold", "repair", "hold",
        "answer",
    ]  # fmt: skip


def test_a_check_fits_a_screen_of_24_lines(bench: Terminal) -> None:
    bench.wait(CORD)
    bench.type("yes")
    bench.wait(LIVE)
    bench.type("yes")
    bench.wait(VOLTS)
    assert any(line.startswith("CHECK: Measure DC across the control") for line in bench.lines)
    assert bench.lines[-1].startswith("> DC at the top") or bench.lines[bench.screen.cursor.y].startswith("> DC")
    bench.child.close(force=True)


def test_kill_9_loses_at_most_the_entry_being_typed(bench: Terminal, jobs: Path, opened: int) -> None:
    bench.wait(CORD)
    bench.type("yes")
    bench.wait(LIVE)
    bench.type("yes")
    bench.wait(VOLTS)
    bench.child.send("2.")  # in the middle of a reading
    bench.child.kill(signal.SIGKILL)
    bench.child.wait()
    assert [entry.kind for entry in open_store(jobs).find(opened).log] == ["opened", "complaint", "complaint", "answer", "hold"]
    resumed = Terminal(jobs, "bench", str(opened))
    resumed.wait(VOLTS)
    resumed.child.close(force=True)


@pytest.mark.parametrize("key", ["\x03", "\x04"], ids=["ctrl-c", "ctrl-d"])
def test_breaking_off_keeps_everything(key: str, bench: Terminal) -> None:
    bench.wait(CORD)
    bench.type("yes")
    bench.wait(LIVE)
    bench.child.send(key)
    ending = bench.end()
    assert "Everything entered is kept" in ending
    assert "Traceback" not in ending
    assert bench.child.exitstatus == 0


def test_tab_completes_answers_and_keys(bench: Terminal) -> None:
    bench.wait(CORD)
    bench.child.send("sto")
    bench.wait("sto")
    bench.child.send("\t")
    bench.wait("p")
    bench.child.send("\r")
    assert "Everything entered is kept" in bench.end()


def test_no_color_writes_no_colour_in_a_terminal(jobs: Path, opened: int) -> None:
    terminal = Terminal(jobs, "bench", str(opened), NO_COLOR="1")
    terminal.wait(CORD)
    terminal.type("stop")
    terminal.end()
    codes = {code for found in re.findall(r"\x1b\[([0-9;]*)m", terminal.raw) for code in found.split(";")}
    assert codes <= {"", "0", "1", "2"}  # nothing but bold, dim and back


def test_intake_by_hand(jobs: Path) -> None:
    terminal = Terminal(jobs, "intake")
    terminal.wait("What shall the job be called")
    terminal.reply("Old combo", "bears on safety", "Mains voltage it was designed for")
    terminal.reply("", "Mains voltage here")
    terminal.reply("", "What mains cord")
    terminal.reply("", "What does the player say")
    terminal.reply("the knob is all scratchy", "Crackles when a knob is turned", "Which is meant")
    terminal.reply("9", "Type a number from 1 to", "Which is meant")
    terminal.reply("1", "What else")
    terminal.reply("", "About the amp", "How was it kept")
    terminal.reply("damp", "About the job", "Serial number")
    terminal.reply("A 1044", "What have others done")
    terminal.reply("", "What came with it")
    terminal.reply("foot switch, cover", "What matters most")
    terminal.reply("", "most the owner wants to spend")
    terminal.reply("plenty", "no sum of money", "most the owner wants to spend")
    terminal.reply("150 EUR", "For which day")
    terminal.type("2026-03-14")
    ending = terminal.end()
    assert "Go on with: chopstick bench 1" in ending
    job = open_store(jobs).find(1)
    assert job.log[0].amp == {"storage": "damp"}  # type: ignore[union-attr]
    assert [entry.symptom for entry in job.log if entry.kind == "complaint"] == ["crackle"]
    told = agreed(job.log)
    assert (told.serial, told.accessories, told.budget) == ("A 1044", ("foot switch", "cover"), 150)
    assert told.promised == date(2026, 3, 14)


def test_a_dumb_terminal_gets_plain_lines(jobs: Path, opened: int) -> None:
    terminal = Terminal(jobs, "bench", str(opened), TERM="dumb")
    terminal.wait(CORD)
    terminal.type("stop")
    assert "\x1b" not in terminal.raw + terminal.end()


def test_piped_answers_work_and_the_end_of_input_stops(process: Run) -> None:
    process("intake", "--kb", str(SMALL), *COMPLAINTS)
    ran = process("bench", "1", "--kb", str(SMALL), typed="yes\nyes\n2.5\n")
    assert ran.code == 0
    assert "Everything entered is kept" in ran.out
    assert "\x1b" not in ran.out
    assert "-> 2.5 V" in ran.out


def test_a_job_stopped_at_a_hold_exits_with_3(process: Run) -> None:
    process("intake", "--kb", str(SMALL), "--complaint", "tingle=I get a shock off the strings")
    ran = process("bench", "1", "--kb", str(SMALL), typed="no\nno\nno\nno\n")
    assert ran.code == 3
    assert "Nothing more is offered until this is put right." in ran.out
    assert "Open holds" in ran.out


def test_input_that_is_no_text_is_asked_again(process: Run) -> None:
    process("intake", "--kb", str(SMALL), *COMPLAINTS)
    ran = process("bench", "1", "--kb", str(SMALL), typed=b"\xff\xfe\x00\nyes\nstop\n")
    assert ran.code == 0
    assert "-> yes" in ran.out


def test_completion_of_the_shell_knows_the_commands(process: Run) -> None:
    environment = {"_CHOPSTICK_COMPLETE": "complete_bash", "COMP_WORDS": "chopstick be", "COMP_CWORD": "1"}
    ran = process(**environment)
    assert "bench" in ran.out
