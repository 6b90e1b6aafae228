"""What a job looks like before the first check."""

from __future__ import annotations

from typing import Literal

from ..caution import STANDING
from ..jobs.shop.estimate import ahead
from ..jobs.store.job import Job
from ..reasoning.holds import HoldState
from ..reasoning.outcomes import MOVES_WORTH_NAMING
from ..reasoning.session import ComplaintStanding, RankedCause, Standing
from ..reasoning.to_have_ready import PartForACause, to_have_ready
from ..report import Report
from .step import StepOfJob, step_of

MOST_LIKELY = 10


class LikelyArea(Report):
    """An area the complaints point to, with the number of faults to be expected there."""

    area: str
    title: str
    expected: float


class Triage(Report):
    """The job that was opened, its holds first, likely areas and causes, what to have ready, and the bench minutes:
    from low to high in 80 of 100 jobs like it. path: where the job is kept."""

    shape: Literal["chopstick triage 1"] = "chopstick triage 1"
    number: int
    path: str
    job: str
    amp: dict[str, str | bool | float]
    complaints: tuple[ComplaintStanding, ...]
    holds: tuple[HoldState, ...]
    areas: tuple[LikelyArea, ...]
    likely: tuple[RankedCause, ...]
    tools: tuple[str, ...]
    parts: tuple[PartForACause, ...]
    minutes_likely: float
    minutes_low: float
    minutes_high: float
    next: StepOfJob
    caution: str = STANDING


def triage(now: Standing, job: Job) -> Triage:
    """The triage of a job just opened."""
    ready, left = to_have_ready(now), ahead(now)
    return Triage(
        number=job.number,
        path=job.store.where,
        job=now.facts.title,
        amp=dict(now.facts.amp),
        complaints=now.complaints,
        holds=now.holds,
        areas=likely_areas(now),
        likely=now.leading[:MOST_LIKELY],
        tools=ready.tools,
        parts=ready.parts,
        minutes_likely=left.likely,
        minutes_low=left.low,
        minutes_high=left.high,
        next=step_of(now.base, now.next),
    )


def likely_areas(now: Standing) -> tuple[LikelyArea, ...]:
    """The areas that the complaints point to, most faults to be expected first."""
    bearing = {now.ranking.causes.ids[column] for column in now.ahead.bearing}
    expected = (
        LikelyArea(
            area=area.area, title=area.title,
            expected=sum(now.ranking.probability[id_] for id_ in area.causes if id_ in bearing),
        )
        for area in now.base.areas.values()
    )  # fmt: skip
    return tuple(sorted((a for a in expected if a.expected >= MOVES_WORTH_NAMING), key=lambda one: -one.expected))
