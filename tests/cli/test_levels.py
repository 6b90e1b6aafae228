"""Junior and senior: how much is said, what is confirmed, and how sure a cause must be before its repair."""

from __future__ import annotations

from datetime import datetime

import pytest
from chopstick.cli.sitting.bench_sitting import step_page
from chopstick.engine.knowledge import cache
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning.log import Answer, Complaint, HoldAnswered, LogEntry, Opened, Reading
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.steps import Step

from .conftest import COMPLAINTS, SMALL, Run

AT = datetime(2026, 1, 1)
DONE = (Answer(at=AT, check="look-at-cord", answer="yes"), HoldAnswered(at=AT, hold="discharged", cleared=True))


@pytest.fixture(scope="module")
def log() -> list[LogEntry]:
    """A crackle without DC on the control: a dirty track is 85 percent sure."""
    return [
        Opened(at=AT, title="Small combo", fingerprint=""),
        Complaint(at=AT, says="it crackles", symptom="crackle"),
        Reading(at=AT, check="control-dc", values={"volts": 0.02}),
    ]


def test_at_85_per_cent_a_senior_is_told_to_repair_and_a_junior_to_have_it_looked_at(log: list[LogEntry]) -> None:
    for level, words in (("senior", "would cost more than they save"), ("junior", "have someone senior look at it")):
        now = Session(load(SMALL), level).read([*log, *DONE])
        assert now.ranking.probability["track-dirty"] == pytest.approx(0.85, abs=0.02)
        assert now.complaints[0].verdict == "repair"
        assert (now.next.kind, now.next.id) == ("repair", "clean-control")
        assert words in now.next.why


def test_the_level_changes_what_is_proposed_and_nothing_that_is_believed(log: list[LogEntry]) -> None:
    base = load(SMALL)
    senior, junior = (Session(base, level).read(log) for level in ("senior", "junior"))
    assert senior.ranking.probability == junior.ranking.probability
    assert senior.base.fingerprint == junior.base.fingerprint == base.fingerprint


def test_the_shipped_levels_ask_for_at_least_what_the_scale_asks_for() -> None:
    scale = cache.load().scale
    assert set(scale.sure_at) == {"junior", "senior"}
    assert scale.sure_at["junior"] > scale.sure_at["senior"] >= scale.sure


def test_a_senior_sees_where_and_what_is_normal_first_and_the_rest_on_request(log: list[LogEntry]) -> None:
    now = Session(load(SMALL)).read(log)
    above = step_page.strip(now, log, 1)
    junior, senior = (step_page.check(now, Step("check", "plates", why="w"), above, one) for one in ("junior", "senior"))
    assert junior.cautions == senior.cautions  # a caution is shorter for nobody
    labels = [block.label for block in junior.first]
    assert {"where", "how", "normal", "why now", "what each outcome would mean"} <= set(labels)
    assert junior.more == ()
    assert {block.label for block in senior.first} <= {"where", "normal", "expected", "perhaps"}
    assert {block.label for block in (*senior.first, *senior.more)} == set(labels)


def test_a_junior_confirms_cautions_and_safety_checks_and_a_senior_goes_straight_on(process: Run) -> None:
    process("intake", "--kb", str(SMALL), *COMPLAINTS)
    typed = "yes\nyes\n" + "skip\n" * 30
    senior = process("bench", "1", "--kb", str(SMALL), "--level", "senior", typed=typed)
    assert "Have you read this" not in senior.out
    process("intake", "--kb", str(SMALL), *COMPLAINTS)
    junior = process("bench", "2", "--kb", str(SMALL), "--level", "junior", typed="yes\nyes\nyes\nyes\nstop\n")
    assert "BEFORE POWER: the safety checks so far" in junior.out
    assert "Have you read this, and is it so? [yes, no]" in junior.out
    assert junior.out.index("Have you read this") < junior.out.index("CHECK: Measure the plates")


def test_the_setting_counts_where_nothing_is_said_and_a_wrong_one_is_named(process: Run) -> None:
    process("intake", "--kb", str(SMALL), *COMPLAINTS)
    ran = process("bench", "1", "--kb", str(SMALL), typed="yes\nyes\nstop\n", CHOPSTICK_LEVEL="senior")
    assert "BEFORE POWER" not in ran.out
    wrong = process("bench", "1", "--level", "master")
    assert wrong.code == 2
    assert "is one of: junior, senior" in wrong.err
