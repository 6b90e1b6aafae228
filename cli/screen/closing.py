"""A job that has just been closed."""

from __future__ import annotations

from ...engine.jobs.shop.money import money
from ...engine.reports.closing import Closing
from . import views
from .screen import Screen


def tell(screen: Screen, made: Closing) -> None:
    """The closing for people."""
    closed, against = made.closed, made.against
    screen.heading(f"Job {made.number} is closed: {made.job}")
    was = [made.names.get(id_, id_) for id_ in closed.was] + ([closed.other] if closed.other else [])
    rows = [("it was", "; ".join(was) or "not said, so it teaches nothing")]
    rows.append(("left as it is", "; ".join(made.names.get(id_, id_) for id_ in closed.left)))
    minutes = f"{against.minutes_by_the_log:.0f} by the steps done"
    if against.minutes_taken is not None:
        minutes = f"{against.minutes_taken:.0f} taken, {minutes}"
    rows.append(("bench minutes", minutes))
    rows.append(("charged", money(against.charged, against.currency)))
    rows.append(("by the price list", money(against.reckoned, against.currency)))
    if against.approved_high is not None:
        low = f"{against.approved_low:,.2f} to " if against.approved_low is not None else "up to "
        rows.append(("approved", low + money(against.approved_high, against.currency)
                     + (": the charge is OVER it" if against.over else "")))  # fmt: skip
    rows.append(("warranty until", views.day(closed.warranty_until)))
    screen.pairs([(label, text) for label, text in rows if text], indent=2)
    if made.settles:
        screen.heading("While it settles")
        screen.bullets(made.settles, indent=2)
    if made.open:
        screen.heading("Still open; tell the owner")
        screen.bullets(made.open, indent=2)
