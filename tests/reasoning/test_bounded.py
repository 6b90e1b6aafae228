"""Whatever is said of an amp, and in whatever order: what is worked out stays within limits, and says where it is an
estimate. (What that takes in seconds and memory is measured in tests/speed/test_bounded_speed.py.)"""

from __future__ import annotations

import random

import numpy as np
import pytest
from chopstick.engine.reasoning import belief, messages
from chopstick.engine.reasoning.belief import BeliefNetwork, Rows, infer
from chopstick.engine.reasoning.conflict import conflicts
from chopstick.engine.reasoning.log import Answer, Complaint, LogEntry, Opened, Reading
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.subsets import Component, joint
from chopstick.engine.reasoning.turns import turns
from chopstick.engine.reasoning.wording import how_exact
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from ..shipped import shipped_knowledge
from .random_jobs import AT
from .test_belief import networks


@pytest.fixture(scope="module")
def session() -> Session:
    return Session(shipped_knowledge())


def complaining(session: Session, count: int, seed: int) -> list[LogEntry]:
    said = random.Random(seed).sample(sorted(session.base.symptoms), count)
    opened = Opened(at=AT, title="all at once", fingerprint=session.base.fingerprint)
    return [opened, *(Complaint(at=AT, says="it does", symptom=one) for one in said)]


def every_check_answered(session: Session, last: bool) -> list[LogEntry]:
    log = complaining(session, 1, 1)
    for check in session.base.checks.values():
        if check.answers:
            log.append(Answer(at=AT, check=check.id, answer=list(check.answers)[-last]))
        else:
            values = {name: reading.plausible[last] for name, reading in check.readings.items()}
            log.append(Reading(at=AT, check=check.id, values=values, believed=True))
    return log


class Counted:
    """The work of every inference that was made: cells of tables, and messages."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.cells = self.messages = self.kept = 0
        whole, guessed = belief.joint, belief.estimated

        def joint_(part: Component, weight: belief.Array, *more: object) -> tuple[belief.Array, belief.Array]:
            self.cells += part.turns.cells * weight.shape[1]
            self.kept = max(self.kept, part.turns.tables * weight.shape[1])
            return whole(part, weight, *more)  # type: ignore[arg-type]

        def estimated_(part: Component, weight: belief.Array, *more: object) -> tuple[belief.Array, belief.Array]:
            self.messages += np.count_nonzero(part.shows) * weight.shape[1]
            return guessed(part, weight, *more)  # type: ignore[arg-type]

        monkeypatch.setattr(belief, "joint", joint_)
        monkeypatch.setattr(belief, "estimated", estimated_)


@pytest.mark.parametrize("count", [40, 143])
def test_any_number_of_complaints_takes_a_bounded_work(
    count: int, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = complaining(session, min(count, len(session.base.symptoms)), 1)
    counted = Counted(monkeypatch)
    now = Session(session.base).read(log)
    assert now.next
    families = sum(one.symptom in now.base.kinds for one in log if isinstance(one, Complaint))
    assert len(log) - 1 - families <= len(now.complaints) < len(log), "a family stands aside for its kinds"
    assert now.conflicts is not None
    assert counted.cells < 400e6
    assert counted.messages < 4e6
    assert counted.kept <= belief.MOST_CELLS
    assert (now.ranking.posterior.bound == 0) is (count == 40), "forty are worked out exactly"


@pytest.mark.parametrize("last", [False, True])
def test_every_check_answered_takes_a_bounded_work(
    last: bool, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted = Counted(monkeypatch)
    now = Session(session.base).read(every_check_answered(session, last))
    assert now.next
    assert now.complaints
    assert now.conflicts is not None
    assert counted.cells < 400e6
    assert counted.messages < 6e6
    assert counted.kept <= belief.MOST_CELLS
    assert all(0 <= p <= 1 for p in now.ranking.probability.values())


def test_an_estimate_names_no_answers_as_unfitting_and_says_that_it_is_one(session: Session) -> None:
    now = session.read(complaining(session, 143, 1))
    assert now.ranking.posterior.bound > 0
    improbable = [one for one in conflicts(now.base, now.facts, now.deduction, now.ranking) if "in only" in one.why]
    assert improbable == []
    assert how_exact(now.ranking.posterior.bound).startswith("Estimated:")
    assert how_exact(0.0) == ""
    assert "more than 7 points" in how_exact(0.0612)


def component(network: BeliefNetwork, present: Rows) -> Component:
    return Component(network.groups, network.none, present.shows)


@given(networks())
@settings(max_examples=amount(60, 2000))
def test_the_estimate_is_a_probability_and_near(drawn: tuple[BeliefNetwork, Rows]) -> None:
    network, present = drawn
    if not len(present.leak) or not (present.shows > 0).any(axis=1).all():
        return
    part = component(network, present)
    weight, leak = network.prior[:, None], present.leak[:, None]
    found, logs = messages.estimated(part, weight, leak)
    exact, exact_logs = joint(part, weight, leak)
    assert np.all((found >= 0) & (found <= 1 + 1e-9))
    assert np.abs(found - exact).mean() < 0.2
    assert abs(logs[0] - exact_logs[0]) < 2


def test_where_the_links_make_no_circle_the_estimate_is_exact() -> None:
    """A chain: each finding is shared by two neighbouring causes."""
    shows = np.zeros((6, 7))
    for row in range(6):
        shows[row, row : row + 2] = 0.7, 0.4
    network = BeliefNetwork(np.linspace(0.01, 0.3, 7), tuple((n,) for n in range(7)))
    part, weight, leak = component(network, Rows(shows, np.full(6, 0.02))), network.prior[:, None], np.full((6, 1), 0.02)
    found, logs = messages.estimated(part, weight, leak)
    exact, exact_logs = joint(part, weight, leak)
    assert found == pytest.approx(exact, abs=1e-4)
    assert logs == pytest.approx(exact_logs, abs=1e-4)


def test_the_estimate_on_jobs_of_the_shipped_knowledge(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    """Jobs that can still be summed exactly, with twenty and thirty complaints."""
    off = []
    for count, seed in ((20, 1), (20, 2), (30, 1), (30, 2)):
        ranking = session.read(complaining(session, count, seed)).ranking
        assert ranking.posterior.bound == 0
        rows = ranking.causes.rows(ranking.present)
        rough = infer(ranking.causes.network, rows, None, ranking.factors, most_width=0)
        assert rough.bound > 0
        off.append(np.abs(rough.probability[0] - ranking.posterior.probability[0]))
    assert np.concatenate(off).mean() < 0.005
    assert np.concatenate(off).max() < 0.15


@given(st.lists(st.frozensets(st.integers(0, 9), min_size=1, max_size=4), min_size=1, max_size=12))
@settings(max_examples=amount(60, 1000))
def test_every_group_that_touches_several_findings_has_its_turn(touched: list[frozenset[int]]) -> None:
    found = turns(tuple(touched), (1,) * len(touched))
    assert sorted(found.groups) == [group for group, findings in enumerate(touched) if len(findings) > 1]
    last = {finding: place for place, group in enumerate(found.groups) for finding in touched[group]}
    opened: set[int] = set()
    widest = cells = 0
    for place, group in enumerate(found.groups):
        opened |= touched[group]
        widest, cells = max(widest, len(opened)), cells + 2 * 2 ** len(opened)
        opened = {finding for finding in opened if last[finding] > place}
    assert (found.width, found.cells, found.tables) == (widest, cells, cells // 2)


@given(networks(most_findings=10))
@settings(max_examples=amount(40, 1000))
def test_every_order_that_is_tried_gives_the_same(drawn: tuple[BeliefNetwork, Rows]) -> None:
    network, present = drawn
    touched, sizes = component(network, present).touched, tuple(map(len, network.groups))
    plain = infer(network, present)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("chopstick.engine.reasoning.turns.WORTH_TRYING", (0, 10**11))
        turns.cache_clear()
        assert turns(touched, sizes).cells <= turns(touched, sizes, trying=False).cells
        tried = infer(network, present)
    turns.cache_clear()
    assert tried.probability == pytest.approx(plain.probability, abs=1e-12)
    assert tried.log_evidence == pytest.approx(plain.log_evidence, abs=1e-9)
