"""Properties of the inference that no example would show."""

import numpy as np
import pytest
from chopstick.engine.reasoning import belief
from chopstick.engine.reasoning.belief import MOST_WIDTH, BeliefNetwork, Rows, infer
from hypothesis import given
from hypothesis import strategies as st


@st.composite
def networks(draw: st.DrawFn, most_findings: int = 8) -> tuple[BeliefNetwork, Rows]:
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 4, rng.integers(1, 7))
    causes = int(sizes.sum())
    starts = np.r_[0, np.cumsum(sizes)]
    groups = tuple(tuple(range(a, b)) for a, b in zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True))
    findings = int(rng.integers(0, most_findings + 1))
    shows = rng.uniform(0, 0.99, (findings, causes)) * (rng.random((findings, causes)) < 0.4)
    return BeliefNetwork(rng.uniform(0, 0.3, causes), groups), Rows(shows, rng.uniform(0.001, 0.1, findings))


@given(networks())
def test_probabilities_are_probabilities(drawn: tuple[BeliefNetwork, Rows]) -> None:
    network, present = drawn
    answer = infer(network, present)
    assert np.all(answer.probability >= 0)
    for group in network.groups:
        assert answer.probability[0, list(group)].sum() <= 1 + 1e-12
    assert answer.bound == 0


@given(networks(), st.randoms(use_true_random=False))
def test_the_order_of_findings_does_not_matter(drawn: tuple[BeliefNetwork, Rows], random) -> None:
    network, present = drawn
    order = list(range(len(present.leak)))
    random.shuffle(order)
    shuffled = Rows(present.shows[order], present.leak[order])
    assert np.allclose(infer(network, present).probability, infer(network, shuffled).probability, atol=1e-12)


@given(networks())
def test_a_finding_that_is_absent_counts_against_its_causes_when_alone(drawn: tuple[BeliefNetwork, Rows]) -> None:
    """Where each cause is a group of its own, an absent finding can only make the causes that show it less likely."""
    network, rows = drawn
    apart = BeliefNetwork(network.prior, tuple((cause,) for cause in range(len(network.prior))))
    absent = infer(apart, Rows.none(len(network.prior)), rows).probability[0]
    shown = rows.shows.any(axis=0)
    assert np.all(absent[shown] < network.prior[shown])
    assert np.allclose(absent[~shown], network.prior[~shown], atol=1e-12)


@given(networks())
def test_present_and_absent_add_up(drawn: tuple[BeliefNetwork, Rows]) -> None:
    """P(cause) = P(cause, finding there) + P(cause, finding not there)."""
    network, rows = drawn
    if not len(rows.leak):
        return
    first, rest = Rows(rows.shows[:1], rows.leak[:1]), Rows(rows.shows[1:], rows.leak[1:])
    whole, there, gone = infer(network, rest), infer(network, rows), infer(network, rest, first)
    p = np.exp(there.log_evidence[0] - whole.log_evidence[0])
    q = np.exp(gone.log_evidence[0] - whole.log_evidence[0])
    assert np.isclose(p + q, 1, atol=1e-10)
    assert np.allclose(p * there.probability + q * gone.probability, whole.probability, atol=1e-10)


@given(networks(most_findings=10), st.integers(1, 4))
def test_beyond_the_width_the_bound_holds(drawn: tuple[BeliefNetwork, Rows], width: int) -> None:
    network, present = drawn
    exact, rough = infer(network, present), infer(network, present, most_width=width)
    assert np.all(np.abs(exact.probability - rough.probability) <= rough.bound + 1e-9)


@given(networks())
def test_scenarios_are_worked_out_alike_one_by_one_or_together(drawn: tuple[BeliefNetwork, Rows]) -> None:
    network, present = drawn
    factors = np.random.default_rng(3).uniform(0.1, 5, (4, len(network.prior)))
    together = infer(network, present, None, factors)
    for number in range(4):
        alone = infer(network, present, None, factors[number : number + 1])
        assert np.allclose(alone.probability[0], together.probability[number], atol=1e-13)
        assert np.isclose(alone.log_evidence[0], together.log_evidence[number])


def test_forty_findings_in_a_chain_stay_exact_and_quick() -> None:
    """Width, not number, sets the cost: forty findings, each shared by two neighboring causes."""
    causes = 41
    shows = np.zeros((40, causes))
    for row in range(40):
        shows[row, row : row + 2] = 0.7
    network = BeliefNetwork(np.full(causes, 0.05), tuple((n,) for n in range(causes)))
    answer = infer(network, Rows(shows, np.full(40, 0.01)))
    assert answer.bound == 0
    assert 0.05 < answer.probability.min() < answer.probability.max() < 1


def test_evidence_next_to_impossible_keeps_its_digits() -> None:
    """Thirty present findings that nothing but the leak explains, one in a million each."""
    network = BeliefNetwork(np.array([0.1]), ((0,),))
    answer = infer(network, Rows(np.zeros((30, 1)), np.full(30, 1e-6)))
    assert np.isclose(answer.log_evidence[0], 30 * np.log(1e-6))
    assert np.isclose(answer.probability[0, 0], 0.1)


def test_a_network_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="must list every cause once"):
        BeliefNetwork(np.array([0.1, 0.1]), ((0,),))
    with pytest.raises(ValueError, match="must list every cause once"):
        BeliefNetwork(np.array([0.1, 0.1]), ((0, 1), (1,)))
    with pytest.raises(ValueError, match=r"the priors of a group sum to 1\.2, above 1"):
        BeliefNetwork(np.array([0.6, 0.6]), ((0, 1),))
    certain = BeliefNetwork(np.array([0.4, 0.6, 0.1]), ((0, 1), (2,)))
    assert infer(certain, Rows.none(3)).probability[0].tolist() == pytest.approx([0.4, 0.6, 0.1]), "one of two for certain"


def test_cutting_the_weakest_links_costs_next_to_nothing() -> None:
    """Five findings are open at once; one of them hangs by links of one in a million. Four may be open: those links are
    bounded, and the answer is known to a hundredth of a percent."""
    rng = np.random.default_rng(5)
    shows = rng.uniform(0.3, 0.9, (5, 6))
    shows[2] = 1e-6
    network = BeliefNetwork(np.full(6, 0.1), tuple((n,) for n in range(6)))
    present = Rows(shows, np.full(5, 0.05))
    exact, rough = infer(network, present), infer(network, present, most_width=4)
    assert exact.bound == 0 < rough.bound < 1e-4
    assert infer(network, present, most_width=5).bound == 0, "five are open, and five may be"
    assert rough.probability == pytest.approx(exact.probability, abs=1e-4)
    assert rough.log_evidence == pytest.approx(exact.log_evidence, abs=1e-3)


def test_a_strong_link_that_is_cut_is_admitted() -> None:
    """Two findings, two causes that show both; with one open at a time nothing can be sure. Taken as never there, and as
    always there, the cut links hold the truth between them."""
    network = BeliefNetwork(np.array([0.2, 0.3]), ((0,), (1,)))
    present = Rows(np.array([[0.9, 0.5], [0.6, 0.8]]), np.array([0.05, 0.02]))
    exact, rough = infer(network, present), infer(network, present, most_width=1)
    assert rough.bound > 0.01
    assert np.all(np.abs(exact.probability - rough.probability) <= rough.bound)
    # By hand: the two weaker links, 0.5 and 0.6, are the ones to go.
    shows = np.array([[0.9, 0.0], [0.0, 0.8]])
    never, always = (infer(network, Rows(shows, leak)) for leak in (present.leak, 1 - (1 - present.leak) * [0.5, 0.4]))
    least, most = (np.exp(one.log_evidence[0]) * np.array([one.probability[0], 1 - one.probability[0]]) for one in (never, always))
    bottom, top = least[0] / (least[0] + most[1]), most[0] / (most[0] + least[1])
    assert np.all((bottom <= rough.probability[0]) & (rough.probability[0] <= top))
    assert rough.bound == pytest.approx(max([*(top - rough.probability[0]), *(rough.probability[0] - bottom)]))
    assert never.log_evidence[0] <= rough.log_evidence[0] <= always.log_evidence[0]
    only = infer(network, present, most_width=1, only_evidence=True)
    assert only.log_evidence == pytest.approx(rough.log_evidence)
    assert np.isnan(only.probability).all()


@pytest.mark.parametrize(("findings", "exact"), [(MOST_WIDTH, True), (MOST_WIDTH + 1, False)])
def test_so_many_findings_may_be_open_at_one_time(findings: int, exact: bool) -> None:
    """Two causes that can each show all of them."""
    present = Rows(np.full((findings, 2), 0.5), np.full(findings, 0.01))
    assert (infer(BeliefNetwork(np.array([0.1, 0.2]), ((0,), (1,))), present).bound == 0) is exact


def test_scenarios_in_portions_that_fit_the_memory_come_out_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(7)
    network = BeliefNetwork(np.full(5, 0.1), ((0, 1), (2,), (3, 4)))
    present = Rows(rng.uniform(0.1, 0.9, (3, 5)), np.full(3, 0.02))
    factors = rng.uniform(0.1, 5, (7, 5))
    whole = infer(network, present, None, factors)
    for cells in (3 * 2**3, 3 * 3 * 2**3, 10**9):  # one at a time; three; all
        monkeypatch.setattr(belief, "MOST_CELLS", cells)
        found = infer(network, present, None, factors)
        assert found.probability == pytest.approx(whole.probability, rel=1e-12)
        assert found.log_evidence == pytest.approx(whole.log_evidence, rel=1e-12)


def test_a_present_finding_with_a_leak_of_one_says_nothing_in_its_scenario() -> None:
    rng = np.random.default_rng(9)
    network = BeliefNetwork(np.full(4, 0.1), tuple((n,) for n in range(4)))
    shows, leak = rng.uniform(0.1, 0.9, (3, 4)), np.full(3, 0.02)
    scenarios = np.tile(leak, (3, 1))
    np.fill_diagonal(scenarios, 1.0)
    together = infer(network, Rows(shows, scenarios), None, np.ones((3, 4)))
    for left_out in range(3):
        kept = [row for row in range(3) if row != left_out]
        alone = infer(network, Rows(shows[kept], leak[kept]))
        assert together.probability[left_out] == pytest.approx(alone.probability[0])
        assert together.log_evidence[left_out] == pytest.approx(alone.log_evidence[0])


def test_a_chain_next_to_impossible_agrees_with_forward_and_backward_sums() -> None:
    """Two hundred findings that one cause in ten thousand shows half the time: far below the smallest number a computer
    holds. The reference goes along the chain both ways, scaled at every step (the forward-backward algorithm of hidden
    Markov models, from memory)."""
    count, prior, often, leak = 201, 1e-4, 0.5, 1e-6
    shows = np.zeros((count - 1, count))
    for row in range(count - 1):
        shows[row, row : row + 2] = often
    found = infer(BeliefNetwork(np.full(count, prior), tuple((n,) for n in range(count))), Rows(shows, np.full(count - 1, leak)))
    there = 1 - (1 - leak) * (1 - often) ** np.add.outer([0, 1], [0, 1])  # by the cause before and the one after
    weight = np.array([1 - prior, prior])
    log, forward = 0.0, [weight]
    for _ in range(count - 1):
        message = (forward[-1] @ there) * weight
        log += np.log(message.sum())
        forward.append(message / message.sum())
    backward = [np.ones(2)]
    for _ in range(count - 1):
        message = there @ (backward[-1] * weight)
        backward.append(message / message.sum())
    joint = np.array(forward) * np.array(backward[::-1])
    assert log < -700, "no number is that small"
    assert found.log_evidence[0] == pytest.approx(log)
    assert found.probability[0] == pytest.approx(joint[:, 1] / joint.sum(axis=1))


@pytest.mark.filterwarnings("ignore:divide by zero")
def test_what_can_not_be_is_told_as_impossible_and_not_as_nonsense() -> None:
    """The only cause is ruled out, and nothing else shows the finding."""
    present = Rows(np.array([[0.9, 0.0]]), np.array([0.0]))
    found = infer(BeliefNetwork(np.array([0.1, 0.2]), ((0,), (1,))), present, None, np.array([[0.0, 1.0], [1.0, 1.0]]))
    assert np.isfinite(found.probability).all()
    assert found.probability.tolist() == [[0.0, pytest.approx(0.2)], [pytest.approx(1.0), pytest.approx(0.2)]]
