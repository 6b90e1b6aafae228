"""Which causes may be there together, against summing over every combination by brute force."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from chopstick.engine.jobs.shop.scenarios import quantile, scenarios, thinned
from chopstick.engine.reasoning.belief import BeliefNetwork, Rows, infer
from chopstick.engine.reasoning.facts import Said
from chopstick.engine.reasoning.ranking import Ranking
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount

Brute = dict[frozenset[int], float]


class Small:
    """A ranking over a few causes and findings, as scenarios() asks of it."""

    def __init__(self, seed: int, causes: int, findings: int, apart: bool = False) -> None:
        rng = np.random.default_rng(seed)
        prior = rng.uniform(0.02, 0.4, causes)
        cut = 1 if apart else int(rng.integers(1, causes + 1))
        groups = (tuple(range(cut)), *((one,) for one in range(cut, causes)))
        prior[:cut] *= min(1.0, 0.9 / prior[:cut].sum())
        self.network = BeliefNetwork(prior, groups)
        self.shows = rng.uniform(0, 0.95, (findings, causes)) * (rng.uniform(size=(findings, causes)) < 0.7)
        self.leak = rng.uniform(0.001, 0.2, findings)
        self.here = rng.uniform(size=findings) < 0.6
        self.factors = rng.choice([1.0, 1.0, 3.0, 0.2], causes)

    @property
    def ranking(self) -> Ranking:
        evidence = tuple(Said(str(number), bool(here), 1, "") for number, here in enumerate(self.here))
        ids = tuple(f"c{number}" for number in range(len(self.network.prior)))

        def rows(said: list[Said]) -> Rows:
            numbers = [int(one.finding) for one in said]
            return Rows(self.shows[numbers].reshape(-1, len(ids)), self.leak[numbers])

        causes: Any = SimpleNamespace(
            network=self.network, rows=rows, column={id_: number for number, id_ in enumerate(ids)}, ids=ids
        )
        posterior = infer(self.network, rows([e for e in evidence if e.present]),
                          rows([e for e in evidence if not e.present]), self.factors)  # fmt: skip
        made = SimpleNamespace(causes=causes, evidence=evidence, factors=self.factors)
        made.present = tuple(one for one in evidence if one.present)
        made.absent = tuple(one for one in evidence if not one.present)
        made.probability = dict(zip(ids, posterior.probability[0].tolist(), strict=True))
        return cast(Ranking, made)

    def brute(self) -> Brute:
        """Every combination of causes with its probability, term by term."""
        weights: Brute = {}
        per_group = [(None, *group) for group in self.network.groups]
        for chosen in itertools.product(*per_group):
            there = [one for one in chosen if one is not None]
            weight = 1.0
            for group, one in zip(self.network.groups, chosen, strict=True):
                rest = 1 - sum(self.network.prior[c] for c in group)
                weight *= rest if one is None else self.network.prior[one] * self.factors[one]
            for number, here in enumerate(self.here):
                silent = (1 - self.leak[number]) * np.prod([1 - self.shows[number, c] for c in there])
                weight *= 1 - silent if here else silent
            weights[frozenset(there)] = float(weight)
        total = sum(weights.values())
        return {there: weight / total for there, weight in weights.items()}


@settings(max_examples=amount(40, 800))
@given(st.integers(0, 10_000), st.integers(1, 6), st.integers(1, 4))
def test_the_joint_distribution_equals_brute_force(seed: int, causes: int, findings: int) -> None:
    small = Small(seed, causes, findings)
    found = scenarios(small.ranking, [f"c{number}" for number in range(causes)])
    assert found.exact
    joint = {
        frozenset(int(id_[1:]) for id_, one in zip(found.causes, there, strict=True) if one): weight
        for there, weight in zip(found.there, found.weight, strict=True)
    }
    for there, weight in small.brute().items():
        assert joint.get(there, 0.0) == pytest.approx(weight, abs=1e-7)


@settings(max_examples=amount(20, 400))
@given(st.integers(0, 10_000))
def test_a_thinned_draw_still_tells_each_cause_nearly_right(seed: int) -> None:
    small = Small(seed, 9, 4, apart=True)
    ranking = small.ranking
    found = scenarios(ranking, list(ranking.probability), most=60)
    assert not found.exact
    assert len(found.weight) <= 60
    for number, id_ in enumerate(found.causes):
        assert found.weight @ found.there[:, number] == pytest.approx(ranking.probability[id_], abs=0.15)


@given(st.lists(st.floats(1e-6, 1), min_size=2, max_size=200), st.integers(1, 50))
def test_thinning_keeps_the_sum_and_the_heavy_ones(weights: list[float], most: int) -> None:
    weight = np.array(weights) / sum(weights)
    kept, new = thinned(weight, most)
    assert len(kept) == len(new) <= max(most, 1)
    assert new.sum() == pytest.approx(1)
    if most > 1 and weight.max() * most > 1:
        assert new.max() == pytest.approx(weight.max())


def test_rivals_for_one_complaint_are_not_both_counted() -> None:
    """Two rare causes that both always show the one finding there is: it is one or the other, hardly ever both."""
    small = Small(0, 2, 1)
    small.network = BeliefNetwork(np.array([0.01, 0.01]), ((0,), (1,)))
    small.shows, small.leak = np.array([[1.0, 1.0]]), np.array([0.0])
    small.here, small.factors = np.array([True]), np.ones(2)
    found = scenarios(small.ranking, ["c0", "c1"])
    both = sum(w for there, w in zip(found.there, found.weight, strict=True) if there.all())
    assert both == pytest.approx(0.01 * 0.01 / (1 - 0.99**2))
    assert sum(w for there, w in zip(found.there, found.weight, strict=True) if not there.any()) == pytest.approx(0)


@given(st.lists(st.tuples(st.floats(0, 1e3), st.floats(0.01, 1)), min_size=1, max_size=40), st.floats(0.01, 0.99))
def test_a_quantile_is_the_smallest_value_that_holds_its_share(pairs: list[tuple[float, float]], share: float) -> None:
    values, weights = zip(*pairs, strict=True)
    found = quantile(values, weights, share)
    total = sum(weights)
    assert sum(w for v, w in pairs if v <= found) >= share * total - 1e-9
    assert sum(w for v, w in pairs if v < found) <= share * total + 1e-9
