"""What a job looks like before the first check: holds, likely areas, what to have ready, and how long it may take."""

from __future__ import annotations

from ...engine.jobs.shop.estimate import ahead
from ...engine.jobs.store.job import Job
from ...engine.reasoning import explain
from ...engine.reasoning.session import Standing
from ..shapes import results, shapes
from . import report, views
from .caution import STANDING
from .screen import Screen


def triage_shape(now: Standing, job: Job) -> shapes.TriageShape:
    """The triage of a job just opened."""
    base = now.base
    ready = explain.to_have_ready(now)
    left = ahead(now)
    return shapes.TriageShape(
        number=job.number,
        path=job.store.where,
        job=now.facts.title,
        amp=dict(now.facts.amp),
        complaints=tuple(results.complaint_shape(base, one) for one in now.complaints),
        holds=tuple(results.hold_shape(base, hold) for hold in now.holds),
        areas=tuple(
            shapes.AreaShape(area=area, title=base.areas[area].title, expected=expected)
            for area, expected in explain.likely_areas(now)
        ),
        likely=tuple(results.candidate_shape(base, one.cause, one.probability) for one in now.leading[:10]),
        tools=ready.tools,
        parts=tuple(
            shapes.ReadyShape.model_validate({**results.part_of(base, part), "cause": cause})
            for part, cause in ready.parts
        ),
        minutes_likely=left.likely,
        minutes_low=left.low,
        minutes_high=left.high,
        next=results.step_shape(base, now.next),
        caution=STANDING,
    )


def tell(screen: Screen, now: Standing, shape: shapes.TriageShape) -> None:
    """The triage for people."""
    screen.heading(f"Job {shape.number}: {shape.job}")
    screen.bullets([f"\"{one.says}\" ({one.name})" for one in shape.complaints], indent=2)
    if shape.amp:
        views.amp(screen, now)
    screen.heading("Holds: each must be answered before the work it bars")
    views.holds(screen, shape.holds)
    screen.heading("Likely areas")
    screen.bullets([one.title for one in shape.areas], indent=2)
    screen.heading("Likely causes so far")
    report.ranking(screen, now, 8)
    screen.heading("To have ready")
    screen.pairs([("tools", ", ".join(shape.tools))] if shape.tools else [], indent=2)
    names = {one.cause: one.name for one in shape.likely}
    parts = [f"{views.part(one)} (if it is: {names.get(one.cause, one.cause)})" for one in shape.parts]
    screen.pairs([("part", text) for text in parts], indent=2)
    screen.line()
    screen.line(
        f"Bench time: about {shape.minutes_likely:.0f} min, checks and repairs; from {shape.minutes_low:.0f} to "
        f"{shape.minutes_high:.0f} in 80 of 100 jobs that stand like this one."
    )
    screen.line()
    views.caution(screen)
    screen.line()
    screen.line(f"Go on with: chopstick bench {shape.number}")
