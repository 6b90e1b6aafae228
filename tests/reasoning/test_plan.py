"""The worth of a check in bench minutes, against the same sums written out one by one."""

from collections.abc import Callable

import numpy as np
import pytest
from chopstick.engine.reasoning.facts import Said
from chopstick.engine.reasoning.log import LogEntry
from chopstick.engine.reasoning.plan import Costs, Target, Worth, remaining_minutes, repair_order, worthwhile
from chopstick.engine.reasoning.session import Session, Standing
from hypothesis import given
from hypothesis import strategies as st

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
    """At 90 per cent: the repair of 30 minutes, a tenth of the 120 for what nothing explains, a tenth of a hunch. At
    60 per cent it is below what is sure, which costs a hunch more."""
    target = Target(Said("hum", True, 2, ""), (0,), 1.0)
    costs = Costs(np.array([30.0]), 120.0, 40.0, 0.8)
    sure, hunch = remaining_minutes(np.array([[0.9], [0.6]]), [target], costs)
    assert sure == pytest.approx(30 + 0.1 * 120 + 0.1 * 40)
    assert hunch == pytest.approx(30 + 0.4 * 120 + 0.4 * 40 + 40)
    assert remaining_minutes(np.array([[0.8]]), [target], costs)[0] == pytest.approx(30 + 24 + 8), "sure from 80 per cent on"


def test_a_repair_that_serves_two_complaints_is_paid_once() -> None:
    one, other = (Target(Said(said, True, 2, ""), (0,), 1.0) for said in ("hum", "weak"))
    costs = Costs(np.array([30.0]), 120.0, 40.0, 0.8)
    row = np.array([[0.9]])
    assert remaining_minutes(row, [one, other], costs)[0] == pytest.approx(30 + 2 * (12 + 4))


def test_what_is_too_improbable_to_try_is_given_up() -> None:
    """A 10 per cent cause spares 12 of the 120 minutes: worth a repair of 5 minutes, not one of 30."""
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
    assert live.plan.moves() == {"look": 1, "cold": 4, "first power": 4, "live": 0, "play": 2}


def test_a_check_is_worthwhile_when_it_saves_more_than_it_costs() -> None:
    found = [Worth("even", 6.0, 6.0, ()), Worth("better", 6.1, 6.0, ()), Worth("nothing", 0.0, 1.0, ())]
    assert [one.check for one in worthwhile(found)] == ["better"]
    assert found[1].rate == pytest.approx(6.1 / 6.0)


def test_repairs_go_by_probability_over_cost_then_by_name() -> None:
    minutes = {"tube": 5.0, "socket": 40.0, "transformer": 60.0, "cord": 10.0}
    probability = {"transformer": 0.6, "socket": 0.3, "tube": 0.3, "cord": 0.1}
    assert repair_order(probability, minutes) == ("tube", "cord", "transformer", "socket")
    assert repair_order({"b": 0.5, "a": 0.5}, {"a": 5.0, "b": 5.0}) == ("a", "b")
