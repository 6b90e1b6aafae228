"""A job that has just been closed: what it was, and the estimate and what it came to."""

from __future__ import annotations

from typing import Literal

from ..jobs.shop.agreement import Ending, agreed
from ..jobs.shop.before_after import settling
from ..jobs.shop.estimate import spent_so_far
from ..reasoning.log import CANT_TELL, Closed, Log
from ..reasoning.minutes_spent import minutes_spent
from ..reasoning.session import Standing
from ..report import Report


class Against(Report):
    """Estimate against actual. approved: the range the owner was told, None when none was; reckoned: what the work that
    was done comes to by the price list, None without a labor rate; charged: what was charged, None when not said."""

    approved_low: float | None
    approved_high: float | None
    reckoned: float | None
    charged: float | None
    currency: str
    minutes_by_the_log: float
    minutes_taken: float | None

    @property
    def over(self) -> bool:
        """Whether more was charged than was approved."""
        return self.charged is not None and self.approved_high is not None and self.charged > self.approved_high


class Closing(Report):
    """teaches: whether it says what it was. open: what is still open, in sentences. settles: what to expect of the
    parts that were fitted. names: of the causes, by id."""

    shape: Literal["chopstick closing 1"] = "chopstick closing 1"
    number: int
    job: str
    closed: Ending
    names: dict[str, str]
    teaches: bool
    against: Against
    open: tuple[str, ...]
    settles: tuple[str, ...]


def closing(now: Standing, log: Log, entry: Closed, number: int) -> Closing:
    """A job that has just been closed by an entry; log: as it was before."""
    base = now.base
    approval = agreed(log).approval
    up_to = approval if approval and approval.approved else None
    return Closing(
        number=number,
        job=now.facts.title,
        closed=Ending.made_of(entry),
        names={id_: base.causes[id_].name for id_ in (*entry.was, *entry.left) if id_ in base.causes},
        teaches=entry.verdict,
        against=Against(
            approved_low=up_to.low if up_to else None,
            approved_high=up_to.high if up_to else None,
            reckoned=spent_so_far(now, log),
            charged=entry.charged,
            currency=entry.currency or base.shop.currency or "",
            minutes_by_the_log=minutes_spent(now, log),
            minutes_taken=entry.minutes,
        ),
        open=_open(now),
        settles=settling(now),
    )


def _open(now: Standing) -> tuple[str, ...]:
    repairs = now.base.repairs
    told = [f"not proven yet: {repairs[one.repair].name}" for one in now.facts.repairs if one.proven is None]
    told += [f"the proof failed: {repairs[one.repair].name}" for one in now.facts.repairs if one.proven is False]
    return tuple(dict.fromkeys((*told, *not_to_go_back(now))))


def not_to_go_back(now: Standing) -> tuple[str, ...]:
    """Why the amp must not go back yet, in sentences: a danger or hold that is open, a last test that it has not
    passed."""
    told = [f"open hold: {one.text}" for one in now.holds if one.kind != "standing" and one.answered is not True]
    told += [f"not tested since the last repair: {check.name}" for check in now.plan.last_checks()]
    last = [check for check in now.base.written.values() if check.last is not None]
    return (*told, *(f"not told: {check.name}" for check in last if now.facts.done.get(check.id) == CANT_TELL))
