"""What thousands of closed jobs cost when they weigh in on the causes of the next one."""

import resource
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from chopstick.cli.main import app
from chopstick.engine.jobs.shop.calibration import MOST_READ
from chopstick.engine.jobs.shop.learned import Lesson, learn
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.jobs.store.transfer import JobLine, take_in
from chopstick.engine.knowledge import cache
from chopstick.engine.reasoning.log import Closed, Complaint, Opened
from typer.testing import CliRunner

from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed
START = datetime(2026, 1, 1, tzinfo=UTC)
COUNT = 2_000
CLOSED = 5_000


def resources_s() -> float:
    """Processor time of this process and of those it has waited for, in seconds."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


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


def test_calibration_over_thousands_of_closed_jobs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, row: Row) -> None:
    """In processes of their own, whose time counts too; the first time, and when what was read is kept."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    base, store = cache.load(), open_store(tmp_path / "jobs")
    symptoms = sorted(base.symptoms)
    log = [
        (
            Opened(at=START, title=f"combo {number}", fingerprint=base.fingerprint),
            *(Complaint(at=START, says="it does", symptom=symptoms[(number + n) % len(symptoms)]) for n in range(3)),
            Closed(at=START, was=(sorted(base.causes)[number % len(base.causes)],)),
        )
        for number in range(1, CLOSED + 1)
    ]
    take_in(store, (JobLine(number=number, entries=entries) for number, entries in enumerate(log, start=1)))
    taken = []
    for _ in range(2):
        begun = resources_s()
        told = CliRunner().invoke(app, ["jobs", "calibration", "--jobs", str(tmp_path / "jobs"), "--json"])
        taken.append(resources_s() - begun)
        assert told.exit_code == 0, told.output
    row(f"calibration over {CLOSED:,} closed jobs, {MOST_READ} read anew", f"{taken[0]:.1f} s, then {taken[1]:.1f} s", "5 s")
    assert max(taken) < within(5)
