"""The ranking equals exact variable elimination by an independent library, on random small networks.

Reference: pgmpy (from the package registry), VariableElimination over the same noisy-OR networks written out as
full conditional tables.
"""

import itertools
import logging
from typing import Any

import numpy as np
import pytest
from chopstick.engine.reasoning.belief import BeliefNetwork, Rows, infer

from ..amount import amount

logging.disable(logging.WARNING)

CLOSE = 1e-9


def random_network(rng: np.random.Generator, most_groups: int, findings: int, strong: bool) -> tuple[BeliefNetwork, Rows]:
    """Groups of one to three causes; strong ones nearly always show what they show, and leaks are tiny."""
    sizes = rng.integers(1, 4, rng.integers(2, most_groups + 1))
    groups, start = [], 0
    for size in sizes:
        groups.append(tuple(range(start, start + int(size))))
        start += int(size)
    prior = np.concatenate([rng.dirichlet(np.r_[np.ones(size), 3.0])[:size] for size in sizes])
    links = rng.random((findings, start)) < 0.45
    shows = np.where(links, rng.uniform(0.9, 0.999, links.shape) if strong else rng.uniform(0.02, 0.98, links.shape), 0)
    leak = rng.uniform(1e-6, 1e-4, findings) if strong else rng.uniform(0.001, 0.2, findings)
    return BeliefNetwork(prior, tuple(groups)), Rows(shows, leak)


def elimination_of(network: BeliefNetwork, rows: Rows) -> Any:
    """pgmpy's elimination over the same network: a variable g0, g1 ... a group (0 for none of its causes), and a
    yes/no variable f0, f1 ... a finding, each with its table written out."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

    model = DiscreteBayesianNetwork()
    model.add_nodes_from([f"g{number}" for number in range(len(network.groups))])
    for number, group in enumerate(network.groups):
        states_of = np.r_[1 - network.prior[list(group)].sum(), network.prior[list(group)]]
        model.add_cpds(TabularCPD(f"g{number}", len(states_of), states_of[:, None]))
    for row, (shows, leak) in enumerate(zip(rows.shows, rows.leak, strict=True)):
        parents = [number for number, group in enumerate(network.groups) if shows[list(group)].any()]
        model.add_node(f"f{row}")
        model.add_edges_from([(f"g{number}", f"f{row}") for number in parents])
        ranges = [(None, *network.groups[number]) for number in parents]
        absent = [
            (1 - leak) * np.prod([1 - shows[cause] for cause in combination if cause is not None])
            for combination in itertools.product(*ranges)
        ]
        table = np.array([absent, 1 - np.array(absent)])
        model.add_cpds(TabularCPD(f"f{row}", 2, table, [f"g{n}" for n in parents], [len(r) for r in ranges]))
    return VariableElimination(model)


def eliminated(network: BeliefNetwork, rows: Rows, states: list[int]) -> np.ndarray:
    """Each cause's posterior by pgmpy, one query a group."""
    elimination = elimination_of(network, rows)
    evidence = {f"f{row}": state for row, state in enumerate(states)}
    posterior = np.zeros(len(network.prior))
    for number, group in enumerate(network.groups):
        values = elimination.query([f"g{number}"], evidence=evidence, show_progress=False).values
        posterior[list(group)] = values[1:]
    return posterior


def ours(network: BeliefNetwork, rows: Rows, states: list[int]) -> np.ndarray:
    yes = [row for row, state in enumerate(states) if state]
    no = [row for row, state in enumerate(states) if not state]
    present = Rows(rows.shows[yes], rows.leak[yes])
    absent = Rows(rows.shows[no], rows.leak[no])
    return infer(network, present, absent).probability[0]


@pytest.mark.long
@pytest.mark.parametrize("seed", range(amount(30, 480)))
def test_ordinary_jobs(seed: int) -> None:
    rng = np.random.default_rng(seed)
    network, rows = random_network(rng, most_groups=5, findings=int(rng.integers(1, 6)), strong=False)
    states = rng.integers(0, 2, len(rows.leak)).tolist()
    assert np.abs(ours(network, rows, states) - eliminated(network, rows, states)).max() < CLOSE


@pytest.mark.long
@pytest.mark.parametrize("seed", range(amount(15, 240)))
def test_contradictory_answers(seed: int) -> None:
    """Strong links and tiny leaks, with answers drawn without regard to them: the evidence is next to impossible."""
    rng = np.random.default_rng(1000 + seed)
    network, rows = random_network(rng, most_groups=4, findings=int(rng.integers(3, 7)), strong=True)
    states = rng.integers(0, 2, len(rows.leak)).tolist()
    assert np.abs(ours(network, rows, states) - eliminated(network, rows, states)).max() < CLOSE


@pytest.mark.long
@pytest.mark.parametrize("seed", range(amount(10, 160)))
def test_many_findings_present(seed: int) -> None:
    rng = np.random.default_rng(2000 + seed)
    network, rows = random_network(rng, most_groups=4, findings=int(rng.integers(10, 15)), strong=bool(seed % 2))
    states = (rng.random(len(rows.leak)) < 0.85).astype(int).tolist()
    assert np.abs(ours(network, rows, states) - eliminated(network, rows, states)).max() < CLOSE


def test_the_check_can_fail() -> None:
    """A network altered by one part in a thousand is told apart."""
    rng = np.random.default_rng(7)
    network, rows = random_network(rng, most_groups=4, findings=4, strong=False)
    states = [1, 1, 0, 1]
    altered = BeliefNetwork(network.prior * 0.999, network.groups)
    assert np.abs(ours(altered, rows, states) - eliminated(network, rows, states)).max() > CLOSE
