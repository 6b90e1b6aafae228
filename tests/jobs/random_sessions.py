"""Whole jobs in a store, worked on at random by two benches that are killed now and then.

`python -m tests.jobs.random_sessions 10000 [FIRST SEED]` plays that many on the shipped knowledge base, in processes that
are recycled, since the rule engine gives no memory back; it tells of every seed at which something did not hold.

What is entered goes the way of `take`: through the gate, into the store, behind what the other bench entered. Held
against it is nothing but a list of what was confirmed: no entry of it is ever lost, doubled or changed, whatever is
killed, and no step is offered in an unsafe order.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

from chopstick.engine.jobs.entering import Given, Taken, kept, taken
from chopstick.engine.jobs.store.check import problems
from chopstick.engine.jobs.store.errors import MovedOn
from chopstick.engine.jobs.store.job import Job
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.jobs.store.transfer import backup, exported, lines, restore, take_in
from chopstick.engine.knowledge import model
from chopstick.engine.reasoning.log import CANT_TELL, NOT_THIS_AMP, Closed, Complaint, LogEntry, Note, Opened
from chopstick.engine.reasoning.session import Session, Standing

from ..oracle import Oracle
from ..reasoning.random_jobs import amp_of, assert_whole

AT = datetime(2026, 1, 1, 9, 30, tzinfo=UTC)
MOST_STEPS = 500
AT_ONCE = 20  # sessions a process
QUICK = Path("/dev/shm")  # what is forced to the disk costs nothing there; a kill of a process is the same


def play(sessions: Sequence[Session], seed: int) -> Counter[str]:
    """One job, from intake to its end, with a session for each of the two benches. Raises AssertionError where something does not hold."""
    folder = Path(tempfile.mkdtemp(prefix="chopstick-session-", dir=QUICK if QUICK.is_dir() else None))
    try:
        return _Session(sessions, seed, folder).play()
    finally:
        shutil.rmtree(folder)


class _Session:
    def __init__(self, sessions: Sequence[Session], seed: int, folder: Path) -> None:
        self.sessions, self.folder, self.draw = sessions, folder, random.Random(seed)
        self.oracle = Oracle(sessions[0])
        self.told: Counter[str] = Counter(jobs=1)
        self.willing = self.draw.choice([0.8, 1.0, 1.0])  # how often a hold is confirmed
        self.mischief = self.draw.choice([0, 25])  # times that something is entered that nobody asked for
        base = sessions[0].base
        symptoms = self.draw.sample(sorted(base.symptoms), min(len(base.symptoms), self.draw.randint(1, 6)))
        opened = Opened(at=AT, title="random", fingerprint=base.fingerprint, amp=amp_of(base, self.draw))
        told = [Complaint(at=AT, says="it does", symptom=one) for one in symptoms]
        self.confirmed: list[LogEntry] = [opened, *told]
        open_store(folder).create(opened, *told)
        self.benches = [self._opened(), self._opened()]

    def _opened(self) -> Job:
        return open_store(self.folder).find(1)

    def play(self) -> Counter[str]:
        ended = ""
        for _ in range(MOST_STEPS):
            bench = int(self.draw.random() < 0.3)
            job, session = self.benches[bench], self.sessions[bench]
            standing = session.read(job.log)
            assert (wrong := self.oracle.offered(standing, job.log)) == [], f"{wrong[0]}"
            if standing.next.kind in ("done", "held"):
                if job.renew():
                    continue
                ended = standing.next.kind
                break
            self._one(job, session, standing)
        else:
            last = "; ".join(map(repr, self.confirmed[-12:]))
            raise AssertionError(f"no end within {MOST_STEPS} steps: {dict(self.told)}; {standing.next}; last: {last}")
        self.told[f"ended {ended}"] += 1
        self.told["entries"] += len(self.confirmed)
        self._leave()
        return self.told

    def _one(self, job: Job, session: Session, standing: Standing) -> None:
        """One thing entered at a bench, which may not know yet of what the other one entered."""
        if self.mischief and self.draw.random() < 0.2:
            self.mischief -= 1
            given = self._mischief(standing)
        else:
            given = self._asked(standing)
        if self.draw.random() < 0.04:
            self._killed(taken(session, job.log, given, AT).entries)
            return
        try:
            got: Taken = kept(job, lambda log: taken(session, log, given, AT))
        except MovedOn:
            self.told["asked, since the other bench did the same"] += 1
            assert job.log == self.confirmed
            return
        self.told["refused"] += not got.entries
        self.told["kept"] += bool(got.entries)
        self.confirmed += got.entries
        assert job.log == self.confirmed or not got.entries

    def _killed(self, entries: Sequence[LogEntry]) -> None:
        """A third bench enters something, and is killed before, while or after it is kept."""
        ours, theirs = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                self._opened().append(*entries, merge=False)
                os.write(theirs, b"1")
                time.sleep(60)
            finally:
                os._exit(0)
        os.close(theirs)
        time.sleep(self.draw.uniform(0, 0.25))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        confirmed = os.read(ours, 1)
        os.close(ours)
        found = self._opened().log
        more = found[len(self.confirmed) :]
        assert found[: len(self.confirmed)] == self.confirmed, "an entry was lost or changed by a kill"
        assert more == list(entries) or (not more and not confirmed), "a kill left part of what was entered"
        self.told["killed"] += 1
        self.told["killed, and kept"] += bool(more)
        self.confirmed += more

    def _leave(self) -> None:
        """The job is closed, and goes by backup and by export to other stores, where it stands the same."""
        job = self._opened()
        assert job.log == self.confirmed
        now = self.sessions[0].read(job.log)
        assert_whole(now.base, now)
        if self.draw.random() < 0.5:
            job.append(Closed(at=AT, other="as it was"))
        store = open_store(self.folder)
        assert problems(store) == []
        backup(store, self.folder / "backup.sqlite")
        other, third = open_store(self.folder / "other"), open_store(self.folder / "third")
        restore(other, self.folder / "backup.sqlite")
        take_in(third, lines(exported(other), "export"))
        assert other.find(1).log == third.find(1).log == job.log
        assert list(exported(third)) == list(exported(store))

    def _asked(self, standing: Standing) -> Given:
        step = standing.next
        if step.kind == "hold":
            return Given(holds=[(step.id, self.draw.random() < self.willing)])
        if step.kind == "repair":
            return Given(repairs=[(step.id, step.cause)])
        return self._check(standing.base.checks[step.id])

    def _check(self, check: model.Check) -> Given:
        draw = self.draw
        if draw.random() < 0.15:
            return Given(values=[(check.id, draw.choice([CANT_TELL, NOT_THIS_AMP]))])
        if check.answers:
            return Given(values=[(check.id, draw.choice(list(check.answers)))])
        names = [name for name in check.readings if draw.random() < 0.9] or list(check.readings)[:1]
        values = []
        for name in names:
            low, high = check.readings[name].plausible
            value = draw.choice([draw.uniform(low, high)] * 8 + [0.0, low, high, 1e9])
            values.append((f"{check.id}.{name}", f"{value:.4g}"))
        return Given(values=values, believe=True)

    def _mischief(self, standing: Standing) -> Given:
        """What nobody asked for."""
        draw, base = self.draw, standing.base
        done = [id_ for id_ in standing.facts.done if id_ in base.checks]
        return draw.choice([
            lambda: Given(undo=True),
            lambda: Given(undo=True, kept=[Note(at=AT, text="\x1b[2J\u202e; DROP TABLE jobs --")]),
            lambda: Given(amp=list(amp_of(base, draw).items())[:3]),
            lambda: Given(complaints=[("and this", draw.choice(sorted(base.symptoms)))]),
            lambda: Given(values=[("no-such-check", "yes")]),
            lambda: Given(repairs=[(draw.choice(sorted(base.repairs)), "")]),
            lambda: Given(holds=[(draw.choice(sorted(base.holds)), draw.random() < 0.5)]),
            lambda: self._check(base.checks[draw.choice(done or sorted(base.checks))]),
            lambda: self._check(base.checks[draw.choice(sorted(base.checks))]),
        ])()  # fmt: skip


def _portion(seeds: Sequence[int]) -> tuple[Counter[str], list[str], float]:
    """What became of some sessions, what did not hold, and the processor time they took."""
    from chopstick.engine.knowledge import cache

    base, begun = cache.load(), time.process_time()
    sessions = (Session(base), Session(base))
    told: Counter[str] = Counter()
    broke: list[str] = []
    for seed in seeds:
        try:
            told += play(sessions, seed)
        except Exception:
            broke.append(f"seed {seed}: {traceback.format_exc()}")
    return told, broke, time.process_time() - begun


def main(count: int, first: int = 1, processes: int = 2) -> int:
    told, broke, taken_s, begun = Counter[str](), 0, 0.0, time.monotonic()
    seeds = range(first, first + count)
    portions = [seeds[at : at + AT_ONCE] for at in range(0, count, AT_ONCE)]
    with ProcessPoolExecutor(processes, max_tasks_per_child=1) as pool:
        for found, wrong, seconds in pool.map(_portion, portions):
            told, broke, taken_s = told + found, broke + len(wrong), taken_s + seconds
            for one in wrong:
                print(one, flush=True)
            played = told["jobs"] + broke
            print(
                f"{dict(told)}; {broke} broke; {taken_s / max(1, played):.2f} s of processor a session, "
                f"{played / (time.monotonic() - begun) * 3600:.0f} an hour as it went", flush=True,
            )  # fmt: skip
    return int(broke > 0)


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])) if len(sys.argv) > 1 else main(100))
