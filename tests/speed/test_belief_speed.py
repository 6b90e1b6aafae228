"""The posterior of every cause against exact variable elimination by pgmpy, on the same networks.

pgmpy is given its tables ready made; only its queries are timed, in the quicker of the two ways it offers: a query a
group, or one query for all of them.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pytest
from chopstick.engine.reasoning.belief import Network, Rows
from pytest_benchmark.fixture import BenchmarkFixture

from ..peers.test_belief_against_pgmpy import CLOSE, elimination_of, ours
from .conftest import Row
from .measure import processor_s

TARGET = 100


def network_of(causes: int, findings: int = 8) -> tuple[Network, Rows]:
    """Groups of two causes, each finding shown by four of the groups, as a job's complaints and findings are."""
    rng = np.random.default_rng(causes)
    groups = tuple((first, first + 1) for first in range(0, causes, 2))
    shows = np.zeros((findings, causes))
    for number in range(findings):
        for group in rng.choice(len(groups), 4, replace=False):
            shows[number, list(groups[group])] = rng.uniform(0.1, 0.9, 2)
    return Network(rng.uniform(0.01, 0.2, causes), groups), Rows(shows, rng.uniform(0.001, 0.05, findings))


@pytest.mark.parametrize("causes", [16, 20, 24])
@pytest.mark.benchmark(timer=time.process_time)
def test_the_posterior_against_exact_elimination(causes: int, benchmark: BenchmarkFixture, row: Row) -> None:
    network, rows = network_of(causes)
    states = [1, 1, 0, 1, 0, 1, 1, 0]
    elimination = elimination_of(network, rows)
    names = [f"g{number}" for number in range(len(network.groups))]
    options: dict[str, Any] = {"evidence": {f"f{n}": s for n, s in enumerate(states)}, "show_progress": False}
    one_by_one = processor_s(lambda: [elimination.query([name], **options) for name in names], 2)
    at_once = processor_s(lambda: elimination.query(names, joint=False, **options), 2)
    theirs = elimination.query(names, joint=False, **options)
    posterior = benchmark.pedantic(ours, args=(network, rows, states), rounds=20, warmup_rounds=2)
    for name, group in zip(names, network.groups, strict=True):
        assert np.abs(posterior[list(group)] - theirs[name].values[1:]).max() < CLOSE
    quicker = min(one_by_one, at_once) / benchmark.stats.stats.min
    row(
        f"posterior of {causes} causes and {len(states)} findings against pgmpy's exact elimination",
        f"{quicker:.0f} times quicker ({benchmark.stats.stats.min * 1e3:.1f} ms)",
        f"{TARGET} times",
    )
    assert quicker > TARGET
