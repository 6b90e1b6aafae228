"""What is said about the ranking is what belief really does."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning.facts_that_matter import facts_that_matter
from chopstick.engine.reasoning.log import Answer, Complaint, LogEntry, Opened, Reading, RepairDone
from chopstick.engine.reasoning.minutes_spent import minutes_spent
from chopstick.engine.reasoning.outcomes import MOVES_WORTH_NAMING, meanings
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.to_have_ready import to_have_ready
from chopstick.engine.reports.reasons import reasons
from chopstick.engine.reports.triage import likely_areas

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
    why = reasons(now, "track-dirty")
    weight = next(one.log_odds for one in why.weights if one.finding == "track-rough")
    # By hand: with the finding, and with the log that only lacks it (the other answer's finding stays denied).
    said = [one for one in now.ranking.evidence if one.finding != "track-rough"]
    without = now.ranking.again(tuple(said)).probability["track-dirty"]
    odds = now.ranking.probability["track-dirty"] / (1 - now.ranking.probability["track-dirty"])
    assert weight == pytest.approx(math.log(odds) - math.log(without / (1 - without)))
    assert weight > 3


def test_what_an_answer_would_mean_is_what_it_then_does(session: Session) -> None:
    before = session.read(START)
    for meaning in meanings(before, "sweep-ohms", about="track-dirty"):
        after = session.read([*START, Answer(at=AT, check="sweep-ohms", answer=meaning.key)])
        told = next((move.after for move in meaning.moves), before.ranking.probability["track-dirty"])
        assert told == pytest.approx(after.ranking.probability["track-dirty"], abs=MOVES_WORTH_NAMING)


def test_chances_of_a_question_sum_to_one(session: Session) -> None:
    now = session.read([*START, Complaint(at=AT, says="hot", symptom="runs-hot")])
    assert sum(one.chance for one in meanings(now, "sweep-ohms")) == pytest.approx(1)
    assert sum(one.chance for one in meanings(now, "plates") if one.key == "share") == pytest.approx(1)


def test_nothing_is_promised_for_what_is_settled(session: Session) -> None:
    now = session.read([*START, Answer(at=AT, check="sweep-ohms", answer="rough")])
    assert meanings(now, "sweep-ohms") == ()


def test_minutes_count_checks_repairs_and_moves_but_not_what_was_skipped(session: Session) -> None:
    log: list[LogEntry] = [
        *START,
        Answer(at=AT, check="look-at-cord", answer="yes"),  # look, 1 min, where the work begins
        Answer(at=AT, check="turn-and-listen", answer="can't tell"),
        Answer(at=AT, check="sweep-ohms", answer="rough"),  # cold, 3 min, 4 to get there
        RepairDone(at=AT, repair="clean-control", cause="track-dirty"),  # cold, 10 min
        Answer(at=AT, check="turn-and-listen", answer="no"),  # play, 2 min, 2 to get there
    ]
    assert minutes_spent(session.read(log), log) == 1 + (4 + 3) + 10 + (2 + 2)


def test_a_rule_is_named_with_its_weight(session: Session) -> None:
    log = [
        *START,
        Complaint(at=AT, says="hot", symptom="runs-hot"),
        Reading(at=AT, check="plates", values={"plate-volts": 462.5, "cathode-current": 28.0}),
    ]
    why = reasons(session.read(log), "supply-too-high")
    assert [(one.rule, one.log_odds) for one in why.rules] == [("hot-and-high", pytest.approx(math.log(3)))]


def test_only_facts_that_some_cause_or_check_heeds_are_asked(base: KnowledgeBase) -> None:
    assert facts_that_matter(base, ["crackle"]) == ("storage",)
    assert facts_that_matter(base, ["runs-hot"]) == ("rectifier",)


def with_rule(base: KnowledgeBase, when: object) -> KnowledgeBase:
    """The small bench, where a tingle bears on safety, with one rule more that raises a hold."""
    area = base.areas["small"]
    rule = model.Rule.model_validate({"id": "ours", "when": when, "then": [{"hold": "earth-first"}], "because": "so"})
    return replace(base, areas={"small": area.model_copy(update={"rules": {**area.rules, "ours": rule}})})


@pytest.mark.parametrize("combined", ["all", "any", "not", "of"])
def test_facts_that_a_hold_on_a_danger_depends_on_are_asked_with_every_complaint(
    base: KnowledgeBase, combined: str
) -> None:
    parts = [{"finding": "tingle"}, {"amp": {"rectifier": "5AR4"}}]
    when = {
        "all": {"all": parts}, "any": {"any": parts}, "not": {"not": {"all": parts}}, "of": {"at_least": 2, "of": parts},
    }[combined]  # fmt: skip
    assert facts_that_matter(with_rule(base, when), ["crackle"]) == ("rectifier", "storage")
    harmless = {"all": [{"finding": "crackle"}, {"amp": {"rectifier": "5AR4"}}]}
    assert facts_that_matter(with_rule(base, harmless), ["crackle"]) == ("storage",)


def test_no_more_facts_are_asked_than_wanted_but_those_that_holds_depend_on(base: KnowledgeBase) -> None:
    ours = with_rule(base, {"all": [{"finding": "tingle"}, {"amp": {"rectifier": "5AR4"}}]})
    assert facts_that_matter(ours, ["crackle"], most=1) == ("rectifier",)
    assert facts_that_matter(ours, ["crackle"], most=0) == ("rectifier",)
    assert facts_that_matter(ours, ["crackle"], most=2) == ("rectifier", "storage")


def test_facts_that_a_figure_is_worked_out_from_are_asked(base: KnowledgeBase) -> None:
    """The tubes for their rating, the count by its own name, the rectifier for its limits; a number asks for nothing."""
    area = base.areas["small"]
    given = {"plate_V": "plate-volts", "cathode_mA": "cathode-current", "rating_W": 14.0}
    for source, asked in (("tube.plate_W", "power-tube"), ("rectifier.output_mA", "rectifier"), ("amp.storage", "storage")):
        figure = area.checks["plates"].figures["share"].model_copy(update={"given": {**given, "rating_W": source}})
        plates = area.checks["plates"].model_copy(update={"figures": {"share": figure}})
        ours = replace(base, areas={"small": area.model_copy(update={"checks": {**area.checks, "plates": plates}})})
        assert set(facts_that_matter(ours, ["runs-hot"])) == {"rectifier", asked}


def test_what_to_have_at_hand_is_for_what_comes_and_what_is_likely(session: Session) -> None:
    """The voltmeter for the DC; the cleaner and the capacitor, whose causes stand at 69 and 25 percent; no rectifier."""
    ready = to_have_ready(session.read(START))
    assert ready.tools == ("voltmeter",)
    assert [(part.part, part.cause) for part in ready.parts] == [
        ("contact cleaner", "track-dirty"),
        ("film capacitor", "capacitor-leaky"),
    ]
    sure = session.read([*START, Answer(at=AT, check="sweep-ohms", answer="rough")])
    assert [part.part for part in to_have_ready(sure).parts] == ["contact cleaner"], "the capacitor fell to 1 in 90"


def test_likely_areas_count_the_faults_to_be_expected(session: Session) -> None:
    """Only the causes that a complaint points to: those of hot tubes do not count for a crackle."""
    now = session.read(START)
    expected = now.ranking.probability["track-dirty"] + now.ranking.probability["capacitor-leaky"]
    assert [(one.area, one.expected) for one in likely_areas(now)] == [("small", pytest.approx(expected))]
    assert likely_areas(session.read(START[:1])) == ()


def test_what_would_turn_a_cause_is_told_the_strongest_first(session: Session) -> None:
    now = session.read(START)
    turns = reasons(now, "track-dirty").turns
    assert [turn.check for turn in turns] == ["sweep-ohms", "control-dc"]
    for turn in turns:
        after = [m.after for meaning in meanings(now, turn.check, about="track-dirty") for m in meaning.moves]
        assert (turn.lowest, turn.highest) == (min(after), max(after))
    assert turns[0].highest - turns[0].lowest > turns[1].highest - turns[1].lowest
    assert reasons(now, "earth-lost").turns[0].check == "look-at-cord"


def test_an_outcome_says_what_it_moves_most_and_in_which_band_it_lies(session: Session) -> None:
    now = session.read(START)
    smooth, rough = meanings(now, "sweep-ohms")
    assert (smooth.key, smooth.text, smooth.findings) == ("smooth", "smooth", ("track-smooth",))
    assert (rough.key, rough.text, rough.findings) == ("rough", "it jumps", ("track-rough",))
    assert [move.cause for move in rough.moves] == ["track-dirty", "capacitor-leaky"]
    hot, cool, *_ = meanings(now, "plates")
    assert (hot.above, hot.below, hot.findings) == (70.0, None, ("idle-hot",))
    assert (cool.above, cool.below, cool.findings) == (None, 70.0, ())
    # By hand: 1 less what none of the two hot causes (50 and 20 in 1,000, one at most) and no leak shows.
    shown = 0.05 * (1 - 0.05 * 0.98) + 0.02 * (1 - 0.45 * 0.98) + 0.93 * 0.02
    assert hot.chance == pytest.approx(shown)


def test_an_outcome_names_two_moves_unless_more_are_asked_for(base: KnowledgeBase) -> None:
    area = base.areas["small"]
    jack = area.causes["capacitor-leaky"].model_copy(update={"id": "jack-dirty", "shows": {"crackle": "usually"}})
    ours = replace(base, areas={"small": area.model_copy(update={"causes": {**area.causes, "jack-dirty": jack}})})
    now = Session(ours).read(START)
    rough = meanings(now, "sweep-ohms")[1]
    every = meanings(now, "sweep-ohms", most=9)[1]
    assert [move.cause for move in every.moves] == ["track-dirty", "capacitor-leaky", "jack-dirty"]
    assert rough.moves == every.moves[:2]
    for about in ("track-dirty", "capacitor-leaky", "jack-dirty"):
        assert [move.cause for move in meanings(now, "sweep-ohms", about=about)[1].moves] == [about]


def test_readings_entered_one_by_one_take_the_minutes_of_their_check_once(session: Session) -> None:
    volts = Reading(at=AT, check="plates", values={"plate-volts": 330.0})
    current = Reading(at=AT, check="plates", values={"cathode-current": 28.0})
    both = [*START, volts, current]
    assert minutes_spent(session.read(both), both) == 5 + 3
    again = [*both, volts.model_copy(update={"values": {"plate-volts": 331.0, "cathode-current": 28.0}})]
    assert minutes_spent(session.read(again), again) == 5 + 3 + 5, "measured anew"
    other = [*START, volts, Reading(at=AT, check="control-dc", values={"volts": 0.1}), current]
    assert minutes_spent(session.read(other), other) == 5 + 3 + 4 + 5


def test_a_rule_that_rules_out_or_lowers_is_told_with_its_sign(base: KnowledgeBase) -> None:
    area = base.areas["small"]
    then = [{"lower": "track-dirty", "by": "clearly"}, {"rule_out": "capacitor-leaky"}, {"advice": "Look."}]
    rule = model.Rule.model_validate({"id": "ours", "when": {"complaint": "crackle"}, "then": then, "because": "so"})
    ours = replace(base, areas={"small": area.model_copy(update={"rules": {**area.rules, "ours": rule}})})
    now = Session(ours).read(START)
    told = {cause: [(one.rule, one.log_odds) for one in reasons(now, cause).rules]
            for cause in ("track-dirty", "capacitor-leaky", "bias-too-hot")}  # fmt: skip
    assert told == {
        "track-dirty": [("ours", pytest.approx(-math.log(3)))], "capacitor-leaky": [("ours", None)], "bias-too-hot": [],
    }  # fmt: skip


def test_the_part_to_have_at_hand_is_that_of_the_repair_to_propose(base: KnowledgeBase) -> None:
    area = base.areas["small"]
    leaky = area.causes["capacitor-leaky"].model_copy(update={"repairs": ("replace-capacitor", "fit-rectifier")})
    ours = replace(base, areas={"small": area.model_copy(update={"causes": {**area.causes, leaky.id: leaky}})})
    ready = to_have_ready(Session(ours).read(START))
    assert [part.part for part in ready.parts if part.cause == "capacitor-leaky"] == ["film capacitor"]
