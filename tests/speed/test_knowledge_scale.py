"""2,000 rules and 5,000 causes: how long they take to load, cold and from the cache, and what a job costs on them."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from chopstick.engine.knowledge import cache, load
from chopstick.engine.knowledge.base import KnowledgeBase

from . import large
from .measure import within

pytestmark = pytest.mark.speed
HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("large") / "kb"
    large.write(folder)
    return folder


@pytest.fixture(scope="module")
def base(root: Path) -> KnowledgeBase:
    return load.load(root)


def seconds(what: object, times: int = 3) -> Iterator[float]:
    for _ in range(times):
        begun = time.perf_counter()
        what()  # type: ignore[operator]
        yield time.perf_counter() - begun


def test_it_is_as_large_as_it_says(base: KnowledgeBase) -> None:
    assert (len(base.rules), len(base.causes)) == (2_000, 5_000)


def test_it_loads_in_under_three_seconds_and_from_the_cache_in_under_half_a_second(
    root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cold = min(seconds(lambda: load.load(root)))
    fresh = cache.load(root, folder=tmp_path / "kept")
    kept = min(seconds(lambda: cache.load(root, folder=tmp_path / "kept")))
    assert cache.load(root, folder=tmp_path / "kept").causes == fresh.causes
    with capsys.disabled():
        print(f"\n2,000 rules and 5,000 causes: cold {cold:.2f} s, from the cache {kept:.2f} s")
    assert cold < 3
    assert kept < 0.5


@pytest.mark.parametrize("number", [3, 4])
def test_a_whole_job_stays_quick_and_small(
    root: Path, tmp_path_factory: pytest.TempPathFactory, number: int, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path_factory.getbasetemp() / "kept-large"
    command = [sys.executable, str(HERE / "whole_job.py"), str(root), str(kept), str(number)]
    threads = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    ran = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True, env=threads)
    told = json.loads(ran.stdout)
    with capsys.disabled():
        print(f"\na job: {told['answers']} answers, slowest {told['slowest_s']:.3f} s, {told['most_MB']:.0f} MB")
    assert told["answers"] >= 10
    assert told["slowest_s"] < within(0.2)
    assert told["most_MB"] < 600
