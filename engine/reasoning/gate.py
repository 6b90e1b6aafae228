"""What may be entered, in which order and behind which hold: one gate for the prompt, a command, a file and a page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from .holds import HoldState, reach
from .log import CANT_TELL, NOT_THIS_AMP, Answer, HoldAnswered, Log, LogEntry
from .session import Session, Standing
from .set_up import is_cleared, prepared_first, work_of

BEFORE_POWER = "untold/before-power"
MOST_BEFORE = 12  # holds and moves that one piece of work can stand behind


@dataclass(frozen=True)
class Passed:
    """entries: in a safe order, each hold before the work that it bars; none when the open hold `barred` stands before
    some of the work."""

    entries: tuple[LogEntry, ...]
    barred: HoldState | None = None


def passed(
    session: Session, log: Log, first: Sequence[LogEntry], holds: Iterable[HoldAnswered], work: Sequence[LogEntry]
) -> Passed:
    """All the work that is to be entered, or what bars some of it.

    first: what is told of the amp, which may raise holds. holds: those that were answered beside the work, moves among
    them; one that only what is entered here raises, or asks anew, opens with them too. work: repairs and checks, in
    order. A move that nothing here needs is entered only where no work is given.
    """
    base, answered = session.base, tuple(holds)
    yes = {entry.hold: entry for entry in answered if entry.cleared}
    at_once = [entry for entry in answered if not entry.cleared or not _standing(base, entry)]
    entries: list[LogEntry] = [*first, *at_once]
    for answer in answered if not work else ():
        if answer not in at_once:
            if barred := before_move(session.read([*log, *entries]), answer):
                return Passed((), barred)
            entries.append(answer)
    for place, entry in enumerate(work):
        for _ in range(MOST_BEFORE):
            now = session.read([*log, *entries])
            wanted = work_of(now.base, entry) if not _skipped(entry) else None
            hold = stands_before(now, wanted) if wanted is not None else None
            if hold is None:
                break
            if hold.hold not in yes or hold.against or not is_cleared_by(now.base, yes[hold.hold]):
                return Passed((), hold)
            entries.append(_with_prepared(now.base, hold, yes[hold.hold], work[place:]))
        else:
            return Passed((), hold)
        entries.append(entry)
    return Passed(tuple(entries))


def stands_before(now: Standing, work: model.Work) -> HoldState | None:
    """The first thing that stands before work which is entered out of turn. What is due before power comes before the
    move to power: nobody is to plug it in first and be told then."""
    hold = now.plan.blocked_by(work)
    leads_to_power = hold is None or (hold.kind == "standing" and hold.blocks in model.POWERED)
    return (due_before_power(now, work.stage, work.id) if leads_to_power else None) or hold


def before_move(now: Standing, entry: HoldAnswered) -> HoldState | None:
    """What stands before a move that is entered by itself: power meets all that power for work would meet, and hands
    that went in before it want the amp bled."""
    move = now.base.moves.get(entry.hold)
    if move is None or not entry.cleared or move.blocks not in model.POWERED:
        return None
    for hold in now.holds:
        if entry.prepared and hold.kind == "standing" and hold.blocks == "cold" and hold.answered is not True:
            return hold
        open_ = hold.kind != "standing" and hold.answered is not True
        if open_ and not hold.tubes and reach(hold.blocks) <= reach(move.blocks):
            return hold
    return due_before_power(now, move.blocks)


def due_before_power(now: Standing, stage: model.Stage, id_: str = "") -> HoldState | None:
    """What has to be told before power of a stage and was not even tried, as one hold: for whoever enters work under
    power out of turn (id_), or moves to it. Who is senior may take it on with a reason, as a check that could not be
    told."""
    plan = now.plan
    if stage not in model.POWERED or not now.base.moves or now.facts.holds.get(BEFORE_POWER):
        return None
    due = list(plan.safety_checks())
    due += [check for check in plan.way_up() if stage in ("live", "play") and check.id != id_]
    if not due:
        return None
    names = "; ".join(f"{check.name} ({check.id})" for check in due)
    return HoldState(
        BEFORE_POWER, f"Not done yet, and due before power: {names}.", "Are they done?", stage, None, kind="untold"
    )


def _standing(base: KnowledgeBase, entry: HoldAnswered) -> bool:
    return entry.hold in base.holds and base.holds[entry.hold].standing


def is_cleared_by(base: KnowledgeBase, entry: HoldAnswered) -> bool:
    """Whether an answer opens what it answers: a danger needs a reason, and a move its volts."""
    return is_cleared(base.holds[entry.hold], entry) if entry.hold in base.holds else bool(entry.reason.strip())


def _skipped(entry: LogEntry) -> bool:
    """Whether no work on the amp was done for an entry."""
    return isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP)


def _with_prepared(
    base: KnowledgeBase, hold: HoldState, entry: HoldAnswered, ahead: Sequence[LogEntry]
) -> HoldAnswered:
    """A move to power names the work ahead for which hands were in the chassis before it."""
    if hold.blocks not in model.POWERED or hold.hold not in base.moves:
        return entry
    works = (work_of(base, one) for one in ahead if not _skipped(one))
    inside = dict.fromkeys(work.id for work in works if work is not None and prepared_first(work))
    return entry.model_copy(update={"prepared": tuple(dict.fromkeys((*entry.prepared, *inside)))})
