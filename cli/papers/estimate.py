"""The estimate on paper: what the owner is asked to approve."""

from __future__ import annotations

from collections.abc import Iterator

from ...engine.jobs.shop import estimate as engine
from ...engine.jobs.shop.agreement import agreed
from ...engine.jobs.shop.money import money
from ...engine.reasoning.log import Log
from ...engine.reasoning.session import Standing
from ...engine.reasoning.wording import percent
from . import heads
from .models import OwnersEstimate, Pair


def estimate(now: Standing, log: Log, job: int) -> OwnersEstimate:
    """Repairs done, to do and likely with their parts, and what the job comes to with its confidence."""
    made = engine.estimate(now, log, job)
    return OwnersEstimate(
        head=heads.owners_head("Estimate", now, log, job),
        made=made,
        comes_to=tuple(_comes_to(made)),
        explained=_explained(made),
        missing=tuple(_missing(made)),
        approval=heads.approval(agreed(log)),
    )


def _comes_to(made: engine.Estimate) -> list[Pair]:
    """The sums, as an owner reads them: from, to, and most likely."""
    rows = []
    if made.total is not None:
        more = "" if made.complete else ", and more for what has no price yet"
        low, high = money(made.total.low, ""), money(made.total.high, made.currency)
        rows.append(Pair("the whole job", f"{low} to {high}{more}"))
        rows.append(Pair("most likely", f"about {money(made.total.likely, made.currency)}"))
    rows.append(Pair("bench time", f"{made.minutes.low:.0f} to {made.minutes.high:.0f} minutes"))
    if made.hour is not None:
        rows.append(Pair("labor", f"{money(made.hour, made.currency)} an hour"))
    if made.spent is not None and made.spent_minutes:
        rows.append(Pair("spent so far", f"{money(made.spent, made.currency)}, {made.spent_minutes:.0f} minutes"))
    return rows


def _missing(made: engine.Estimate) -> Iterator[str]:
    """What is not in the sums; the shop's own terms, which it may not have set yet, in an owner's words."""
    if made.hour is None:
        yield "labor: the shop has not set its rate yet"
    yield from made.unpriced


def _explained(made: engine.Estimate) -> str:
    said = (
        f"Of 100 amplifiers like this one, about {made.confidence * 100:.0f} end between the two figures. "
        "What is found on the way can change them, and nothing beyond what you approve is done without asking you."
    )
    if made.unexplained >= 0.05:
        said += (
            f" With a chance of {percent(made.unexplained)} something you complain of has a cause outside this "
            "list; the time to look for it is counted, its repair is not."
        )
    return said
