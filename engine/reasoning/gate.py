"""What may be entered, in which order and behind which hold: one gate for the prompt, a command, a file and a page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from .log import CANT_TELL, NOT_THIS_AMP, Answer, HoldAnswered, Log, LogEntry, RepairDone
from .session import Session
from .steps import HoldState


class Passed(NamedTuple):
    """entries: in a safe order, each hold before the work that it bars; none when the open hold `barred` stands before
    some of the work."""

    entries: tuple[LogEntry, ...]
    barred: HoldState | None = None


def stage_of(base: KnowledgeBase, entry: LogEntry) -> model.Stage | None:
    """The stage of work that an entry was done at; None for one that needs no work on the amp."""
    if isinstance(entry, RepairDone):
        return "cold"
    if isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP):
        return None
    check = getattr(entry, "check", "")
    return base.checks[check].stage if check else None


def passed(
    session: Session, log: Log, first: Sequence[LogEntry], holds: Iterable[HoldAnswered], work: Iterable[LogEntry]
) -> Passed:
    """All the work that is to be entered, or the hold that bars some of it.

    first: what is told of the amp, which may raise holds. holds: those that were answered beside the work; a hold that
    only what is entered here raises, or raises anew, opens with them too. work: repairs and checks, in order.
    """
    answered = tuple(holds)
    yes = {entry.hold: entry for entry in answered if entry.cleared}
    entries = [*first, *answered]
    for entry in work:
        now = session.read([*log, *entries])
        stage = stage_of(now.base, entry)
        while stage and (hold := now.plan.blocked_by(stage)) is not None:
            if hold.hold not in yes:
                return Passed((), hold)
            entries.append(yes[hold.hold])
            now = session.read([*log, *entries])
        entries.append(entry)
    return Passed(tuple(entries))
