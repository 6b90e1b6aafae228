"""The store, its benches, backups and exports against a plain list of entries: whatever is done, in whatever order."""

from __future__ import annotations

import os
import shutil
import signal
import tempfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from chopstick.engine.jobs.store.check import problems
from chopstick.engine.jobs.store.errors import JobError, MovedOn
from chopstick.engine.jobs.store.job import Job
from chopstick.engine.jobs.store.store import Store, open_store
from chopstick.engine.jobs.store.transfer import backup, export, incoming, restore, take_in
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning.log import (
    Answer,
    Closed,
    Complaint,
    HoldAnswered,
    LogEntry,
    Note,
    Opened,
    Reading,
    RepairDone,
    Undone,
    last_undoable,
    standing,
)
from chopstick.engine.reasoning.session import Session
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from ..amount import amount
from .bench import SMALL
from .conftest import AT

QUICK = Path("/dev/shm")  # what is forced to the disk costs nothing there
Model = dict[int, list[LogEntry]]  # by job, all that was confirmed

ENTRIES: st.SearchStrategy[LogEntry] = st.one_of(
    st.sampled_from(["crackle", "runs-hot"]).map(lambda one: Complaint(at=AT, says="it does", symptom=one)),
    st.tuples(st.sampled_from(["look-at-cord", "turn-and-listen", "sweep-ohms"]), st.sampled_from(["yes", "no", "smooth", "rough", "can't tell", "gone"])).map(
        lambda one: Answer(at=AT, check=one[0], answer=one[1])
    ),
    st.floats(-1e6, 1e6).map(lambda volts: Reading(at=AT, check="control-dc", values={"volts": volts})),
    st.tuples(st.sampled_from(["discharged", "ready-for-live"]), st.booleans()).map(
        lambda one: HoldAnswered(at=AT, hold=one[0], cleared=one[1])
    ),
    st.just(RepairDone(at=AT, repair="replace-capacitor", cause="capacitor-leaky")),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=30).map(lambda text: Note(at=AT, text=text)),
)


class Stores(RuleBasedStateMachine):
    """A store with jobs in it, and what was done to it kept in plain lists beside it."""

    session: Session

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="chopstick-model-", dir=QUICK if QUICK.is_dir() else None))
        self.store = self._opened()
        self.model: Model = {}
        self.stale: dict[int, Job] = {}  # another bench's jobs, as it read them last
        self.kept_aside: list[tuple[Path, Model]] = []  # backups and exports, and what was in them
        self.files = 0

    def teardown(self) -> None:
        assert problems(self._opened()) == []
        shutil.rmtree(self.folder)

    def _opened(self) -> Store:
        return open_store(self.folder / "jobs")

    def _file(self, end: str) -> Path:
        self.files += 1
        return self.folder / f"{self.files}.{end}"

    def _copied(self) -> Model:
        return {number: list(log) for number, log in self.model.items()}

    @rule(title=st.text(st.characters(exclude_categories=["Cs"]), max_size=10), more=st.lists(ENTRIES, max_size=2))
    def open_a_job(self, title: str, more: list[LogEntry]) -> None:
        opened = Opened(at=AT + timedelta(seconds=self.files), title=title, fingerprint="f")
        self.files += 1
        job = self.store.create(opened, *more)
        assert job.number == max(self.model, default=0) + 1
        self.model[job.number] = [opened, *more]

    def _any(self, data: st.DataObject) -> int:
        return data.draw(st.sampled_from(sorted(self.model)))

    @precondition(lambda self: self.model)
    @rule(data=st.data(), entries=st.lists(ENTRIES, min_size=1, max_size=3))
    def enter(self, data: st.DataObject, entries: list[LogEntry]) -> None:
        number = self._any(data)
        job = self.store.find(number)
        assert job.append(*entries) == ()
        self.model[number] += entries
        assert job.log == self.model[number]

    @precondition(lambda self: self.model)
    @rule(data=st.data())
    def undo(self, data: st.DataObject) -> None:
        number = self._any(data)
        last = last_undoable(self.model[number])
        if last is not None:
            entry = Undone(at=AT, number=last)
            self.store.find(number).append(entry)
            self.model[number].append(entry)
            assert last not in {one for one, _ in standing(self.store.find(number).log)}

    @precondition(lambda self: self.model)
    @rule(data=st.data(), ahead=st.integers(0, 3))
    def undo_of_what_is_not_there_is_refused(self, data: st.DataObject, ahead: int) -> None:
        number = self._any(data)
        with pytest.raises(JobError):
            self.store.find(number).append(Undone(at=AT, number=max(2, len(self.model[number]) + 1 + ahead)))

    @precondition(lambda self: self.model)
    @rule(data=st.data())
    def close(self, data: st.DataObject) -> None:
        number, entry = self._any(data), Closed(at=AT, other="as it was")
        self.store.find(number).append(entry)
        self.model[number].append(entry)

    @precondition(lambda self: self.model)
    @rule(data=st.data())
    def another_bench_reads(self, data: st.DataObject) -> None:
        number = self._any(data)
        self.stale[number] = self._opened().find(number)

    @precondition(lambda self: self.stale)
    @rule(data=st.data(), entry=ENTRIES, merge=st.booleans())
    def another_bench_enters(self, data: st.DataObject, entry: LogEntry, merge: bool) -> None:
        number = data.draw(st.sampled_from(sorted(self.stale)))
        job = self.stale[number]
        known = len(job.log)
        try:
            came = job.append(entry, merge=merge)
        except MovedOn:
            assert len(self.model[number]) > known
            assert job.log == self.model[number], "it is told what came, and nothing of its own is kept"
            return
        except JobError:  # the store was put back meanwhile
            del self.stale[number]
            return
        assert list(came) == self.model[number][known:]
        assert merge or not came
        self.model[number].append(entry)
        assert job.log == self.model[number]

    @precondition(lambda self: self.model)
    @rule(data=st.data(), entries=st.lists(ENTRIES, min_size=1, max_size=3), late=st.booleans())
    def a_bench_is_killed(self, data: st.DataObject, entries: list[LogEntry], late: bool) -> None:
        """Before it confirms (all is kept, or nothing), or after (all is kept)."""
        number = self._any(data)
        found = _killed(lambda: self._opened().find(number).append(*entries), late)
        log = self._opened().find(number).log
        assert log in ([*self.model[number], *entries], *([] if found else [self.model[number]]))
        self.model[number] = log

    @rule()
    def reopen(self) -> None:
        self.store = self._opened()

    @precondition(lambda self: self.model)
    @rule()
    def back_up(self) -> None:
        file = self._file("sqlite")
        assert backup(self.store, file) == len(self.model)
        self.kept_aside.append((file, self._copied()))

    @precondition(lambda self: self.model)
    @rule(data=st.data())
    def export(self, data: st.DataObject) -> None:
        numbers = data.draw(st.lists(st.sampled_from(sorted(self.model)), unique=True))
        file = self._file("jsonl")
        export(self.store, file, numbers)
        self.kept_aside.append((file, {n: log for n, log in self._copied().items() if n in numbers or not numbers}))

    @precondition(lambda self: any(file.suffix == ".sqlite" for file, _ in self.kept_aside))
    @rule(data=st.data())
    def restore(self, data: st.DataObject) -> None:
        backups = [one for one in self.kept_aside if one[0].suffix == ".sqlite"]
        file, then = data.draw(st.sampled_from(backups))
        restore(self.store, file)
        self.model = {number: list(log) for number, log in then.items()}
        self.store = self._opened()
        self.stale.clear()

    @precondition(lambda self: self.kept_aside)
    @rule(data=st.data())
    def take_in(self, data: st.DataObject) -> None:
        """Jobs that are here already get what they lack; others are new, with their number where it is free."""
        file, then = data.draw(st.sampled_from(self.kept_aside))
        told = take_in(self.store, incoming(file))
        assert [one.was for one in told] == sorted(then)
        here = dict(self.model)
        for one in told:
            log = then[one.was]
            same = [n for n, ours in here.items() if ours[: len(log)] == log or log[: len(ours)] == ours]
            assert one.new is not bool(same)
            if one.new:
                assert one.number not in self.model
                assert one.number == one.was or one.was in self.model
                self.model[one.number] = list(log)
            else:
                assert one.number in same
                assert one.added == max(0, len(log) - len(self.model[one.number]))
                self.model[one.number] += log[len(self.model[one.number]) :]
                del here[one.number]

    @precondition(lambda self: self.kept_aside)
    @rule(cut=st.integers(1, 20_000))
    def a_file_that_is_cut_off_gives_all_or_nothing(self, cut: int) -> None:
        file, then = self.kept_aside[-1]
        damaged = self._file("damaged")
        damaged.write_bytes(file.read_bytes()[:-cut])
        try:
            found = incoming(damaged)
        except JobError:
            return
        whole = {one.number: list(one.entries) for one in found}
        assert whole == then or (file.suffix == ".jsonl" and whole.items() <= then.items()), "whole jobs, unharmed"

    @invariant()
    def it_holds_what_was_confirmed(self) -> None:
        if not hasattr(self, "store"):
            return
        store = self._opened()
        assert {job.number: job.log for job in store.jobs()} == self.model
        assert [one.number for one in store.listed()] == sorted(self.model)
        closed = {n for n, log in self.model.items() if any(isinstance(entry, Closed) for _, entry in standing(log))}
        assert {one.number for one in store.listed() if one.closed} == closed

    @precondition(lambda self: self.model)
    @rule(data=st.data())
    def it_stands_as_the_plain_list_does(self, data: st.DataObject) -> None:
        number = self._any(data)
        kept, plain = self.session.read(self.store.find(number).log), self.session.read(self.model[number])
        assert kept.next == plain.next
        without = [entry for _, entry in standing(self.model[number])]
        assert self.session.read(without).ranking.probability == kept.ranking.probability


def _killed(what: Callable[[], object], late: bool) -> bool:
    """Do something in a process that is killed, at once or when it is done; whether it was done for certain."""
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            what()
            os.write(theirs, b"1")
            signal.pause()
        finally:
            os._exit(0)
    os.close(theirs)
    if late:
        os.read(ours, 1)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    done = late or bool(os.read(ours, 1))
    os.close(ours)
    return done


@pytest.mark.long
def test_the_store_against_a_plain_list() -> None:
    from hypothesis.stateful import run_state_machine_as_test

    Stores.session = Session(load(SMALL))
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        Stores, settings=settings(max_examples=amount(15, 600), stateful_step_count=20, deadline=None)
    )
