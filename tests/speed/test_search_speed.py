"""Finding a job again among those of many years."""

import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from chopstick.engine.jobs.store.search import search
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.jobs.store.transfer import JobLine, take_in
from chopstick.engine.reasoning.log import Closed, Complaint, LogEntry, Note, Opened
from typer.testing import CliRunner

from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed
AT = datetime(2026, 1, 1, 9, 30, tzinfo=UTC)
JOBS, NOTES = 5_000, 8


def job(number: int) -> JobLine:
    log: tuple[LogEntry, ...] = (
        Opened(at=AT, title=f"Combo {number} with hum", fingerprint="f" * 64),
        Complaint(at=AT, says="it hums when warm", symptom="hum"),
        *(Note(at=AT, text=f"hum heard again, {again}") for again in range(NOTES)),
        Closed(at=AT, was=("filter-capacitor-dry",)),
    )
    return JobLine(number=number, entries=log)


def test_a_word_that_stands_on_every_job(tmp_path: Path, row: Row) -> None:
    from chopstick.cli.main import app

    store = open_store(tmp_path)
    take_in(store, (job(number) for number in range(1, JOBS + 1)))
    begun = time.process_time()
    hits = sum(len(hits) for _, hits in search(open_store(tmp_path).jobs(), "hum"))
    alone = time.process_time() - begun
    begun = time.process_time()
    told = CliRunner().invoke(app, ["jobs", "search", "hum", "--jobs", str(tmp_path)])
    whole = time.process_time() - begun
    assert (hits, told.exit_code) == (JOBS * (NOTES + 2), 0)
    row(f"search of {JOBS:,} closed jobs with {hits:,} hits", f"{alone:.1f} s, shown in {whole:.1f} s", "5 s")
    assert whole < within(5)
