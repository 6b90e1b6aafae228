"""Several benches at the same moment: no number is given twice, no entry is lost, and every log is in one order."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from chopstick.engine.jobs.store.check import problems
from chopstick.engine.jobs.store.store import Store
from chopstick.engine.reasoning.log import LogEntry, Note

from .conftest import OpenStore, note, opened

BENCHES, EACH = 4, 6


def test_jobs_opened_at_once_get_numbers_of_their_own(open_again: OpenStore) -> None:
    """The folder, the file and the tables are made by whoever is first."""

    def intake(bench: int) -> list[int]:
        store = open_again()
        return [store.create(opened(f"{bench}-{n}"), note("x")).number for n in range(EACH)]

    with ThreadPoolExecutor(BENCHES) as benches:
        numbers = [number for told in benches.map(intake, range(BENCHES)) for number in told]
    assert sorted(numbers) == list(range(1, BENCHES * EACH + 1))
    assert problems(open_again()) == []


def test_entries_made_at_once_on_one_job_are_all_kept_in_one_order(open_again: OpenStore) -> None:
    store: Store = open_again()
    store.create(opened())

    def bench(name: int) -> list[LogEntry]:
        job = open_again().find(1)
        for n in range(EACH):
            job.append(note(f"{name}-{n}"))
        return job.log

    with ThreadPoolExecutor(BENCHES) as benches:
        logs = list(benches.map(bench, range(BENCHES)))
    kept = store.find(1).log
    assert len(kept) == 1 + BENCHES * EACH
    for name, log in enumerate(logs):
        assert log == kept[: len(log)]  # each bench has seen the same beginning
        texts = [entry.text for entry in kept if isinstance(entry, Note) and entry.text.startswith(f"{name}-")]
        assert texts == [f"{name}-{n}" for n in range(EACH)]
    assert problems(open_again()) == []
