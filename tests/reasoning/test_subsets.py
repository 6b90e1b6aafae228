"""The sum over subsets, against the sum over every combination of causes written out."""

import itertools
from collections import Counter

import numpy as np
import pytest
from chopstick.engine.reasoning.belief import BeliefNetwork, Rows, infer
from chopstick.engine.reasoning.subsets import Component, joint
from hypothesis import given
from hypothesis import strategies as st


def every_combination(part: Component, weight: np.ndarray, leak: np.ndarray) -> tuple[np.ndarray, float]:
    """Each cause's probability and the evidence, one combination after the other. weight: (C,), leak: (R,)."""
    total, each = 0.0, np.zeros(len(weight))
    for chosen in itertools.product(*((None, *group) for group in part.groups)):
        true = [cause for cause in chosen if cause is not None]
        nothing = [part.none[group] for group, cause in enumerate(chosen) if cause is None]
        with np.errstate(divide="ignore"):  # by logarithms, so that a leak of one in a thousand million keeps its digits
            shown = -np.expm1(np.log1p(-leak) + np.log1p(-part.shows[:, true]).sum(axis=1))
        chance = np.prod(nothing) * np.prod(weight[true]) * np.prod(shown)
        total += chance
        each[true] += chance
    return each / total, np.log(total)


@st.composite
def parts(draw: st.DrawFn) -> tuple[Component, np.ndarray, np.ndarray]:
    """Up to four groups of one to three causes; many show one finding only, some for certain; three scenarios."""
    rng = np.random.default_rng(draw(st.integers(0, 10**6)))
    sizes = rng.integers(1, 4, draw(st.integers(1, 4)))
    starts = np.cumsum([0, *sizes])
    groups = tuple(tuple(range(start, start + size)) for start, size in zip(starts, sizes, strict=False))
    shows = rng.choice([0.0, 0.0, 0.0, 0.3, 0.8, 1.0], (draw(st.integers(1, 4)), int(sizes.sum())))
    weight = rng.uniform(0.01, 2, (shows.shape[1], 3)) * rng.choice([0.0, 1.0, 1.0, 1e-9], (shows.shape[1], 3))
    leak = rng.choice([1e-9, 0.05, 1.0], (len(shows), 3))
    return Component(groups, rng.uniform(0.2, 1, len(groups)), shows), weight, leak


@given(parts())
def test_it_equals_the_sum_over_every_combination(drawn: tuple[Component, np.ndarray, np.ndarray]) -> None:
    part, weight, leak = drawn
    probability, logs = joint(part, weight, leak)
    for scenario in range(3):
        each, log = every_combination(part, weight[:, scenario], leak[:, scenario])
        assert probability[:, scenario] == pytest.approx(each, rel=1e-10, abs=1e-14)
        assert logs[scenario] == pytest.approx(log, rel=1e-10)
    nothing, alone = joint(part, weight, leak, only_evidence=True)
    assert np.isnan(nothing).all()
    assert alone == pytest.approx(logs, rel=1e-14)


def test_a_group_that_is_certain_to_show_leaves_nothing_for_the_others_to_explain() -> None:
    """One of two shorts is there for sure, and either blows the fuse; what else blows fuses stays as rare as it was."""
    part = Component(((0, 1), (2,)), np.array([0.0, 0.9]), np.array([[1.0, 1.0, 0.7]]))
    probability, logs = joint(part, np.array([[0.4], [0.6], [0.1]]), np.array([[0.01]]))
    assert probability[:, 0] == pytest.approx([0.4, 0.6, 0.1])
    assert logs[0] == pytest.approx(0.0)


def test_causes_of_one_finding_need_no_table() -> None:
    """Ten of them: nothing is open at one time, where a turn each would have kept the finding open throughout."""
    part = Component(tuple((n,) for n in range(10)), np.full(10, 0.9), np.full((1, 10), 0.5))
    assert (part.turns.groups, part.turns.width) == ((), 0)
    assert part.steps == ()


@given(st.integers(3, 12), st.integers(1, 3), st.integers(0, 10**6))
def test_a_chain_is_taken_from_an_end(findings: int, overlap: int, seed: int) -> None:
    """Each group shows one finding and the next `overlap` ones, listed in any order: no more are ever open at once than
    one group touches; begun in the middle, both ends of what is open would have to be kept."""
    groups = max(1, findings - overlap)
    shows = np.zeros((findings, groups))
    for place, group in enumerate(np.random.default_rng(seed).permutation(groups)):
        shows[place : place + overlap + 1, group] = 0.5
    part = Component(tuple((n,) for n in range(groups)), np.full(groups, 0.9), shows)
    assert part.turns.width == min(overlap + 1, findings)


def test_the_order_is_the_narrowest_in_nine_of_ten() -> None:
    """Against every order of up to seven groups, tried out."""
    rng = np.random.default_rng(1)
    best = []
    for _ in range(60):
        shows = np.where(rng.random((7, 7)) < 0.35, 0.5, 0.0)
        part = Component(tuple((n,) for n in range(7)), np.full(7, 0.9), shows)
        groups = [rows for rows in part.touched if len(rows) > 1]
        best.append(part.turns.width == min(map(most_open, itertools.permutations(groups))))
    assert sum(best) >= 54


def most_open(order: tuple[frozenset[int], ...]) -> int:
    left = Counter(row for rows in order for row in rows)
    opened: set[int] = set()
    most = 0
    for rows in order:
        opened |= rows
        most = max(most, len(opened))
        left.subtract(rows)
        opened = {row for row in opened if left[row]}
    return most


def test_what_closes_findings_goes_before_what_opens_more() -> None:
    """A hub that shows five findings, each with a cause that shows it and one more beside: never more are open than the
    hub's own five, since a finding beside closes as soon as it is opened."""
    shows = np.zeros((10, 11))
    shows[:5, 0] = 0.5
    for arm in range(5):
        shows[[arm, 5 + arm], 1 + arm] = 0.5
        shows[5 + arm, 6 + arm] = 0.5
    part = Component(tuple((n,) for n in range(11)), np.full(11, 0.9), shows)
    assert part.turns.width == 5
    assert len(part.turns.groups) == 6, "the causes at the ends show one finding only"


@given(parts(), st.integers(0, 10**6))
def test_leaving_causes_out_is_ruling_them_out(drawn: tuple[Component, np.ndarray, np.ndarray], seed: int) -> None:
    """The network of some causes says of them what the whole one does with the others' odds set to nothing; of the
    evidence it says as much, but for a factor that is the same in every scenario."""
    part, _, leak = drawn
    rng = np.random.default_rng(seed)
    causes = part.shows.shape[1]
    network = BeliefNetwork(np.full(causes, 0.1), part.groups)
    kept = np.flatnonzero(rng.random(causes) < 0.6)
    factors = rng.uniform(0.1, 5, (3, causes))
    ruled_out = np.zeros(causes)
    ruled_out[kept] = 1.0
    present, absent = Rows(part.shows, leak.T), Rows(part.shows[:1] * 0.5, leak[:1, 0] * 0.5)
    whole = infer(network, present, absent, factors * ruled_out)
    here, not_here = (Rows(rows.shows[:, kept], rows.leak) for rows in (present, absent))
    some = infer(network.only(kept), here, not_here, factors[:, kept])
    assert some.probability == pytest.approx(whole.probability[:, kept], rel=1e-9, abs=1e-14)
    assert np.ptp(whole.log_evidence - some.log_evidence) == pytest.approx(0, abs=1e-9)


def test_causes_left_out_twice_stay_out() -> None:
    network = BeliefNetwork(np.array([0.1, 0.2, 0.3, 0.4]), ((0, 1, 2), (3,)))
    twice = network.only(np.array([0, 1, 3])).only(np.array([1, 2]))
    assert twice.groups == ((0,), (1,))
    assert twice.prior.tolist() == [0.2, 0.4]
    assert twice.none == pytest.approx([0.4, 0.6])
    assert twice.left_out == pytest.approx([0.4, 0.0])
    assert network.only(np.array([3])).groups == ((0,),), "a group of which none is left is gone"
