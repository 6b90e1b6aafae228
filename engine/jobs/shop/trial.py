"""Trying out new knowledge: every kept job and every sample job is run again, with and without it.

A job is run from what its checks showed: whatever was never looked at is answered "can't tell". So it may take another
way under the new knowledge, with other checks and other minutes, and is compared with what the amp really had.
The runs take place in processes of their own (workers.py).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from ...knowledge.base import KnowledgeBase
from ...knowledge.layers import Layer
from ...late import late
from ...reasoning.log import (
    CANT_TELL,
    NOT_THIS_AMP,
    AmpFactsTold,
    Answer,
    Closed,
    Complaint,
    HoldAnswered,
    Log,
    Opened,
    Reading,
    RepairDone,
    standing,
)
from ...reasoning.script import AnswerFile, Told
from ...reference.errors import KnowledgeError
from ..store.store import Store
from .workers import pool, portions

with late():
    from ...knowledge import cache as caching
    from ...knowledge import load as knowledge_load
    from ...reasoning import answers as reasoning_answers
    from ...reasoning import minutes_spent as reasoning_minutes_spent
    from ...reasoning import script as reasoning_script
    from ...reasoning import session as reasoning_session

WORTH_TELLING = 0.01  # a change of probability below this is no change
SURE_ENOUGH = 0.8  # a true cause this probable is found
Verdict = Literal["better", "worse", "changed", "same"]
VERDICTS: tuple[Verdict, ...] = ("better", "worse", "changed", "same")


@dataclass(frozen=True)
class Case:
    """A job to run: what people call it, and what its checks showed."""

    name: str
    file: AnswerFile


@dataclass(frozen=True)
class EndOfJob:
    """How a job ended. probability: of every cause worth naming, and of the true ones. trouble: why it was not run."""

    probability: dict[str, float]
    checks: tuple[str, ...]
    minutes: float
    holds: tuple[str, ...]
    spoken: tuple[str, ...]
    trouble: str = ""


@dataclass(frozen=True)
class TriedTwice:
    """One job before and after. moved: causes whose probability changed. better, worse: the reasons, in words."""

    case: Case
    before: EndOfJob
    after: EndOfJob
    moved: tuple[tuple[str, float, float], ...]
    better: tuple[str, ...]
    worse: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        if self.worse:
            return "worse"
        if self.better:
            return "better"
        b, a = self.before, self.after
        return "changed" if self.moved or (b.checks, b.holds, b.spoken) != (a.checks, a.holds, a.spoken) else "same"


def kept(store: Store) -> Iterator[Case]:
    """The kept jobs, each as what its checks showed. One that can't be read is left out."""
    for job in store.jobs():
        answers = as_answers(job.log)
        yield Case(f"job {job.number}: {answers.job}", answers)


def samples(folder: Path, base: KnowledgeBase) -> Iterator[Case]:
    """The sample jobs of a folder: answer files, with what the amp really had. Raises KnowledgeError."""
    session = reasoning_session.Session(base)
    for path in sorted(folder.glob("*.yaml")):
        yield Case(path.stem, reasoning_script.read_answers(path, session))


def as_answers(log: Log) -> AnswerFile:
    """A kept job as an answer file: what each check showed, before the repairs and after each of them."""
    title = "job"
    truth: tuple[str, ...] = ()
    amp: dict[str, str | bool | float] = {}
    complaints: list[Told] = []
    holds: dict[str, object] = {}
    checks: dict[str, object] = {}
    repairs: dict[str, dict[str, object]] = {}
    shown = checks
    for _, entry in standing(log):
        match entry:
            case Opened():
                title = entry.title
                amp |= entry.amp
            case AmpFactsTold():
                amp |= entry.amp
            case Complaint():
                complaints.append(Told(says=entry.says, symptom=entry.symptom))
            case HoldAnswered():
                holds[entry.hold] = "yes" if entry.cleared else "no"
            case Answer() if entry.answer not in (CANT_TELL, NOT_THIS_AMP):
                shown[entry.check] = entry.answer
            case Reading():
                shown[entry.check] = dict(entry.values)
            case RepairDone():
                shown = repairs.setdefault(entry.repair, {})
            case Closed():
                truth = entry.was
            case _:
                pass
    return AnswerFile(
        job=title, amp=amp, complaints=tuple(complaints), holds=holds, checks=checks, repairs=repairs, truth=truth
    )


def trial(
    cases: Sequence[Case],
    root: Path | None,
    before: Sequence[Layer],
    after: Sequence[Layer],
    processes: int = 2,
    cache: Path | None = None,
) -> Iterator[TriedTwice]:
    """Every job under both sets of layers, in their order, as they are done. Raises KnowledgeError for layers that
    can't be loaded."""
    with pool(processes) as workers:
        first = [workers.submit(run, portion, root, tuple(before), cache) for portion in portions(cases)]
        second = [workers.submit(run, portion, root, tuple(after), cache) for portion in portions(cases)]
        for portion, old, new in zip(portions(cases), first, second, strict=True):
            for case, was, now in zip(portion, old.result(), new.result(), strict=True):
                yield compared(case, was, now)


def run(cases: Iterable[Case], root: Path | None, layers: Sequence[Layer], cache: Path | None = None) -> list[EndOfJob]:
    """Run jobs to their ends, one after the other, in this process."""
    session = reasoning_session.Session(
        caching.load(root, layers, cache) if cache else knowledge_load.load(root, layers)
    )
    return [_ended(case, session) for case in cases]


def _ended(case: Case, session: object) -> EndOfJob:
    assert isinstance(session, reasoning_session.Session)
    try:
        done = reasoning_script.run(case.file, session, lambda: datetime(2026, 1, 1))
    except (reasoning_answers.AnswerError, KnowledgeError, RuntimeError, KeyError) as error:
        return EndOfJob({}, (), 0.0, (), (), trouble=str(error))
    now = done.standing
    named = {id_: p for id_, p in now.ranking.probability.items() if p >= 0.02 or id_ in case.file.truth}
    looked = (entry.check for entry in done.log if isinstance(entry, Reading | Answer) and not _skipped(entry))
    return EndOfJob(
        probability=named,
        checks=tuple(looked),
        minutes=reasoning_minutes_spent.minutes_spent(now, done.log),
        holds=tuple(sorted(hold.hold for hold in now.holds if hold.rule)),
        spoken=tuple(sorted(now.deduction.spoken)),
    )


def _skipped(entry: Reading | Answer) -> bool:
    return isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP)


def compared(case: Case, before: EndOfJob, after: EndOfJob) -> TriedTwice:
    """What changed, and whether for better or worse against what the amp really had."""
    ids = sorted({*before.probability, *after.probability})
    moves = [(id_, before.probability.get(id_, 0.0), after.probability.get(id_, 0.0)) for id_ in ids]
    moved = tuple(sorted((m for m in moves if abs(m[2] - m[1]) >= WORTH_TELLING), key=lambda m: -abs(m[2] - m[1])))
    better: list[str] = []
    worse: list[str] = []
    for hold in before.holds:
        if hold not in after.holds:
            worse.append(f"the hold '{hold}' is no longer raised")
    for hold in after.holds:
        if hold not in before.holds:
            better.append(f"the hold '{hold}' is raised")
    if after.trouble and not before.trouble:
        worse.append(after.trouble)
    truth = case.file.truth
    for id_, was, now in moved:
        if id_ in truth and min(was, now) < SURE_ENOUGH:  # beyond that, fewer checks were needed: that is no loss
            (better if now > was else worse).append(f"'{id_}', which it had, went from {was:.0%} to {now:.0%}")
    wrong = [m for m in moved if truth and m[0] not in truth and max(m[1], m[2]) >= 0.5]
    for id_, was, now in wrong:
        (better if now < was else worse).append(f"'{id_}', which it did not have, went from {was:.0%} to {now:.0%}")
    saved = before.minutes - after.minutes
    if truth and abs(saved) >= 0.5 and not worse and math.isfinite(saved):
        (better if saved > 0 else worse).append(f"{abs(saved):.0f} minutes {'fewer' if saved > 0 else 'more'}")
    return TriedTwice(case, before, after, moved, tuple(better), tuple(worse))
