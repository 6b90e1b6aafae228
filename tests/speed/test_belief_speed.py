"""The posterior of every cause against exact variable elimination by pgmpy, on the same networks.

The networks are cut from the shipped knowledge: causes of one symptom, with the findings they share. pgmpy is given
its tables ready made, and only its queries are timed, one a group. It offers two exact ways: variable elimination
(here with its usual choice of order, MinFill), which is what the target is for, and a contraction of all tables at
once by einsum, which is told beside it.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.belief import BeliefNetwork, Rows
from chopstick.engine.reasoning.ranking import causes_of
from pytest_benchmark.fixture import BenchmarkFixture

from ..peers.test_belief_against_pgmpy import CLOSE, elimination_of, ours
from .conftest import Row
from .measure import least_s, processor_s

pytestmark = pytest.mark.speed
TARGET = 100
FINDINGS = 8


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return load.load()


def network_of(base: KnowledgeBase, count: int) -> tuple[BeliefNetwork, Rows]:
    """The first causes of the symptom that most causes show, and the findings that most of them share."""
    whole = causes_of(base, {})
    symptom = max(base.symptoms, key=lambda id_: (np.count_nonzero(whole.link(id_)), id_))
    chosen = np.flatnonzero(whole.link(symptom))[:count]
    shared = sorted(whole.links, key=lambda id_: (-np.count_nonzero(whole.link(id_)[chosen]), id_))[:FINDINGS]
    number_of = {int(cause): number for number, cause in enumerate(chosen)}
    groups = [tuple(number_of[cause] for cause in group if cause in number_of) for group in whole.network.groups]
    shows = np.array([whole.link(id_)[chosen] for id_ in shared])
    leak = np.array([base.leak(id_) for id_ in shared])
    return BeliefNetwork(whole.network.prior[chosen], tuple(group for group in groups if group)), Rows(shows, leak)


@pytest.mark.parametrize("causes", [16, 18])
@pytest.mark.benchmark(timer=time.process_time)
def test_the_posterior_against_exact_elimination(
    base: KnowledgeBase, causes: int, benchmark: BenchmarkFixture, row: Row
) -> None:
    network, rows = network_of(base, causes)
    states = [1, 1, 0, 1, 0, 0, 1, 0]
    pgmpy = elimination_of(network, rows)
    evidence = {f"f{number}": state for number, state in enumerate(states)}

    def asked(order: str) -> list[Any]:
        return [
            pgmpy.query([f"g{number}"], evidence=evidence, elimination_order=order, show_progress=False)
            for number in range(len(network.groups))
        ]

    eliminated = processor_s(lambda: asked("MinFill"), 2)
    contracted = processor_s(lambda: asked("greedy"), 2)
    posterior = benchmark.pedantic(ours, args=(network, rows, states), rounds=20, warmup_rounds=2)
    for group, answer in zip(network.groups, asked("MinFill"), strict=True):
        assert np.abs(posterior[list(group)] - answer.values[1:]).max() < CLOSE
    taken = least_s(benchmark, lambda: ours(network, rows, states))
    row(
        f"posterior of {causes} causes and {FINDINGS} findings against pgmpy's exact elimination",
        f"{eliminated / taken:.0f} times quicker ({taken * 1e3:.1f} ms); {contracted / taken:.0f} times quicker than its "
        "contraction by einsum",
        f"{TARGET} times",
    )
    assert eliminated / taken > TARGET
