"""The JSON of `estimate`."""

from __future__ import annotations

from typing import Literal

from ...engine.jobs.shop import estimate as engine
from ...engine.knowledge.base import KnowledgeBase
from .shapes import Shape


class InsteadShape(Shape):
    """A part that may stand in, and the rule that says so."""

    value: str
    rating: str
    because: str


class PartLineShape(Shape):
    """A part with its price. each, cost: in the estimate's currency, null without a price. keep: what must be kept, or
    why nothing may stand in."""

    part: str
    value: str
    rating: str
    quantity: int
    each: float | None
    cost: float | None
    instead: tuple[InsteadShape, ...]
    keep: str


class WorkShape(Shape):
    """A repair: done, to do now, or likely. minutes: with the check that proves it and moving the work; sums null
    where something has no price."""

    repair: str
    name: str
    cause: str
    cause_name: str
    probability: float
    state: Literal["done", "now", "likely"]
    minutes: float
    parts: tuple[PartLineShape, ...]
    parts_cost: float | None
    labour: float | None
    total: float | None


class BandShape(Shape):
    """What 10, 50 and 90 of 100 jobs that stand as this one does do not exceed."""

    low: float
    likely: float
    high: float


class EstimateShape(Shape):
    """What `estimate` prints.

    hour: the shop's labour rate. total: null without one; a floor while something is missing. checks_minutes: the
    fewest and the most still ahead. spent: so far. confidence: of the bands. exact: worked out over all that may be the
    case, not over a draw from it. unexplained: how probable it is that a complaint has none of the known causes.
    over_approved, over_budget: what is wrong, '' when nothing is.
    """

    shape: Literal["chopstick estimate 1"] = "chopstick estimate 1"
    number: int | None
    job: str
    fingerprint: str
    currency: str
    hour: float | None
    works: tuple[WorkShape, ...]
    checks_minutes: tuple[float, float]
    minutes: BandShape
    total: BandShape | None
    spent_minutes: float
    spent: float | None
    confidence: float
    exact: bool
    unexplained: float
    complete: bool
    missing: tuple[str, ...]
    over_approved: str
    over_budget: str
    caution: str


def estimate_shape(
    base: KnowledgeBase, made: engine.Estimate, number: int | None, job: str, over: str, budget: str, caution: str
) -> EstimateShape:
    """An estimate as its documented shape."""
    return EstimateShape(
        number=number, job=job, fingerprint=base.fingerprint, currency=made.currency, hour=made.hour,
        works=tuple(_work(base, work) for work in made.works), checks_minutes=made.checks_ahead,
        minutes=_band(made.minutes), total=None if made.total is None else _band(made.total),
        spent_minutes=made.spent_minutes, spent=made.spent, confidence=made.confidence, exact=made.exact,
        unexplained=made.unexplained, complete=made.complete, missing=made.missing, over_approved=over,
        over_budget=budget, caution=caution,
    )  # fmt: skip


def _work(base: KnowledgeBase, work: engine.Work) -> WorkShape:
    return WorkShape(
        repair=work.repair, name=base.repairs[work.repair].name, cause=work.cause,
        cause_name=base.causes[work.cause].name if work.cause in base.causes else work.cause,
        probability=work.probability, state=work.state, minutes=work.minutes,
        parts=tuple(_part(line) for line in work.parts), parts_cost=work.parts_cost, labour=work.labour,
        total=work.total,
    )  # fmt: skip


def _part(line: engine.PartLine) -> PartLineShape:
    instead = tuple(
        InsteadShape(value=one.value, rating=one.rating, because=one.because) for one in line.substitutes.instead
    )
    return PartLineShape(
        part=line.part, value=line.value, rating=line.rating, quantity=line.quantity, each=line.each, cost=line.cost,
        instead=instead, keep=line.substitutes.note,
    )  # fmt: skip


def _band(band: engine.Band) -> BandShape:
    return BandShape(low=band.low, likely=band.likely, high=band.high)
