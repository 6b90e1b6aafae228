"""The work order: what is to be done on a job, for the technician at the bench."""

from __future__ import annotations

from ...engine.jobs.shop.agreement import agreed
from ...engine.reasoning.log import Log
from ...engine.reasoning.session import Standing
from ..screen import views
from ..shapes import results, shapes
from . import heads
from .models import PartRow, Work, WorkOrder


def work_order(now: Standing, log: Log, job: int) -> WorkOrder:
    """The repairs to do now, in their order, and those done whose proof is still to come."""
    base = now.base
    works = tuple(work(now, shape) for shape in results.repairs_of(now) if shape.state in ("proposed", "done"))
    open_ = tuple(hold.ask for hold in now.holds if not hold.rule or hold.answered is not True)
    told = agreed(log)
    checks = dict.fromkeys(
        check for one in now.complaints if one.verdict == "checks" for check in one.checks
    )
    ids = {id_ for shape in results.repairs_of(now) if shape.state == "proposed" for id_ in _caution_ids(now, shape)}
    return WorkOrder(
        head=heads.head("Work order", now, log, job),
        holds=open_,
        works=works,
        checks=tuple(base.checks[id_].name for id_ in checks),
        minutes=sum(one.minutes for one in works if not one.done),
        cautions=heads.cautions(base, ids),
        approved=heads.approval(told) or "Not approved yet: ask the owner before beginning.",
        awaited=tuple(f"{one.part}{f', due {one.due:%Y-%m-%d}' if one.due else ''}" for one in told.awaited),
    )


def work(now: Standing, shape: shapes.RepairShape) -> Work:
    """A repair as a paper tells it."""
    return Work(
        name=shape.name,
        cause=f"{shape.cause_name} ({views.percent(shape.probability)})",
        minutes=shape.minutes,
        skill=shape.skill,
        hazard=f"As it is, it {views.HAZARD[shape.hazard]}." if shape.hazard in views.HAZARD else "",
        steps=shape.steps,
        parts=tuple(
            PartRow(", ".join(filter(None, (part.part, part.value))), part.rating, part.quantity)
            for part in shape.parts
        ),
        cautions=heads.cautions(now.base, _caution_ids(now, shape)),
        keeps=shape.keeps,
        proof=shape.proof.name,
        proof_wants=shape.proof.wants,
        done=shape.state != "proposed",
    )


def _caution_ids(now: Standing, shape: shapes.RepairShape) -> set[str]:
    """Cautions of a repair and of the check that proves it."""
    return {*now.base.repairs[shape.repair].cautions, *now.base.checks[shape.proof.check].cautions}
