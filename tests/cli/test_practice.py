"""`chopstick practice`: the learner chooses, the amp answers, nothing is kept."""

from __future__ import annotations

import io
import shutil
import sys
from pathlib import Path

import pytest
from chopstick.cli import desk
from chopstick.cli.screen.plain_pages import Lines
from chopstick.cli.screen.prompts import Prompt
from chopstick.cli.screen.screen import Screen
from chopstick.cli.sitting.practice_sitting import Practising
from chopstick.cli.sitting.steering_words import KEYS
from chopstick.engine.knowledge.load import load
from chopstick.engine.knowledge.model import POWERED
from chopstick.engine.practice.amps import Amp, read
from chopstick.engine.practice.score import score
from chopstick.engine.reasoning.log import Answer, HoldAnswered, Reading
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reports.practice import PracticeScore
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .conftest import SMALL, Run
from .terminal import Terminal

AMP = """
job: A small combo that crackles
complaints: [{says: it crackles when I turn it, symptom: crackle}]
checks: {look-at-cord: "yes", control-dc: 2.5 V, sweep-ohms: smooth, turn-and-listen: "yes"}
repairs: {replace-capacitor: {turn-and-listen: "no"}}
truth: [capacitor-leaky]
"""


@pytest.fixture
def kb(tmp_path: Path) -> Path:
    """The small knowledge base, with one amp to practise on."""
    root = tmp_path / "kb"
    shutil.copytree(SMALL, root)
    (root / "practice").mkdir()
    (root / "practice" / "small.yaml").write_text(AMP)
    return root


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[Session, Amp]:
    session = Session(load(SMALL), "junior")
    path = tmp_path_factory.mktemp("amps") / "small.yaml"
    path.write_text(AMP)
    return session, read(path, session)


def play(process: Run, kb: Path, *lines: str, words: tuple[str, ...] = ()) -> PracticeScore:
    ran = process("practice", "--seed", "1", "--json", "--kb", str(kb), *words, typed="".join(f"{x}\n" for x in lines))
    assert ran.code == 0, ran.err
    return PracticeScore.model_validate_json(ran.out)


def test_going_as_proposed_is_worth_all_points(process: Run, kb: Path) -> None:
    told = play(process, kb, *["go"] * 12)
    assert told.points == 100
    assert told.found == ("capacitor-leaky",)
    assert (told.missed, told.unsafe, told.needless_repairs) == ((), (), ())
    assert told.checks == told.plan_checks
    assert [step.kind for step in told.plan_order] == ["check", "hold", "check", "hold", "repair", "hold", "proof"]


def test_ones_own_order_and_names(process: Run, kb: Path) -> None:
    told = play(
        process, kb, "do mains cord", "clear live", "do measure dc across", "clear discharged",
        "repair coupling capacitor", "clear live", "do turn each control", "finish", words=("--alone",),
    )  # fmt: skip
    assert told.found == ("capacitor-leaky",)
    assert told.unsafe == ()
    assert told.points == 100


def test_reaching_in_live_before_the_safety_check_is_refused_and_counted(process: Run, kb: Path) -> None:
    told = play(process, kb, "do control-dc", "do sweep-ohms", "finish")
    assert [move.what for move in told.unsafe] == ["Measure DC across the control", "Sweep the control on the ohmmeter"]
    assert told.checks == 0
    assert [missed.cause for missed in told.missed] == ["capacitor-leaky"]
    assert told.points == 0


def test_a_repair_of_the_wrong_part_changes_nothing(process: Run, kb: Path) -> None:
    told = play(process, kb, "clear discharged", "repair clean-control", "go", *["go"] * 12)
    assert told.needless_repairs == ("clean-control",)
    assert told.found == ("capacitor-leaky",)
    assert told.points < 95


def test_nothing_is_kept_among_the_jobs(process: Run, kb: Path, jobs: Path) -> None:
    play(process, kb, "go", "note only a trial", "stop")
    assert not jobs.exists()


def test_the_end_shows_what_was_wrong_and_the_plans_order(process: Run, kb: Path) -> None:
    ran = process("practice", "--seed", "1", "--kb", str(kb), typed="do control-dc\nback\nfinish\n")
    assert "In practice what was done is done" in ran.out
    assert "Practice 1: 0 of 100 points" in ran.out
    assert "Leaky coupling capacitor: MISSED" in ran.out
    assert "it shows at: Measure DC across the control" in ran.out.replace("\n", " ").replace("    ", "")
    assert "The order the plan would have gone" in ran.out
    assert "3.  Measure DC across the control (live): 2.5 V" in ran.out
    assert "The same amp again: chopstick practice --seed 1" in ran.out


LINES = st.one_of(
    st.sampled_from([*KEYS, "go", "go", "go", "finish", "do", "do control-dc", "do sweep", "do nothing", "clear", "clear live"]),
    st.sampled_from(["clear discharged", "repair clean-control", "repair 1", "repair capacitor", "find e", "again", "? plate"]),
    st.text(max_size=20),
)


@given(typed=st.lists(LINES, max_size=40), alone=st.booleans())
@settings(max_examples=amount(40, 800))
def test_anything_may_be_typed(
    typed: list[str], alone: bool, small: tuple[Session, Amp], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No crash, always an end, and nothing under power before the safety check and the hold."""
    session, amp = small
    lines = "".join(f"{line}\n" for text in typed for line in [" ".join(text.splitlines())])
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    sitting = Practising(amp, session, Lines(Screen(), Prompt(Screen())), 1, "junior", alone)
    sitting.run()
    monkeypatch.undo()
    done: set[str] = set()
    for entry in sitting.job.log:
        if isinstance(entry, HoldAnswered) and entry.cleared:
            done.add(entry.hold)
        if isinstance(entry, Answer | Reading):
            done.add(entry.check)
            if session.base.checks[entry.check].stage in POWERED:
                assert {"look-at-cord", "ready-for-live"} <= done
    result = score(session, amp, sitting.job.log, sitting.unsafe, desk.now)
    assert 0 <= result.points <= 100


def test_in_a_terminal_the_caution_stands_with_the_choice(jobs: Path, kb: Path) -> None:
    terminal = Terminal(jobs, "practice", "--seed", "1", kb=kb)
    terminal.shows("PROPOSED: Look at the mains cord", "CAUTION Amp unplugged", "it crackles when I turn it", "[go, do")
    terminal.says("find control", "Measure DC across the control", "Clean the control", "CAUTION Amp unplugged")
    terminal.says("more", "count the pins of the plug", "CAUTION Amp unplugged")
    terminal.says("do control-dc", "UNSAFE", "On a real amp this can kill")
    terminal.says("go", "Look at the mains cord -> yes", "PROPOSED: clear the hold", "Chassis propped")
    terminal.type("finish")
    assert "of 100 points" in terminal.end()
