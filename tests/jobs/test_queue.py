"""Which job to take up next: unsafe amps first, then by promise and by the minutes left; what waits for parts last."""

from __future__ import annotations

import itertools
from datetime import date
from pathlib import Path

import pytest
from chopstick.engine.jobs.shop import queue as queueing
from chopstick.engine.jobs.shop.agreement import Waiting
from chopstick.engine.jobs.shop.learned import Learned, Lesson
from chopstick.engine.jobs.shop.queue import JobRead, Open, Queued, in_order, placed, queue
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.reasoning.log import Answer, Awaited, Complaint, Details, HoldAnswered, LogEntry
from chopstick.engine.reference.errors import KnowledgeError
from hypothesis import given
from hypothesis import strategies as st

from .conftest import AT, note, opened

SMALL = Path(__file__).parents[1] / "cli" / "kb"
HOW = JobRead(SMALL)
CRACKLE = Complaint(at=AT, says="scratchy", symptom="crackle")
HOT = Complaint(at=AT, says="gets too hot", symptom="runs-hot")
PART = (Waiting(entry=2, part="output transformer", due=None),)


def test_the_order_of_the_shop() -> None:
    jobs = [
        Queued(1, "no promise, long", minutes=90.0),
        Queued(2, "no promise, short", minutes=10.0),
        Queued(3, "promised late", promised=date(2026, 3, 20), minutes=5.0),
        Queued(4, "promised soon", promised=date(2026, 3, 2), minutes=200.0),
        Queued(5, "promised soonest, part not here", promised=date(2026, 3, 1), awaited=PART, minutes=5.0),
        Queued(6, "no earth", hold="earth-first", awaited=PART),
        Queued(7, "can't be read", trouble="..."),
    ]
    expected = [6, 4, 3, 2, 1, 7, 5]
    for order in itertools.islice(itertools.permutations(jobs), 0, None, 97):
        assert [one.number for one in in_order(order)] == expected


def test_a_job_is_overdue_the_day_after_it_was_promised_for() -> None:
    job = Queued(1, "", promised=date(2026, 3, 2))
    assert [job.overdue(day) for day in (date(2026, 3, 2), date(2026, 3, 3))] == [False, True]
    assert not Queued(1, "").overdue(date(2026, 3, 3))


@given(minutes=st.lists(st.integers(1, 500), min_size=1, max_size=6))
def test_with_nothing_promised_the_average_wait_is_the_shortest_of_all_orders(minutes: list[int]) -> None:
    """The shortest job first: held against every permutation."""

    def waits(order: list[float]) -> float:
        return sum(itertools.accumulate(order))

    ours = waits([one.minutes or 0.0 for one in in_order(Queued(n, "", minutes=float(m)) for n, m in enumerate(minutes))])
    assert ours == min(waits([float(m) for m in order]) for order in itertools.permutations(minutes))


def test_a_place_is_worked_out_from_the_log() -> None:
    details = Details(at=AT, promised=date(2026, 3, 14), priority="quiet on the first note")
    logs: list[list[LogEntry]] = [
        [opened("one"), CRACKLE, details],
        [opened("two"), HOT, Awaited(at=AT, part="rectifier tube", due=date(2026, 3, 9))],
        [opened("three"), CRACKLE, Answer(at=AT, check="look-at-cord", answer="no"),
         HoldAnswered(at=AT, hold="earth-first", cleared=False)],
    ]  # fmt: skip
    held, to_do, waiting = in_order(placed([Open(n, log) for n, log in enumerate(logs, 1)], HOW))
    assert (held.number, held.group, held.hold) == (3, "held", "earth-first")
    assert (to_do.number, to_do.promised, to_do.priority) == (1, date(2026, 3, 14), "quiet on the first note")
    assert to_do.minutes is not None
    assert to_do.minutes > 0
    assert to_do.next == "check: Look at the mains cord"
    assert (waiting.number, [one.part for one in waiting.awaited]) == (2, ["rectifier tube"])


def test_a_job_whose_own_knowledge_is_broken_is_listed_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "areas").mkdir()
    (tmp_path / "areas" / "ours.yaml").write_text("area: small\nrules: {ours: {when: {}}}\n")
    layer = Layer("job", "job 1", tmp_path)
    broken, sound = placed([Open(1, [opened("one"), CRACKLE], (layer,)), Open(2, [opened("two"), CRACKLE])], HOW)
    assert "ours.yaml:2" in broken.trouble
    assert (broken.group, broken.minutes, sound.trouble) == ("to do", None, "")
    with pytest.raises(KnowledgeError):
        placed([Open(1, [opened("one")], (Layer("shop", "shop", tmp_path),))], HOW)


def test_many_jobs_are_read_in_processes_of_their_own_with_the_same_result(monkeypatch: pytest.MonkeyPatch) -> None:
    jobs = [Open(n, [opened(str(n)), (CRACKLE, HOT)[n % 2], *[note("x")] * n]) for n in range(1, 4)]
    here = queue(jobs, HOW)
    monkeypatch.setattr(queueing, "JOBS_A_PROCESS", 1)
    assert queue(jobs, HOW) == here


def test_the_queue_heeds_what_closed_jobs_teach_as_the_bench_does() -> None:
    lesson = Lesson(7, AT, {}, frozenset({"track-dirty"}))
    assert HOW.session(()).experience is None
    taught = JobRead(SMALL, lessons=(lesson,)).session(()).experience
    assert isinstance(taught, Learned)
    assert taught.lessons == (lesson,)
