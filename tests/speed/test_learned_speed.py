"""What thousands of closed jobs cost when they weigh in on the causes of the next one."""

import time
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from chopstick.engine.jobs.shop.learned import Lesson, learn
from chopstick.engine.knowledge import cache

from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed
START = datetime(2026, 1, 1, tzinfo=UTC)
COUNT = 2_000


def test_two_thousand_closed_jobs(tmp_path: object, row: Row) -> None:
    base, rng = cache.load(), np.random.default_rng(3)
    amp = {"output-class": "push-pull", "rectifier": "5AR4", "era": "modern"}
    ids = sorted(base.causes)
    drawn = [frozenset({ids[int(rng.integers(len(ids)))]}) for _ in range(COUNT)]
    table = learn(base, [Lesson(n, START + timedelta(days=n), amp, was) for n, was in enumerate(drawn, start=1)])
    begun = time.process_time()
    assert table.factors(amp)
    taken = time.process_time() - begun
    row(f"{COUNT:,} closed jobs made a factor for each cause", f"{taken * 1e3:.0f} ms", "0.5 s")
    assert taken < within(0.5)
