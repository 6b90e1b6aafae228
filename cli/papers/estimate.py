"""The estimate on paper: what the owner is asked to approve."""

from __future__ import annotations

from collections.abc import Iterator

from ...engine.jobs.shop import estimate as engine
from ...engine.jobs.shop.agreement import agreed
from ...engine.reasoning.log import Log
from ...engine.reasoning.session import Standing
from ..commands.estimate import over_the_budget
from ..screen import views
from . import heads
from .models import Estimate, EstimatedWork, Pair, PartRow

STATE = {"done": "done", "now": "to do", "likely": "likely"}


def estimate(now: Standing, log: Log, job: int) -> Estimate:
    """Repairs done, to do and likely with their parts, and what the job comes to with its confidence."""
    made = engine.estimate(now, log)
    told = agreed(log)
    flags = (engine.over_the_approved(now, log), over_the_budget(made, told))
    return Estimate(
        head=heads.owners_head("Estimate", now, log, job),
        works=tuple(_work(now, work, made.currency) for work in made.works),
        comes_to=tuple(_comes_to(made)),
        explained=_explained(made),
        missing=tuple(_missing(made)),
        flags=tuple(filter(None, flags)),
        approval=heads.approval(told),
    )


def _work(now: Standing, work: engine.Work, currency: str) -> EstimatedWork:
    sure = "" if work.state == "done" else f" ({views.percent(work.probability)})"
    cause = now.base.causes[work.cause].name if work.cause in now.base.causes else work.cause
    return EstimatedWork(
        name=now.base.repairs[work.repair].name,
        cause=f"{cause}{sure}",
        state=STATE[work.state],
        minutes=work.minutes,
        parts=tuple(
            PartRow(
                ", ".join(filter(None, (part.part, part.value))), part.rating, part.quantity,
                views.money(part.cost, currency) or "no price yet",
            )
            for part in work.parts
        ),
        total=views.money(work.total, currency),
    )  # fmt: skip


def _comes_to(made: engine.Estimate) -> list[Pair]:
    """The sums, as an owner reads them: from, to, and most likely."""
    rows = []
    if made.total is not None:
        more = "" if made.complete else ", and more for what has no price yet"
        low, high = views.money(made.total.low, ""), views.money(made.total.high, made.currency)
        rows.append(Pair("the whole job", f"{low} to {high}{more}"))
        rows.append(Pair("most likely", f"about {views.money(made.total.likely, made.currency)}"))
    rows.append(Pair("bench time", f"{made.minutes.low:.0f} to {made.minutes.high:.0f} minutes"))
    if made.hour is not None:
        rows.append(Pair("labour", f"{views.money(made.hour, made.currency)} an hour"))
    if made.spent is not None and made.spent_minutes:
        rows.append(Pair("spent so far", f"{views.money(made.spent, made.currency)}, {made.spent_minutes:.0f} minutes"))
    return rows


def _missing(made: engine.Estimate) -> Iterator[str]:
    """What is not in the sums; the shop's own terms, which it may not have set yet, in an owner's words."""
    if made.hour is None:
        yield "labour: the shop has still to say its rate"
    yield from made.missing[1:] if made.hour is None else made.missing


def _explained(made: engine.Estimate) -> str:
    said = (
        f"Of 100 amplifiers that stand like this one, about {made.confidence * 100:.0f} end between the two figures. "
        "What is found on the way can change them, and nothing beyond what you approve is done without asking you."
    )
    if made.unexplained >= 0.05:
        said += (
            f" With a chance of {views.percent(made.unexplained)} something you complain of has a cause outside this "
            "list; the time to look for it is counted, its repair is not."
        )
    return said
