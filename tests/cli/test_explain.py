"""What is said about the ranking is what belief really does."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning import explain
from chopstick.engine.reasoning.log import Answer, Complaint, LogEntry, Opened, Reading, RepairDone
from chopstick.engine.reasoning.session import Session

from .conftest import SMALL

AT = datetime(2026, 1, 1, tzinfo=UTC)
START: list[LogEntry] = [
    Opened(at=AT, title="t", fingerprint="f"),
    Complaint(at=AT, says="it crackles", symptom="crackle"),
]


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return load(SMALL)


@pytest.fixture(scope="module")
def session(base: KnowledgeBase) -> Session:
    return Session(base)


def test_a_weight_is_log_odds_with_less_log_odds_without(session: Session) -> None:
    rough = Answer(at=AT, check="sweep-ohms", answer="rough")
    now = session.read([*START, rough])
    why = explain.reasons(now, "track-dirty")
    weight = next(one.log_odds for one in why.weights if one.said.finding == "track-rough")
    # By hand: with the finding, and with the log that only lacks it (the other answer's finding stays denied).
    said = [one for one in now.ranking.evidence if one.finding != "track-rough"]
    without = now.ranking.again(tuple(said)).probability["track-dirty"]
    odds = now.ranking.probability["track-dirty"] / (1 - now.ranking.probability["track-dirty"])
    assert weight == pytest.approx(math.log(odds) - math.log(without / (1 - without)))
    assert weight > 3


def test_what_an_answer_would_mean_is_what_it_then_does(session: Session) -> None:
    before = session.read(START)
    for meaning in explain.meanings(before, "sweep-ohms", about="track-dirty"):
        after = session.read([*START, Answer(at=AT, check="sweep-ohms", answer=meaning.key)])
        told = next((move.after for move in meaning.moves), before.ranking.probability["track-dirty"])
        assert told == pytest.approx(after.ranking.probability["track-dirty"], abs=explain.MOVES_WORTH_NAMING)


def test_chances_of_a_question_sum_to_one(session: Session) -> None:
    now = session.read([*START, Complaint(at=AT, says="hot", symptom="runs-hot")])
    assert sum(one.chance for one in explain.meanings(now, "sweep-ohms")) == pytest.approx(1)
    assert sum(one.chance for one in explain.meanings(now, "plates") if one.key == "share") == pytest.approx(1)


def test_nothing_is_promised_for_what_is_settled(session: Session) -> None:
    now = session.read([*START, Answer(at=AT, check="sweep-ohms", answer="rough")])
    assert explain.meanings(now, "sweep-ohms") == ()


def test_minutes_count_checks_repairs_and_moves_but_not_what_was_skipped(session: Session) -> None:
    log: list[LogEntry] = [
        *START,
        Answer(at=AT, check="look-at-cord", answer="yes"),  # look, 1 min, where the work begins
        Answer(at=AT, check="turn-and-listen", answer="can't tell"),
        Answer(at=AT, check="sweep-ohms", answer="rough"),  # cold, 3 min, 4 to get there
        RepairDone(at=AT, repair="clean-control", cause="track-dirty"),  # cold, 10 min
        Answer(at=AT, check="turn-and-listen", answer="no"),  # play, 2 min, 2 to get there
    ]
    assert explain.minutes_spent(session.read(log), log) == 1 + (4 + 3) + 10 + (2 + 2)


def test_a_rule_is_named_with_its_weight(session: Session) -> None:
    log = [
        *START,
        Complaint(at=AT, says="hot", symptom="runs-hot"),
        Reading(at=AT, check="plates", values={"plate-volts": 453.5, "cathode-current": 28.0}),
    ]
    why = explain.reasons(session.read(log), "supply-too-high")
    assert [(one.rule, one.log_odds) for one in why.rules] == [("hot-and-high", pytest.approx(math.log(3)))]


def test_only_facts_that_some_cause_or_check_heeds_are_asked(base: KnowledgeBase) -> None:
    assert explain.facts_that_matter(base, ["crackle"]) == ("storage",)
    assert explain.facts_that_matter(base, ["runs-hot"]) == ("rectifier",)
