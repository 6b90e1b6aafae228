"""Once, four times and sixteen times the shipped knowledge: how loading, the first standing and each answer grow.

Symptoms, findings, checks, causes, repairs and rules all grow alike. Nothing may grow faster than n log n in the
number of entries. What grows faster by its nature is not a matter of the knowledge's size: the exact sum doubles with
each finding that is open at one time in one coupled part (see belief.py), and it is stated and bounded there.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from chopstick.engine.knowledge import load

from . import large
from .conftest import Row
from .measure import ONE_THREAD, exponent, n_log_n, processor_s, within

pytestmark = pytest.mark.speed
HERE = Path(__file__).parent
TIMES = (1, 4, 16)
JOBS = (3, 4, 5)
NOISE = 0.2  # of an exponent, fitted through three points on a busy machine
ENTRIES = sum((large.SHIPPED.rules, large.SHIPPED.causes, large.SHIPPED.symptoms, large.SHIPPED.told, large.SHIPPED.checks))
SLOWEST_GROWTH = n_log_n(ENTRIES, ENTRIES * TIMES[-1]) + NOISE

Told = dict[int, dict[str, float]]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    """For each size, seconds of processor time; jobs run in processes of their own, and the knowledge is then cached."""
    found: Told = {}
    for times in TIMES:
        folder = tmp_path_factory.mktemp(f"times{times}")
        large.write(folder / "kb", large.SHIPPED.times(times))
        cold = processor_s(lambda root=folder / "kb": load.load(root), 1)  # type: ignore[misc]
        jobs = [job(folder, number) for number in (JOBS[0], *JOBS)][1:]  # the first fills the cache
        found[times] = {name: float(np.median([one[name] for one in jobs])) for name in jobs[0]}
        found[times] |= {"cold_s": cold, "slowest_s": max(one["slowest_s"] for one in jobs)}
    return found


def job(folder: Path, number: int) -> dict[str, float]:
    command = [sys.executable, str(HERE / "whole_job.py"), str(folder / "kb"), str(folder / "kept"), str(number)]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=600, check=True, env={**os.environ, **ONE_THREAD})
    return dict(json.loads(ran.stdout))


@pytest.mark.parametrize(
    ("what", "name"),
    [
        ("load of the knowledge, cold", "cold_s"),
        ("load of the knowledge from the cache", "loaded_s"),
        ("a job's first standing", "first_s"),
        ("an answer to the next check (median)", "median_s"),
    ],
)
def test_nothing_grows_faster_than_n_log_n(what: str, name: str, told: Told, row: Row) -> None:
    taken = [told[times][name] for times in TIMES]
    grown = exponent(TIMES, taken)
    row(
        f"growth at 1, 4 and 16 times the knowledge: {what}",
        f"exponent {grown:.2f} ({', '.join(f'{one * 1e3:.0f} ms' for one in taken)})",
        "n log n: 1.1",
    )
    assert grown < SLOWEST_GROWTH


def test_an_answer_at_sixteen_times_the_knowledge(told: Told, row: Row) -> None:
    one, sixteen = told[1], told[16]
    row(
        "slowest answer to next check of three jobs at 16 times the knowledge",
        f"{sixteen['slowest_s'] * 1e3:.0f} ms (at its size {one['slowest_s'] * 1e3:.0f} ms)",
        "0.2 s",
    )
    assert sixteen["slowest_s"] < within(0.2)
