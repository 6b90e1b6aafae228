"""What a job will come to: repairs with their parts, labor, and a band that holds with a stated confidence.

The band follows from what is believed. The causes that may be there together come from scenarios.py; each scenario
costs its repairs (one that serves two causes is counted once) with the checks that prove them, and the lost bench time
of a complaint that none of its causes explains. The checks still ahead lie between the fewest and all that are worth
doing now, and are spread evenly over THIRDS. Low and high are the tenth and the ninetieth part in a hundred of that
distribution, so the job comes to no less and no more in 80 of 100 jobs like this one. A part without a
price is never counted as zero in silence: it is named, and then the band is a floor.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Literal

import numpy as np

from ...caution import STANDING
from ...knowledge import model
from ...reasoning.log import Approved, Log
from ...reasoning.minutes_spent import minutes_spent
from ...reasoning.parts_needed import PartNeeded
from ...reasoning.session import Standing
from ...reasoning.to_have_ready import LIKELY_ENOUGH
from ...reasoning.wording import cause_name
from ...report import Report
from .agreement import Agreed, agreed
from .minutes_left import checks_ahead, open_causes, repair_minutes, repaired
from .money import money
from .scenarios import Scenarios, quantile, scenarios
from .substitutes import Instead, substitutes

CONFIDENCE = 0.8
THIRDS = (1 / 6, 1 / 2, 5 / 6)
QUICK = 48  # scenarios for the time that is left
NO_RATE = "no labor rate: set `shop: {hour: ..., currency: ...}` in a file of the shop's own layer"

State = Literal["done", "now", "likely"]


class PricedPart(PartNeeded):
    """A part with its price. each, cost: in the estimate's currency, None where there is no price in it. instead: what
    may stand in; keep: what must be kept or, with `never`, why nothing may stand in."""

    each: float | None
    cost: float | None
    instead: tuple[Instead, ...]
    keep: str
    never: bool = False


class Work(Report):
    """A repair with its parts. state: done, now (sure enough to do), or likely. minutes: with the check that proves it
    and moving the work; each sum is None where a price, or the shop's rate, is missing."""

    repair: str
    name: str
    cause: str
    cause_name: str
    probability: float
    state: State
    minutes: float
    parts: tuple[PricedPart, ...]
    parts_cost: float | None
    labour: float | None
    total: float | None


class CostBand(Report):
    """low, likely and high: what 10, 50 and 90 of 100 such jobs do not exceed."""

    low: float
    likely: float
    high: float


class Estimate(Report):
    """What a job will come to.

    hour: the shop's labor rate, None while it has set none. minutes: of the whole job. total: in `currency`, None
    without a labor rate. checks_minutes: the fewest and the most still ahead. spent: minutes and money so far.
    complete: whether all parts are priced; if not, `missing` says what is not, and total is a floor; unpriced: what of
    `missing` are parts. exact: whether the range was worked out over all that may be the case, and not over a draw from
    it. confidence: of the ranges. unexplained: how probable it is that something complained of has none of the known
    causes. over_approved, over_budget: what is wrong, '' when nothing is.
    """

    shape: Literal["chopstick estimate 1"] = "chopstick estimate 1"
    number: int | None
    job: str
    fingerprint: str
    currency: str
    hour: float | None
    works: tuple[Work, ...]
    checks_minutes: tuple[float, float]
    minutes: CostBand
    total: CostBand | None
    spent_minutes: float
    spent: float | None
    confidence: float
    exact: bool
    unexplained: float
    complete: bool
    missing: tuple[str, ...]
    unpriced: tuple[str, ...]
    over_approved: str
    over_budget: str
    caution: str = STANDING


def estimate(now: Standing, log: Log, number: int | None = None) -> Estimate:
    """The estimate of a job as it stands."""
    terms = _Terms(now)
    works = tuple(_works(now, terms))
    spent_minutes = minutes_spent(now, log)
    done_parts = sum(work.parts_cost or 0.0 for work in works if work.state == "done")
    spent = None if terms.hour is None else terms.labour(spent_minutes) + done_parts
    fewest, most = checks_ahead(now)
    joint = scenarios(now.ranking, [*open_causes(now), *sorted(repaired(now))])
    minutes_ahead, parts_ahead, lost = _ahead(now, terms, joint)
    minutes: list[float] = []
    sums: list[float] = []
    weights: list[float] = []
    for third in THIRDS:
        checks = fewest + third * (most - fewest)
        for at, weight in enumerate(joint.weight):
            whole = spent_minutes + checks + minutes_ahead[at]
            minutes.append(whole)
            sums.append(done_parts + parts_ahead[at] + terms.labour(whole))
            weights.append(weight / len(THIRDS))
    total = None if terms.hour is None else _range(sums, weights)
    unpriced = tuple(terms.unpriced(works))
    return Estimate(
        number=number,
        job=now.facts.title,
        fingerprint=now.base.fingerprint,
        currency=terms.currency,
        hour=terms.hour,
        works=works,
        checks_minutes=(fewest, most),
        minutes=_range(minutes, weights),
        total=total,
        spent_minutes=spent_minutes,
        spent=spent,
        confidence=CONFIDENCE,
        exact=joint.exact,
        unexplained=lost,
        complete=total is not None and not unpriced,
        missing=(*([] if terms.hour is not None else [NO_RATE]), *unpriced),
        unpriced=unpriced,
        over_approved=over_the_approved(now, log),
        over_budget=over_the_budget(total, terms.currency, agreed(log)),
    )


def ahead(now: Standing) -> CostBand:
    """The bench minutes that are left, worked out as the estimate's are, over fewer scenarios."""
    if now.next.kind == "done":
        return CostBand(low=0.0, likely=0.0, high=0.0)
    fewest, most = checks_ahead(now)
    joint = scenarios(now.ranking, [*open_causes(now), *sorted(repaired(now))], QUICK)
    minutes, _, _ = _ahead(now, _Terms(now), joint)
    checks = [fewest + third * (most - fewest) for third in THIRDS]
    weights = [float(weight) / len(THIRDS) for weight in joint.weight]
    return _range([one + left for one in checks for left in minutes], weights * len(THIRDS))


def spent_so_far(now: Standing, log: Log) -> float | None:
    """What the work done so far comes to; None without a labor rate."""
    terms = _Terms(now)
    if terms.hour is None:
        return None
    repairs = (now.base.repairs[one.repair] for one in now.facts.repairs)
    return terms.labour(minutes_spent(now, log)) + sum(terms.parts_cost(repair) or 0.0 for repair in repairs)


def over_the_approved(now: Standing, log: Log) -> str:
    """What is wrong between the work done and the owner's word on it; '' when nothing is."""
    approval = agreed(log).approval
    if approval is None or not now.facts.repairs:
        return ""
    if not approval.approved:
        return "The estimate was declined, and a repair has been done."
    spent = spent_so_far(now, log)
    currency = now.base.shop.currency or ""
    if approval.high is None or spent is None or spent <= approval.high:
        return ""
    if approval.currency and currency and approval.currency != currency:
        return f"The approval is in {approval.currency} and the work in {currency}: compare them."
    return (
        f"The work so far comes to {money(spent, currency)}, over the {money(approval.high, '')} that were approved: "
        "ask the owner before going on."
    )


def over_the_budget(total: CostBand | None, currency: str, told: Agreed) -> str:
    """How what a job will come to stands to the owner's budget; '' while it is within it, or there is none."""
    if told.budget is None or total is None or (told.currency and told.currency != currency):
        return ""
    budget = money(told.budget, told.currency or currency)
    if total.low > told.budget:
        return f"Even the low end is over the owner's budget of {budget}: ask before going on."
    return f"The high end is over the owner's budget of {budget}." if total.high > told.budget else ""


def approval_of(made: Estimate, by: str, at: datetime) -> Approved | None:
    """The owner's word on an estimate as it stands, up to its high end; None while it has no sum."""
    if made.total is None:
        return None
    low, high = round(made.total.low, 2), round(made.total.high, 2)
    return Approved(at=at, low=low, high=high, currency=made.currency, by=by)


class _Terms:
    """Prices and the labor rate, in one currency."""

    def __init__(self, now: Standing) -> None:
        self.now = now
        self.hour = now.base.shop.hour
        self.currency = now.base.shop.currency or self._only_currency()

    def _only_currency(self) -> str:
        used = {price.currency for price in self.now.base.prices.values()}
        return used.pop() if len(used) == 1 else ""

    def labour(self, minutes: float) -> float:
        return minutes / 60 * (self.hour or 0.0)

    def each(self, part: model.Part) -> float | None:
        price = self.now.base.price_of(part)
        return price.each if price is not None and price.currency == self.currency else None

    def parts_cost(self, repair: model.Repair) -> float | None:
        """What a repair's parts cost, with what the rules make of it; None when one has no price."""
        each = [self.each(part) for part in repair.parts]
        if any(one is None for one in each):
            return None
        total = sum(one * part.quantity for one, part in zip(each, repair.parts, strict=True) if one is not None)
        return self.now.deduction.changed_price(repair, total)

    def known_cost(self, repair: model.Repair) -> float:
        """The same, over the parts that have a price."""
        whole = self.parts_cost(repair)
        if whole is not None:
            return whole
        return sum((self.each(part) or 0.0) * part.quantity for part in repair.parts)

    def unpriced(self, works: Iterable[Work]) -> Iterator[str]:
        """The parts without a price, in sentences."""
        unpriced = (part.specification for work in works for part in work.parts if part.each is None)
        for text in dict.fromkeys(unpriced):
            yield f"no price{f' in {self.currency}' if self.currency else ''}: {text}"


def _works(now: Standing, terms: _Terms) -> Iterator[Work]:
    """The repairs done, those to do now, and the likely ones; each repair once."""
    listed: set[str] = set()
    probability = now.ranking.probability
    for one in now.facts.repairs:
        listed.add(one.repair)
        yield _work(now, terms, one.repair, one.cause, "done")
    for step in now.plan.repairs():
        if step.id not in listed:
            listed.add(step.id)
            yield _work(now, terms, step.id, step.cause, "now")
    for cause in open_causes(now):
        repair = now.deduction.repairs(now.base.causes[cause])[0]
        if probability[cause] >= LIKELY_ENOUGH and repair not in listed:
            listed.add(repair)
            yield _work(now, terms, repair, cause, "likely")


def _work(now: Standing, terms: _Terms, repair_id: str, cause: str, state: State) -> Work:
    repair = now.base.repairs[repair_id]
    minutes = repair_minutes(now, repair, cause)
    parts_cost = terms.parts_cost(repair)
    labour = None if terms.hour is None else terms.labour(minutes)
    return Work(
        repair=repair_id,
        name=repair.name,
        cause=cause,
        cause_name=cause_name(now.base, cause),
        probability=now.ranking.probability.get(cause, 0.0),
        state=state,
        minutes=minutes,
        parts=tuple(_priced(now, terms, part) for part in repair.parts),
        parts_cost=parts_cost,
        labour=labour,
        total=None if parts_cost is None or labour is None else parts_cost + labour,
    )


def _priced(now: Standing, terms: _Terms, part: model.Part) -> PricedPart:
    each = terms.each(part)
    parts = now.base.parts_list
    fitted = str(now.facts.amp.get(parts.fitted(parts.of(part)), ""))
    found = substitutes(part, parts, now.base.reference, fitted)
    cost = None if each is None else each * part.quantity
    return PricedPart.needed(
        now.base, part, each=each, cost=cost, instead=found.instead, keep=found.note, never=found.never
    )


def _ahead(now: Standing, terms: _Terms, joint: Scenarios) -> tuple[list[float], list[float], float]:
    """For each scenario the bench minutes and the cost of parts still to come; and how probable it is that something
    complained of is explained by nothing."""
    base, causes, mended = now.base, now.ranking.causes, repaired(now)
    repairs = [base.repairs[now.deduction.repairs(base.causes[id_])[0]] for id_ in joint.causes]
    open_ = np.array([id_ not in mended for id_ in joint.causes], dtype=np.bool_)
    minutes = {
        repair.id: repair_minutes(now, repair, cause) for repair, cause in zip(repairs, joint.causes, strict=True)
    }
    cost = {repair.id: terms.known_cost(repair) for repair in repairs}
    columns = [causes.column[id_] for id_ in joint.causes]
    said = [target.said for target in now.ahead.targets if target.said.finding in base.symptoms]
    reach = [causes.link(one.finding, one.repaired)[columns] > 0 for one in said]
    minutes_ahead: list[float] = []
    parts_ahead: list[float] = []
    lost = 0.0
    for there, weight in zip(joint.there, joint.weight, strict=True):
        chosen = {repair.id for repair, one in zip(repairs, there & open_, strict=True) if one}
        unexplained = sum(not (there & by).any() for by in reach)
        minutes_ahead.append(sum(minutes[id_] for id_ in chosen) + unexplained * base.scale.unexplained_minutes)
        parts_ahead.append(sum(cost[id_] for id_ in chosen))
        lost += float(weight) * (unexplained > 0)
    return minutes_ahead, parts_ahead, lost


def _range(values: Sequence[float], weights: Sequence[float]) -> CostBand:
    tail = (1 - CONFIDENCE) / 2
    low, likely, high = (quantile(values, weights, share) for share in (tail, 0.5, 1 - tail))
    return CostBand(low=low, likely=likely, high=high)
