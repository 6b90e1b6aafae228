"""The JSON of `close`, and the same for people."""

from __future__ import annotations

from typing import Literal

from ...engine.jobs.shop.agreement import agreed
from ...engine.jobs.shop.before_after import settling
from ...engine.jobs.shop.estimate import spent_so_far
from ...engine.reasoning import explain
from ...engine.reasoning.log import Closed, Log
from ...engine.reasoning.session import Standing
from ..screen import views
from ..screen.screen import Screen
from .results import agreed_shape
from .shapes import ClosedShape, Shape


class AgainstShape(Shape):
    """Estimate against actual. approved: the band the owner was told, null when none was; reckoned: what the work that
    was done comes to by the price list, null without a labour rate; charged: what was charged, null when not said."""

    approved_low: float | None
    approved_high: float | None
    reckoned: float | None
    charged: float | None
    currency: str
    minutes_by_the_log: float
    minutes_taken: float | None


class ClosingShape(Shape):
    """What `close` prints. teaches: whether it says what it was. open: what is still open, in sentences. settles: what
    to expect of the parts that were fitted."""

    shape: Literal["chopstick closing 1"] = "chopstick closing 1"
    number: int
    job: str
    closed: ClosedShape
    names: dict[str, str]
    teaches: bool
    against: AgainstShape
    open: tuple[str, ...]
    settles: tuple[str, ...]


def closing_shape(now: Standing, log: Log, entry: Closed, number: int) -> ClosingShape:
    """A job that has just been closed."""
    base = now.base
    closed = agreed_shape([*log, entry]).closed
    assert closed is not None
    approval = agreed(log).approval
    open_ = [f"not proven yet: {base.repairs[one.repair].name}" for one in now.facts.repairs if one.proven is None]
    open_ += [f"the proof failed: {base.repairs[one.repair].name}" for one in now.facts.repairs if one.proven is False]
    open_ += [f"open hold: {one.hold.text}" for one in now.holds if one.rule and one.answered is not True]
    return ClosingShape(
        number=number, job=now.facts.title, closed=closed,
        names={id_: base.causes[id_].name for id_ in (*entry.was, *entry.left) if id_ in base.causes},
        teaches=entry.verdict,
        against=AgainstShape(
            approved_low=approval.low if approval and approval.approved else None,
            approved_high=approval.high if approval and approval.approved else None,
            reckoned=spent_so_far(now, log), charged=entry.charged, currency=entry.currency or base.shop.currency or "",
            minutes_by_the_log=explain.minutes_spent(now, log), minutes_taken=entry.minutes,
        ),
        open=tuple(dict.fromkeys(open_)), settles=settling(now),
    )  # fmt: skip


def tell(screen: Screen, shape: ClosingShape) -> None:
    """The closing for people."""
    closed, against = shape.closed, shape.against
    screen.heading(f"Job {shape.number} is closed: {shape.job}")
    was = [shape.names.get(id_, id_) for id_ in closed.was] + ([closed.other] if closed.other else [])
    rows = [("it was", "; ".join(was) or "not said, so it teaches nothing")]
    rows.append(("left as it is", "; ".join(shape.names.get(id_, id_) for id_ in closed.left)))
    minutes = f"{against.minutes_by_the_log:.0f} by the steps done"
    if against.minutes_taken is not None:
        minutes = f"{against.minutes_taken:.0f} taken, {minutes}"
    rows.append(("bench minutes", minutes))
    rows.append(("charged", views.money(against.charged, against.currency)))
    rows.append(("by the price list", views.money(against.reckoned, against.currency)))
    if against.approved_high is not None:
        low = f"{against.approved_low:,.2f} to " if against.approved_low is not None else "up to "
        over = against.charged is not None and against.charged > against.approved_high
        rows.append(("approved", low + views.money(against.approved_high, against.currency)
                     + (": the charge is OVER it" if over else "")))  # fmt: skip
    rows.append(("warranty until", closed.warranty_until))
    screen.pairs([(label, text) for label, text in rows if text], indent=2)
    if shape.settles:
        screen.heading("While it settles")
        screen.bullets(shape.settles, indent=2)
    if shape.open:
        screen.heading("Still open; tell the owner")
        screen.bullets(shape.open, indent=2)
