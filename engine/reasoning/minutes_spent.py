"""The bench minutes that a log took."""

from __future__ import annotations

from .log import CANT_TELL, NOT_THIS_AMP, Answer, HoldAnswered, Log, LogEntry, Reading, RepairDone, standing
from .session import Standing


def minutes_spent(now: Standing, log: Log) -> float:
    """Bench minutes that the checks, repairs and moves of a log take; and changes of stage, if there are no moves."""
    base, deduction = now.base, now.deduction
    spent, stage = 0.0, "look"
    last: LogEntry | None = None
    for _, entry in standing(log):
        going_on = _same_check(last, entry)
        last = entry
        if going_on:
            continue
        if isinstance(entry, Answer | Reading) and entry.check in base.checks:
            if isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP):
                continue
            check = base.checks[entry.check]
            at, minutes = check.stage, deduction.check_minutes(check)
        elif isinstance(entry, RepairDone) and entry.repair in base.repairs:
            repair = base.repairs[entry.repair]
            at, minutes = repair.stage, deduction.repair_minutes(repair)
        elif isinstance(entry, HoldAnswered) and entry.hold in base.moves and entry.cleared:
            spent += base.moves[entry.hold].minutes
            continue
        else:
            continue
        if at != stage and not base.moves:
            spent += base.scale.change_of_stage_minutes.get(at, 0.0)
        spent, stage = spent + minutes, at
    return spent


def _same_check(last: LogEntry | None, entry: LogEntry) -> bool:
    """Whether an entry is a further reading of the check that the last one belongs to: entered one by one, they took
    the check's minutes once."""
    return (
        isinstance(last, Reading)
        and isinstance(entry, Reading)
        and last.check == entry.check
        and not last.values.keys() & entry.values.keys()
    )
