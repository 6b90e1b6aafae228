"""The worth of a check in bench minutes, against the same sums written out one by one."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning import plan
from chopstick.engine.reasoning.facts import Said
from chopstick.engine.reasoning.log import Complaint, LogEntry, Opened
from chopstick.engine.reasoning.plan import Costs, Target, Worth, remaining_minutes, repair_order, worthwhile
from chopstick.engine.reasoning.session import Session, Standing
from hypothesis import given
from hypothesis import strategies as st

from ..shipped import shipped_knowledge
from .conftest import AT, read, with_rule

Job = Callable[..., list[LogEntry]]


def by_hand(probability: list[float], targets: list[Target], costs: Costs) -> float:
    """The minutes ahead for one row of probabilities: for each target, every length of the list of repairs is costed and
    the cheapest is taken."""
    total, reached = 0.0, [0.0] * len(probability)
    for target in targets:
        order = sorted(target.columns, key=lambda cause: -probability[cause] / costs.repair[cause])
        offers = []
        for tried in range(len(order) + 1):
            left, spent, before = 1.0, 0.0, {}
            for cause in order[:tried]:
                before[cause] = left
                spent += left * costs.repair[cause]
                left = max(0.0, left - probability[cause])
            given_up = target.weight * costs.unexplained * left
            offers.append((spent + given_up, tried, given_up, before))
        _, _, given_up, before = min(offers, key=lambda offer: offer[:2])
        best = max(probability[cause] for cause in target.columns)
        total += given_up + target.weight * costs.hunch * (1 - best + (1 if best < costs.sure else 0))
        for cause, share in before.items():
            reached[cause] = max(reached[cause], share)
    return total + sum(share * minutes for share, minutes in zip(reached, costs.repair, strict=True))


@given(st.integers(0, 10_000))
def test_the_minutes_ahead_are_those_of_the_cheapest_plan(seed: int) -> None:
    draw = np.random.default_rng(seed)
    causes = int(draw.integers(1, 6))
    targets = [
        Target(
            Said(f"complaint-{number}", True, number, ""),
            tuple(sorted(draw.choice(causes, int(draw.integers(1, causes + 1)), replace=False).tolist())),
            float(draw.choice([0.25, 1.0])),
        )
        for number in range(int(draw.integers(1, 4)))
    ]
    costs = Costs(draw.uniform(5, 60, causes), 120.0, 40.0, 0.8)
    rows = draw.dirichlet(np.ones(causes + 1), 3)[:, :causes]
    found = remaining_minutes(rows, targets, costs)
    assert found == pytest.approx([by_hand(row.tolist(), targets, costs) for row in rows])


def test_one_sure_cause_costs_its_repair_and_what_is_left_of_doubt() -> None:
    """At 90 percent: the repair of 30 minutes, a tenth of the 120 for what nothing explains, a tenth of a hunch. At
    60 percent it is below what is sure, which costs a hunch more."""
    target = Target(Said("hum", True, 2, ""), (0,), 1.0)
    costs = Costs(np.array([30.0]), 120.0, 40.0, 0.8)
    sure, hunch = remaining_minutes(np.array([[0.9], [0.6]]), [target], costs)
    assert sure == pytest.approx(30 + 0.1 * 120 + 0.1 * 40)
    assert hunch == pytest.approx(30 + 0.4 * 120 + 0.4 * 40 + 40)
    assert remaining_minutes(np.array([[0.8]]), [target], costs)[0] == pytest.approx(30 + 24 + 8), "sure from 80 percent on"


def test_a_repair_that_serves_two_complaints_is_paid_once() -> None:
    one, other = (Target(Said(said, True, 2, ""), (0,), 1.0) for said in ("hum", "weak"))
    costs = Costs(np.array([30.0]), 120.0, 40.0, 0.8)
    row = np.array([[0.9]])
    assert remaining_minutes(row, [one, other], costs)[0] == pytest.approx(30 + 2 * (12 + 4))


def test_what_is_too_improbable_to_try_is_given_up() -> None:
    """A 10 percent cause spares 12 of the 120 minutes: worth a repair of 5 minutes, not one of 30."""
    target = Target(Said("hum", True, 2, ""), (0,), 1.0)
    hunch = 40 * (0.9 + 1)
    for minutes, ahead in ((5.0, 5 + 0.9 * 120), (30.0, 120.0)):
        costs = Costs(np.array([minutes]), 120.0, 40.0, 0.8)
        assert remaining_minutes(np.array([[0.1]]), [target], costs)[0] == pytest.approx(ahead + hunch)


def ahead_of(now: Standing) -> float:
    return float(remaining_minutes(now.ranking.posterior.probability, now.ahead.targets, now.ahead.costs)[0])


@pytest.mark.parametrize(
    ("check", "finding", "answers"),
    [("pot-ohms", "dc-on-pot", {True: "yes", False: "no"}), ("pot-dc", "dc-on-pot", {True: "900 mV", False: "2 mV"})],
)
def test_a_check_saves_what_its_answers_leave_less_to_do(
    session: Session, job: Job, check: str, finding: str, answers: dict[bool, str]
) -> None:
    """Each answer is really given, and what is then ahead, for the complaint, is weighed by how probable the answer was."""
    start = [("look-at-plug", "yes")]
    now = session.read(job("knob-crackle", then=start))
    worth = next(one for one in now.worths if one.check == check)
    chance = dict(worth.outcomes)
    assert sum(chance.values()) == pytest.approx(1)
    expected = 0.0
    for there, typed in answers.items():
        after = session.read(job("knob-crackle", then=[*start, (check, typed)]))
        told = remaining_minutes(after.ranking.posterior.probability, now.ahead.targets, now.ahead.costs)[0]
        log_chance = after.ranking.posterior.log_evidence[0] - now.ranking.posterior.log_evidence[0]
        p = chance[(finding,) if there else ()]
        assert p == pytest.approx(np.exp(log_chance), rel=1e-6)
        expected += p * float(told)
    assert worth.saves == pytest.approx(ahead_of(now) - expected, rel=1e-6)


def test_moving_to_another_stage_of_work_costs_minutes_but_staying_does_not(session: Session, job: Job) -> None:
    """3 minutes for the DC and 3 to go live; 4 for the ohms and 4 to be unplugged and discharged; 2 back at the panel."""
    start = [("look-at-plug", "yes")]
    minutes = {one.check: one.minutes for one in session.read(job("knob-crackle", then=start)).worths}
    assert minutes == {"pot-dc": 3 + 3, "pot-ohms": 4 + 4}
    live = session.read(job("knob-crackle", then=[*start, ("look-at-plates", "no")]))
    assert {one.check: one.minutes for one in live.worths} == {"pot-dc": 3, "pot-ohms": 4 + 4}
    nowhere = plan.worths(live.ahead, live.plan.open_checks(), live.facts.latest(), {})
    assert {one.check: one.minutes for one in nowhere} == {"pot-dc": 3, "pot-ohms": 4}, "nothing said of moves: none"
    assert live.plan.moves() == {"idle": 0, "pot-dc": 0, "pot-ohms": 4, "turn-it": 2}
    scale = session.base.scale.model_copy(update={"change_of_stage_minutes": {"cold": 4}})
    unsaid = replace(live.plan, base=replace(session.base, scale=scale)).moves()
    assert unsaid == {"idle": 0, "pot-dc": 0, "pot-ohms": 4, "turn-it": 0}, "a stage left out takes no time"


def test_a_check_is_worthwhile_when_it_saves_more_than_it_costs() -> None:
    found = [Worth("even", 6.0, 6.0, ()), Worth("better", 6.1, 6.0, ()), Worth("nothing", 0.0, 1.0, ())]
    assert [one.check for one in worthwhile(found)] == ["better"]
    assert found[1].rate == pytest.approx(6.1 / 6.0)


def test_a_check_that_would_only_unsettle_saves_nothing_and_not_less() -> None:
    """A dirty track at 69 percent: the ohmmeter would most often take it down to 28, and more would be left to do."""
    small = Session(load(Path(__file__).parent.parent / "cli" / "kb"))
    log: list[LogEntry] = [
        Opened(at=AT, title="job", fingerprint=""), Complaint(at=AT, says="it crackles", symptom="crackle")
    ]  # fmt: skip
    assert {one.check: one.saves for one in small.read(log).worths}["sweep-ohms"] == 0


def test_repairs_go_by_probability_over_cost_then_by_name() -> None:
    minutes = {"tube": 5.0, "socket": 40.0, "transformer": 60.0, "cord": 10.0}
    probability = {"transformer": 0.6, "socket": 0.3, "tube": 0.3, "cord": 0.1}
    assert repair_order(probability, minutes) == ("tube", "cord", "transformer", "socket")
    assert repair_order({"b": 0.5, "a": 0.5}, {"a": 5.0, "b": 5.0}) == ("a", "b")


def test_of_more_checks_than_are_worked_through_those_are_kept_that_tell_most_a_minute_of_what_is_nearest_to_even(
    base: KnowledgeBase, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The DC takes 3 minutes and tells of a capacitor at 23 percent, the idle 6 of a bias at 49. With the capacitor at 3
    percent there is little left to tell of it."""
    monkeypatch.setattr(plan, "MOST_LOOKED_AHEAD", 1)
    log = job("knob-crackle", "tubes-run-hot", amp={"power-tube": "6V6GT"}, then=[("look-at-plug", "yes")])
    lowered = with_rule(base, {"complaint": "knob-crackle"}, {"lower": "capacitor-leaky", "by": "strongly"})
    for ours, kept in ((base, "pot-dc"), (lowered, "idle")):
        assert [one.check for one in read(ours, log).worths] == [kept]


def test_a_repaired_cause_has_nothing_more_to_tell(session: Session, job: Job) -> None:
    start = [("look-at-plug", "yes")]
    assert {one.check for one in session.read(job("knob-crackle", then=start)).worths} == {"pot-dc", "pot-ohms"}
    mended = session.read(job("knob-crackle", then=[*start, ("repair:change-capacitor", "capacitor-leaky")]))
    assert mended.worths == []


def test_a_repair_costs_its_minutes_and_those_of_its_proof(session: Session, base: KnowledgeBase, job: Job) -> None:
    now = session.read(job("knob-crackle"))
    costs = dict(zip(now.ranking.causes.ids, now.ahead.costs.repair.tolist(), strict=True))
    assert costs == {
        "track-dirty": 5 + 1, "track-worn": 20 + 1, "capacitor-leaky": 15 + 3, "bias-off": 40 + 6, "earth-missing": 30 + 1,
    }  # fmt: skip
    scale = session.base.scale
    assert (now.ahead.costs.unexplained, now.ahead.costs.hunch) == (scale.unexplained_minutes, scale.hunch_minutes)
    ours = with_rule(
        base, {"complaint": "knob-crackle"}, {"repair_minutes": "clean-pot", "times": 3}, {"check_minutes": "turn-it", "add": 2}
    )
    changed = read(ours, job("knob-crackle")).ahead.costs.repair.tolist()
    assert changed == [5 * 3 + 1 + 2, 20 + 1 + 2, 18, 46, 31]


def test_what_is_to_be_explained_is_what_is_there_and_not_dealt_with(session: Session, job: Job) -> None:
    """A finding weighs a quarter of a complaint; what is repaired can no longer explain; what is absent asks nothing."""

    def asked(*symptoms: str, then: list[tuple[str, object]]) -> dict[str, tuple[float, list[str]]]:
        now = session.read(job(*symptoms, then=then))
        ids = now.ranking.causes.ids
        return {one.said.finding: (one.weight, [ids[column] for column in one.columns]) for one in now.ahead.targets}

    crackle = ["track-dirty", "track-worn", "capacitor-leaky", "earth-missing"]
    assert asked("knob-crackle", then=[("pot-dc", "900 mV")]) == {
        "knob-crackle": (1.0, crackle), "dc-on-pot": (0.25, ["capacitor-leaky"]),
    }  # fmt: skip
    assert asked("knob-crackle", then=[("pot-dc", "2 mV")]) == {"knob-crackle": (1.0, crackle)}
    failed = [("repair:clean-pot", "track-dirty"), ("turn-it", "yes")]
    assert asked("knob-crackle", then=failed) == {"knob-crackle": (1.0, crackle[1:])}
    assert asked("knob-crackle", then=[("repair:clean-pot", "track-dirty"), ("turn-it", "no")]) == {}


@pytest.mark.parametrize("symptoms", [("hum-constant", "knob-crackle"), ("power-tubes-glow-red", "weak-output", "crackle-random")])
def test_outcomes_are_as_probable_as_the_ranking_would_have_them(symptoms: tuple[str, ...]) -> None:
    """Worked through at once and without what is negligible, each outcome comes within one in a hundred of what a
    ranking of its own says, causes that explain no complaint counted in."""
    session = Session(shipped_knowledge())
    opened: list[LogEntry] = [Opened(at=AT, title="job", fingerprint="")]
    now = session.read([*opened, *(Complaint(at=AT, says=one, symptom=one) for one in symptoms)])
    assert len(now.worths) > 10
    for worth in now.worths[:12]:
        outcomes = [set(findings) for findings, _ in worth.outcomes]
        asked = set().union(*outcomes)
        rankings = [
            now.ranking.again((*now.ranking.evidence, *(Said(one, one in there, 0, "") for one in sorted(asked))))
            for there in outcomes
        ]
        weight = np.exp([one.posterior.log_evidence[0] for one in rankings])
        assert [chance for _, chance in worth.outcomes] == pytest.approx((weight / weight.sum()).tolist(), abs=0.01)
