"""Two faults at once: what is guessed and kept of them against what solving both together gives."""

import numpy as np
import pytest
from chopstick.engine.circuit.dictionary import Dictionary, build_dictionary
from chopstick.engine.circuit.expected import expect, guessed
from chopstick.engine.circuit.faults import Severity
from chopstick.engine.circuit.files import load_archetype
from chopstick.engine.circuit.rank import rank


@pytest.fixture(scope="module")
def amp() -> Dictionary:
    return build_dictionary(load_archetype("cathode-biased-2x6v6gt-split-load").circuit)


def test_a_pair_is_what_both_faults_give_together(amp: Dictionary) -> None:
    """Against the full solution with the meter on each point; a floating point, which the meter pulls down by most of
    its volts, may be out by more, as with a part open on both sides of it."""
    some = np.random.default_rng(1).choice(len(amp.pairs.rows), 300, replace=False)
    both = [amp.severities[a].variant | amp.severities[b].variant for a, b in amp.pairs.rows[some].tolist()]
    exact = expect(amp.solver, [Severity("both", variant) for variant in both], amp.points, amp.meter)
    assert exact.converged.mean() > 0.98
    off = np.abs(amp.pairs.mean[some] - exact.mean)[exact.converged]
    assert (off <= 0.01 * np.abs(exact.mean[exact.converged]) + 0.2).mean() > 0.99
    assert np.median(off) < 0.001


def test_a_pair_stands_in_two_stages_and_once(amp: Dictionary) -> None:
    stages = [{amp.faults[amp.row_fault[row]].stage for row in pair} for pair in amp.pairs.rows.tolist()]
    assert all(len(two) == 2 for two in stages)
    assert len({frozenset(pair) for pair in amp.pairs.rows.tolist()}) == len(stages)


def test_what_two_faults_do_to_one_another_is_where_solving_them_starts(amp: Dictionary) -> None:
    """From there it takes a round or two, from the sum of what each does alone four or more; for other degrees of the
    same faults it is nearer too."""
    some = np.random.default_rng(2).choice(len(amp.pairs.rows), 200, replace=False)
    rows = amp.pairs.rows[some]
    worst = np.array([np.flatnonzero(amp.row_fault == fault)[-1] for fault in amp.row_fault.tolist()])
    for tried, most in ((rows, 2), (worst[rows], 4)):
        both = [amp.severities[a].variant | amp.severities[b].variant for a, b in tried.tolist()]
        added = guessed(amp.expected, tried)[0]
        plain, better = amp.solver.solve(both, added), amp.solver.solve(both, added + amp.pairs.between[some])
        assert better.rounds.mean() < plain.rounds.mean()
        assert np.median(better.rounds) <= most
        assert better.converged.mean() > 0.98


def test_two_faults_that_act_through_one_another_are_found(amp: Dictionary) -> None:
    """An open cathode resistor of the driver and an open supply dropper: the volts of the one hang on the other, and no
    sum of what each does alone comes near."""
    names = ("R8.open", "R17.open")
    rows = [int(np.flatnonzero(amp.row_fault == [fault.id for fault in amp.faults].index(name))[0]) for name in names]
    together = amp.together([tuple(sorted(rows))])[0]
    assert together is not None
    added = amp.expected.mean[rows].sum(axis=0) - amp.expected.mean[0]
    assert np.abs(added - together[0]).max() > 50.0
    ranking = rank(amp, dict(zip(amp.points, together[0].tolist(), strict=True)))
    assert set(ranking.best) == set(names)
    assert ranking.explained


def test_the_next_reading_uses_what_was_solved_for_the_last(amp: Dictionary) -> None:
    """And says the same as a dictionary that has solved nothing yet."""
    volts = {point: mean * 1.3 for point, (mean, _) in list(amp.chart().items())[:9]}
    points = list(volts)
    for number in range(1, len(points) + 1):
        one = rank(amp, {point: volts[point] for point in points[:number]})
    assert amp.solved
    fresh = build_dictionary(amp.network, amp.meter, amp.expected, amp.pairs)
    other = rank(fresh, volts)
    assert one.best == other.best
    assert [c.fault for c in one.candidates[:5]] == [c.fault for c in other.candidates[:5]]
    assert one.fit == pytest.approx(other.fit, rel=1e-6)
