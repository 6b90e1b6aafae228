"""Loading the shipped knowledge: read and checked from its YAML, and from the cache."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from chopstick.engine.knowledge import cache, load
from pytest_benchmark.fixture import BenchmarkFixture

from .conftest import Row
from .measure import least_s, processor_s, within

pytestmark = pytest.mark.speed


@pytest.mark.benchmark(timer=time.process_time)
def test_the_shipped_knowledge_cold_and_from_the_cache(tmp_path: Path, benchmark: BenchmarkFixture, row: Row) -> None:
    cold = processor_s(load.load, 2)
    fresh = cache.load(folder=tmp_path)
    kept = benchmark.pedantic(cache.load, kwargs={"folder": tmp_path}, rounds=5)
    assert (kept.causes, kept.rules) == (fresh.causes, fresh.rules)
    cached = least_s(benchmark, lambda: cache.load(folder=tmp_path))
    row(
        f"load of the knowledge ({len(kept.rules)} rules, {len(kept.causes)} causes): from the cache against cold",
        f"{cold / cached:.0f} times quicker ({cached * 1e3:.0f} ms against {cold:.2f} s)",
        "0.1 s from the cache",
    )
    assert cached < within(0.1)
    assert cold / cached > 5
