"""How well a practice went: what was found, what it cost, what was unsafe, and the order the plan would have gone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from ..knowledge import model
from ..reasoning.log import (
    CANT_TELL,
    NOT_THIS_AMP,
    Answer,
    Log,
    LogEntry,
    Reading,
    RepairDone,
    standing,
)
from ..reasoning.minutes_spent import minutes_spent
from ..reasoning.session import Session, Standing
from ..reasoning.steps import Step
from ..reasoning.wording import step_name
from .amps import Amp

FOUND, QUICK, FEW = 60.0, 20.0, 20.0  # points: for the faults found, for minutes and for checks, against the plan's own
UNSAFE, NEEDLESS = 15.0, 5.0  # points off: for each unsafe move, for each repair of what was not at fault
MOST_STEPS = 400


@dataclass(frozen=True)
class Unsafe:
    """A move that could have killed. what: the step; why: what had to come first."""

    what: str
    why: str


@dataclass(frozen=True)
class Done:
    """One step of an order of work: name, stage of work, what it showed."""

    kind: str
    id: str
    name: str
    stage: str
    got: tuple[LogEntry, ...]


@dataclass(frozen=True)
class Missed:
    """A fault that was not repaired, and the checks of the plan's order that could have shown it."""

    cause: str
    checks: tuple[str, ...]


@dataclass(frozen=True)
class Score:
    """points: 0 to 100. order: the plan's own. too_early: checks of powered stages done out of its order ..."""

    points: float
    found: tuple[str, ...]
    missed: tuple[Missed, ...]
    needless: tuple[str, ...]
    unsafe: tuple[Unsafe, ...]
    checks: int
    minutes: float
    plan_checks: int
    plan_minutes: float
    order: tuple[Done, ...]


def unsafe_in(now: Standing, work: model.Work, what: str) -> Unsafe | None:
    """Why a check or repair would be unsafe now; None when it would not be."""
    due = now.plan.safety_checks() if work.stage in model.POWERED else []
    due += [check for check in now.plan.way_up() if work.stage in ("live", "play") and check.id != work.id]
    if due:
        return Unsafe(what, f"nothing goes under power before: {'; '.join(check.name for check in due)}")
    hold = now.plan.blocked_by(work)
    return Unsafe(what, f"the hold before it was open: {hold.ask}") if hold else None


def plan_order(session: Session, amp: Amp, at: datetime) -> tuple[list[LogEntry], tuple[Done, ...]]:
    """The log and the steps of the plan's own order on an amp, to its end."""
    log = amp.opening(session, at)
    order: list[Done] = []
    for _ in range(MOST_STEPS):
        now = session.read(log)
        if now.next.kind == "done" or (now.next.kind == "held" and not _right(now, now.next, amp, log)):
            break
        entry = _plays(now, now.next, amp, log, at)
        log.append(entry)
        order.append(_done(now, now.next, entry))
    return log, tuple(order)


def _plays(now: Standing, step: Step, amp: Amp, log: Log, at: datetime) -> LogEntry:
    if step.kind in ("hold", "held", "move"):
        return amp.answered(now, next(one for one in now.holds if one.hold == step.id), log, at, step.prepared)
    if step.kind == "repair":
        return RepairDone(at=at, repair=step.id, cause=step.cause)
    return amp.entry(now.base.checks[step.id], log, at)


def _right(now: Standing, step: Step, amp: Amp, log: Log) -> bool:
    """Whether a hold is as it should be."""
    return amp.holds(next(one for one in now.holds if one.hold == step.id), log)


def _done(now: Standing, step: Step, entry: LogEntry) -> Done:
    name, stage = step_name(now.base, step)
    return Done("hold" if step.kind == "held" else step.kind, step.id, name, stage, (entry,))


def count_checks(log: Log) -> int:
    """The checks of a log that were really done."""
    done = [entry for _, entry in standing(log) if isinstance(entry, Answer | Reading)]
    return sum(not (isinstance(one, Answer) and one.answer in (CANT_TELL, NOT_THIS_AMP)) for one in done)


def score(session: Session, amp: Amp, log: Log, unsafe: Sequence[Unsafe], now: Callable[[], datetime]) -> Score:
    """The score of a log against the plan's own order on the same amp."""
    plan_log, order = plan_order(session, amp, now())
    done = [entry for _, entry in standing(log) if isinstance(entry, RepairDone)]
    mended = {entry.cause for entry in done}
    found = tuple(cause for cause in amp.file.truth if cause in mended)
    missed = tuple(Missed(cause, _showing(session, cause, order)) for cause in amp.file.truth if cause not in mended)
    needless = tuple(entry.repair for entry in done if entry.cause not in amp.file.truth)
    minutes, plan_minutes = (minutes_spent(session.read(one), one) for one in (log, plan_log))
    checks, plan_checks = count_checks(log), count_checks(plan_log)
    share = len(found) / len(amp.file.truth) if amp.file.truth else float(not needless)
    points = share * (
        FOUND + QUICK * min(1.0, plan_minutes / max(minutes, 1)) + FEW * min(1.0, plan_checks / max(checks, 1))
    )
    points = max(0.0, points - UNSAFE * len(unsafe) - NEEDLESS * len(needless))
    return Score(points, found, missed, needless, tuple(unsafe), checks, minutes, plan_checks, plan_minutes, order)


def _showing(session: Session, cause: str, order: Sequence[Done]) -> tuple[str, ...]:
    shows = session.base.causes[cause].shows
    checks = [one.id for one in order if one.kind in ("check", "proof") and one.id in session.base.checks]
    bearing = (id_ for id_ in checks if any(finding in shows for finding in session.base.checks[id_].findings()))
    return tuple(dict.fromkeys(bearing))[:4]
