"""The real prompts, in a real terminal."""

from __future__ import annotations

import os
import signal
import subprocess
import sysconfig
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from chopstick.engine.jobs.shop.agreement import agreed
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.reasoning.log import Note, Photo, standing

from .conftest import COMPLAINTS, SMALL, Run
from .terminal import Terminal

CORD = "Has it an earth wire? [yes, no]"
LIVE = "Are you set up to work with high voltage present? [yes, no]"
DISCHARGED = "every filter node below 50 V"
PLATE = "Reading 1 of 2. Plate to cathode (50 V to 800 V):"
VOLTS = "DC at the top of the control (-5 V to 60 V):"
READ = "Have you read this, and is it so? [yes, no]"


@pytest.fixture
def bench(jobs: Path, opened: int) -> Iterator[Terminal]:
    terminal = Terminal(jobs, "bench", str(opened))
    yield terminal
    terminal.close()


def kinds(jobs: Path, number: int) -> list[str]:
    return [entry.kind for _, entry in standing(open_store(jobs).find(number).log)]


def test_a_whole_session_with_a_slip_a_step_back_a_why_a_hold_a_stop_and_a_resume(
    bench: Terminal, jobs: Path, opened: int
) -> None:
    bench.shows(CORD, "CHECK: Look at the mains cord", "CAUTION Amp unplugged at the wall")
    assert "can kill" in bench.scrolled  # the standing caution comes before all
    bench.says("yess", "it takes: yes, no", "Did you mean 'yes'?", CORD)  # a slip
    bench.says("yes", "HOLD: stop here first", LIVE, "Look at the mains cord -> yes")
    bench.says("maybe", "whole word", LIVE)  # a hold takes nothing but yes
    bench.says("yes", "CHECK: Measure DC across the control", "Lethal voltage is present", VOLTS)
    bench.says("why", "It takes 4 min with moving the work to its stage", "Lethal voltage is present", VOLTS)
    bench.says("back", "Taken back: Are you set up", LIVE)
    bench.says("yes", "CHECK: Measure DC across the control", VOLTS)
    bench.says("2,5", "a comma may mean", VOLTS)  # refused with the reason
    bench.says("more", "what each outcome would mean", "none to speak of", VOLTS)
    bench.says("note hum came up when the lamp was touched", "Noted", VOLTS)
    bench.says("2.5 V", "Leaky coupling capacitor: 25% -> over 99%", PLATE)
    bench.type("stop")
    ending = bench.end()
    assert "Everything entered is kept" in ending
    assert ending.count("can kill") == 2
    assert bench.child.exitstatus == 0

    resumed = Terminal(jobs, "bench", str(opened))
    resumed.shows(PLATE, "Going on where it was left")
    resumed.says("462.5", "Reading 2 of 2. Cathode current of one tube", "Lethal voltage is present")
    resumed.says("28mA", "What that changed", "plate-volts 462.5 V", "share = ", "Supply too high for the tubes fitted")
    resumed.says("", DISCHARGED)
    resumed.says("yes", "REPAIR: Fit the rectifier", "Is it done? [done, later]")
    resumed.says("later", "REPAIR: Replace the coupling capacitor", "Is it done? [done, later]")
    resumed.says("done", "HOLD", LIVE)
    resumed.says("yes", "PROOF: Turn each control", "Does it still crackle? [yes, no]")
    resumed.type("no")  # what is left is the repair that was put off
    assert "Replace the coupling capacitor: proven." in resumed.end()
    assert kinds(jobs, opened) == [
        "opened", "complaint", "complaint", "answer", "hold", "note", "reading", "reading", "hold", "repair", "hold",
        "answer",
    ]  # fmt: skip


def test_a_note_a_photograph_and_a_reading_once_more(
    bench: Terminal, jobs: Path, opened: int, tmp_path: Path
) -> None:
    picture = tmp_path / "under the chassis.jpg"
    picture.write_bytes(b"\xff\xd8")
    bench.shows(CORD)
    bench.says("note", "note: (Enter for none)")
    bench.says("a bent lamp holder", "Noted", CORD)
    bench.says("photo /nowhere.jpg", "there is no such file", CORD)
    bench.says(f"photo {picture} the burnt socket", "Kept: photograph", CORD)
    bench.says("yes", LIVE)
    bench.says("yes", VOLTS)
    bench.says("0.02", PLATE)
    bench.says("plate 288 cathode 28", "What that changed", "plate-volts 288 V, cathode-current 28 mA")
    bench.says("", DISCHARGED)
    bench.says("again", "CHECK: Measure the plates at idle", PLATE)
    bench.says("plate 300 V cathode 30mA", "plate-volts 300 V, cathode-current 30 mA")
    bench.close()
    log = open_store(jobs).find(opened).log
    photo = next(entry for entry in log if isinstance(entry, Photo))
    assert (Path(photo.path), photo.text, photo.check) == (picture.resolve(), "the burnt socket", "look-at-cord")
    assert [entry.text for entry in log if isinstance(entry, Note)] == ["a bent lamp holder"]
    assert kinds(jobs, opened).count("reading") == 3


def test_back_from_the_page_of_a_result_asks_again(bench: Terminal, jobs: Path, opened: int) -> None:
    bench.shows(CORD)
    bench.says("yes", LIVE)
    bench.says("yes", VOLTS)
    bench.says("0.02", PLATE)
    bench.says("plate 288 cathode 28", "What that changed")
    bench.says("back", "Taken back: Measure the plates at idle", PLATE)
    bench.close()
    assert kinds(jobs, opened).count("reading") == 1


def test_several_answers_and_readings_on_one_line(bench: Terminal, jobs: Path, opened: int) -> None:
    bench.shows(CORD)
    bench.says("look-at-cord=yes plates.plate-volts=288 plates.cathode-current=28", "Not entered", "ready-for-live", CORD)
    bench.says("look-at-cord = yes sweep-ohms=perhaps", "'perhaps' is not an answer", CORD)
    assert kinds(jobs, opened) == ["opened", "complaint", "complaint"]
    bench.says("yes", LIVE)
    bench.says("yes", VOLTS)
    bench.says("plates.plate-volts=288 plates.cathode-current=28 control-dc=0.02 V", "What that changed")
    bench.close()
    assert kinds(jobs, opened)[-2:] == ["reading", "reading"]


def test_kill_9_loses_at_most_the_entry_being_typed(bench: Terminal, jobs: Path, opened: int) -> None:
    bench.shows(CORD)
    bench.says("yes", LIVE)
    bench.says("yes", VOLTS)
    bench.child.send("2.")  # in the middle of a reading
    bench.child.kill(signal.SIGKILL)
    bench.child.wait()
    assert kinds(jobs, opened) == ["opened", "complaint", "complaint", "answer", "hold"]
    resumed = Terminal(jobs, "bench", str(opened))
    resumed.shows(VOLTS)
    resumed.close()


@pytest.mark.parametrize("key", ["\x03", "\x04"], ids=["ctrl-c", "ctrl-d"])
def test_breaking_off_keeps_everything(key: str, bench: Terminal) -> None:
    bench.shows(CORD)
    bench.says("yes", LIVE)
    bench.child.send(key)
    ending = bench.end()
    assert "Everything entered is kept" in ending
    assert "Traceback" not in ending
    assert bench.child.exitstatus == 0


def test_tab_completes_answers_and_keys(bench: Terminal) -> None:
    bench.shows(CORD)
    bench.child.send("sto\t")
    bench.shows("> stop")
    bench.child.send("\r")
    assert "Everything entered is kept" in bench.end()


def test_intake_by_hand(jobs: Path) -> None:
    terminal = Terminal(jobs, "intake")
    terminal.shows("What should the job be called")
    terminal.says("Old combo", "bears on safety", "Mains voltage it was designed for")
    terminal.says("", "Mains voltage here")
    terminal.says("", "What mains cord")
    terminal.says("", "power transformer")
    terminal.says("", "What does the player say")
    terminal.says("the knob is all scratchy", "Crackles when a knob is turned", "Which is meant")
    terminal.says("9", "Type numbers from 1 to", "Which is meant")
    terminal.says("", "Left out", "What does the player say")
    terminal.says("the knob is all scratchy", "Which is meant")
    terminal.says("1", "What else")
    terminal.says("", "About the amp", "How was it kept")
    terminal.says("damp", "About the job", "Serial number")
    terminal.says("A 1044", "What have others done")
    terminal.says("", "What came with it")
    terminal.says("foot switch, cover", "What matters most")
    terminal.says("", "most the owner wants to spend")
    terminal.says("plenty", "not an amount of money", "most the owner wants to spend")
    terminal.says("150 EUR", "What day is it promised")
    terminal.type("2026-03-14")
    assert "Go on with: chopstick bench 1" in terminal.end()
    job = open_store(jobs).find(1)
    assert job.log[0].amp == {"storage": "damp"}  # type: ignore[union-attr]
    assert [entry.symptom for entry in job.log if entry.kind == "complaint"] == ["crackle"]
    told = agreed(job.log)
    assert (told.serial, told.accessories, told.budget) == ("A 1044", ("foot switch", "cover"), 150)
    assert told.promised == date(2026, 3, 14)


def test_piped_answers_work_and_the_end_of_input_stops(process: Run) -> None:
    process("intake", "--kb", str(SMALL), *COMPLAINTS)
    ran = process("bench", "1", "--kb", str(SMALL), "--level", "senior", typed="yes\nyes\n2.5\n")
    assert ran.code == 0
    assert "Everything entered is kept" in ran.out
    assert "\x1b" not in ran.out
    assert "-> 2.5 V" in ran.out


def test_a_job_stopped_at_a_hold_exits_with_3(process: Run) -> None:
    process("intake", "--kb", str(SMALL), "--complaint", "tingle=I get a shock off the strings")
    ran = process("bench", "1", "--kb", str(SMALL), typed="no\nno\nno\nno\n")
    assert ran.code == 3
    assert "Nothing more is offered until this is taken care of." in ran.out
    assert "Open holds" in ran.out


def test_input_that_is_no_text_is_asked_again(process: Run) -> None:
    process("intake", "--kb", str(SMALL), *COMPLAINTS)
    ran = process("bench", "1", "--kb", str(SMALL), typed=b"\xff\xfe\x00\nyes\nstop\n")
    assert ran.code == 0
    assert "-> yes" in ran.out


def test_completion_of_the_shell_knows_the_commands() -> None:
    """As a shell asks the installed command."""

    def completed(words: str, at: int) -> list[str]:
        asked = {"_CHOPSTICK_COMPLETE": "complete_bash", "COMP_WORDS": words, "COMP_CWORD": str(at)}
        command = [Path(sysconfig.get_path("scripts"), "chopstick")]
        return subprocess.run(command, env={**os.environ, **asked}, capture_output=True, text=True, check=True).stdout.split()

    assert completed("chopstick be", 1) == ["bench"]
    assert completed("chopstick kb che", 2) == ["check"]
    assert completed("chopstick zzz", 1) == []
