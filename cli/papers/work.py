"""The work order: what is to be done on a job, for the technician at the bench."""

from __future__ import annotations

from ...engine.jobs.shop.agreement import agreed
from ...engine.reasoning.log import Log
from ...engine.reasoning.session import Standing
from ...engine.reports.repairs import repairs_of
from ..screen import views
from . import heads
from .models import WorkOrder


def work_order(now: Standing, log: Log, job: int) -> WorkOrder:
    """The repairs to do now, in their order, and those done whose proof is still to come."""
    base = now.base
    works = tuple(one for one in repairs_of(now) if one.state in ("proposed", "done"))
    to_do = [one for one in works if one.state == "proposed"]
    told = agreed(log)
    checks = dict.fromkeys(check for one in now.complaints if one.verdict == "checks" for check in one.checks)
    return WorkOrder(
        head=heads.head("Work order", now, log, job),
        holds=tuple(hold.ask for hold in now.holds if not hold.rule or hold.answered is not True),
        works=works,
        checks=tuple(base.checks[id_].name for id_ in checks),
        minutes=sum(one.minutes for one in to_do),
        cautions=heads.cautions(base, (id_ for one in to_do for id_ in one.caution_ids)),
        approved=heads.approval(told) or "Not approved yet: ask the owner before beginning.",
        awaited=tuple(f"{one.part}{f', due {views.day(one.due)}' if one.due else ''}" for one in told.awaited),
    )
