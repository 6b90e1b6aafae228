"""Of causes shown at 80 percent, how many were there: the counts, the interval, and the sample jobs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from chopstick.engine.jobs.shop import calibration, verdicts_kept
from chopstick.engine.jobs.shop.calibration import (
    Bin,
    ClosedJob,
    Shown,
    before_repairs,
    bins,
    replay,
    shown_in,
    wilson,
)
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning import script
from chopstick.engine.reasoning.log import Closed, Log, Undone
from chopstick.engine.reasoning.session import Session
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from ..amount import amount
from ..shipped import shipped_knowledge
from .bench import SMALL, START, Bench

SESSIONS = Path(__file__).parents[1] / "sessions"


@given(st.integers(1, 500), st.data())
def test_the_interval_is_that_of_wilson(shown: int, data: st.DataObject) -> None:
    """Against scipy.stats."""
    there = data.draw(st.integers(0, shown))
    known = stats.binomtest(there, shown).proportion_ci(0.95, "wilson")
    assert wilson(there, shown) == pytest.approx((known.low, known.high), abs=1e-9)


@given(st.lists(st.tuples(st.floats(0.05, 1), st.booleans()), max_size=60))
def test_every_cause_shown_is_counted_once(pairs: list[tuple[float, bool]]) -> None:
    found = bins(Shown(1, str(n), p, there) for n, (p, there) in enumerate(pairs))
    assert sum(one.shown for one in found) == len(pairs)
    assert sum(one.there for one in found) == sum(there for _, there in pairs)
    assert all(one.low <= one.expected <= one.high and one.shown > 0 for one in found)


def test_a_tool_that_is_right_as_often_as_it_says_fits() -> None:
    """80 of 100 shown at 80 percent fit; 40 of 100 do not."""
    def at(there: int) -> Bin:
        (one,) = bins(Shown(1, str(n), 0.8, n < there) for n in range(100))
        return one

    assert at(80).fits
    assert not at(40).fits


def test_a_job_counts_as_it_stood_before_its_first_repair(plain: KnowledgeBase) -> None:
    bench = Bench("crackle").answer("look-at-cord", "yes").answer("turn-and-listen", "yes")
    slip = Bench().answer("sweep-ohms", "rough").log[1:]
    bench.add(*slip, Undone(at=START, number=len(bench.log) + 1)).read("control-dc", volts=2.5)
    before = len(bench.log) - 2  # without the slip and its undoing
    bench.repair("replace-capacitor", "capacitor-leaky").answer("turn-and-listen", "no")
    bench.add(Closed(at=START, was=("capacitor-leaky",), left=("track-dirty",)))
    kept = before_repairs(bench.log)
    assert len(kept) == before
    assert {entry.kind for entry in kept} == {"opened", "complaint", "answer", "reading"}
    found = {one.cause: one for one in shown_in(Session(plain), 7, bench.log)}
    assert found["capacitor-leaky"].there
    assert "earth-lost" not in found  # no more probable than beforehand, so it was not shown
    assert found["capacitor-leaky"].probability > 0.8
    assert all(one.there == (id_ in ("capacitor-leaky", "track-dirty")) for id_, one in found.items())
    assert shown_in(Session(plain), 7, bench.log[:-1]) == ()


@pytest.mark.long
def test_the_sample_jobs_are_shown_what_they_have(tmp_path: Path) -> None:
    """Whole jobs run to their ends and closed with the truth, then read again in processes of their own."""
    session = Session(shipped_knowledge())
    jobs: list[tuple[int, Log]] = []
    for number, path in enumerate(sorted(SESSIONS.glob("*.yaml"))[:: amount(14, 2)], start=1):
        file = script.read_answers(path, session)
        clock = iter(START + timedelta(minutes=n) for n in range(10_000))

        def now(clock: object = clock) -> datetime:
            return next(clock)  # type: ignore[call-overload, no-any-return]

        done = script.run(file, session, now)
        if file.truth:
            jobs.append((number, (*done.log, Closed(at=now(), was=file.truth))))
    assert len(jobs) >= 4
    closed = [ClosedJob(number, f"{number:064}", log) for number, log in jobs]
    shown = replay(closed, session.base.fingerprint, None, (), None, tmp_path).shown
    found = {one.low: one for one in bins(shown)}
    assert found[0.9].there / found[0.9].shown > 0.8
    low = [one for one in found.values() if one.high <= 0.4]
    assert sum(one.there for one in low) < 0.4 * sum(one.shown for one in low)
    assert {one.job for one in shown} <= {number for number, _ in jobs}


def closed_jobs(plain: KnowledgeBase, count: int) -> list[ClosedJob]:
    bench = Bench("crackle").answer("look-at-cord", "yes").answer("turn-and-listen", "yes").read("control-dc", volts=2.5)
    log = (*bench.log, Closed(at=START, was=("capacitor-leaky",)))
    return [ClosedJob(number, f"{number * 7919 % 10007:064}", log) for number in range(1, count + 1)]


def test_only_so_many_jobs_are_read_at_one_time_and_what_was_read_is_kept(
    plain: KnowledgeBase, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[int] = []

    def read_again(jobs: Sequence[ClosedJob], *_: object) -> dict[str, verdicts_kept.Causes]:
        read.append(len(jobs))
        session = Session(plain)
        return {job.hash: calibration._believed(session, job.log) for job in jobs}

    monkeypatch.setattr(calibration, "_read_again", read_again)
    jobs = closed_jobs(plain, 25)
    found = [replay(jobs, plain.fingerprint, SMALL, (), 10, tmp_path) for _ in range(4)]
    assert [one.read for one in found] == [10, 20, 25, 25]
    assert read == [10, 10, 5]
    assert {one.jobs for one in found} == {25}
    assert found[2] == found[3]
    assert {(one.cause, one.there) for one in found[3].shown} >= {("capacitor-leaky", True)}
    assert len({one.job for one in found[3].shown}) == 25
    other = replay(jobs, "another knowledge", SMALL, (), 3, tmp_path)
    assert other.read == 3, "what was shown by other knowledge does not count"


def test_the_jobs_that_are_read_first_are_drawn_by_lot(plain: KnowledgeBase, tmp_path: Path) -> None:
    """By their hashes, not by their numbers; the real reading, in processes of its own."""
    jobs = closed_jobs(plain, 9)
    found = replay(jobs, plain.fingerprint, SMALL, (), 4, tmp_path)
    first = sorted(jobs, key=lambda job: job.hash)[:4]
    assert {one.job for one in found.shown} == {job.number for job in first}
    assert found.shown[0].probability == shown_in(Session(plain), 1, jobs[0].log)[0].probability


@pytest.mark.parametrize("spoilt", [b"", b"\xff\x00", b"{}\n", b'{"log": 1, "shown": [["x", 7]]}\n', b'{"log": "a", "shown": [["x", "nan"]]}\n', b"[" * 100_000])
def test_what_is_kept_may_be_spoilt(spoilt: bytes, plain: KnowledgeBase, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calibration, "_read_again", lambda jobs, *_: {job.hash: (("track-dirty", 0.5),) for job in jobs})
    file = tmp_path / f"{verdicts_kept.key(plain.fingerprint)}.jsonl"
    file.write_bytes(spoilt)
    file.chmod(0o600)
    assert replay(closed_jobs(plain, 2), plain.fingerprint, SMALL, (), 10, tmp_path).read == 2
    file.chmod(0o666)
    assert verdicts_kept.read(tmp_path, file.stem) == {}, "anybody may have written it"
