"""`chopstick estimate`: what a job will come to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from .. import exits
from ..desk import JobNumber, JobsFolder, Json, KnowledgeFolder, job_of, session_of, told
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.jobs.shop.agreement import Agreed
    from ...engine.jobs.shop.estimate import Estimate
    from ..shapes.estimate_shapes import EstimateShape, PartLineShape


def estimate(
    job: JobNumber = None, as_json: Json = False, jobs: JobsFolder = None, kb: KnowledgeFolder = None
) -> None:
    """What a job will come to: parts, labour, and how sure that is.

    The repairs done, to do now and likely, their parts with what may stand in for them, and a band with its
    confidence. Prices and the labour rate are the shop's own: `prices` and `shop` in a file of its layer. What has no
    price is named, never counted as nothing.

    \b
    chopstick estimate 12
    chopstick take 12 --approve "the owner, by phone"
    """
    with told():
        code = _estimate(job, as_json, jobs, kb)
    raise typer.Exit(code)


def _estimate(number: int | None, as_json: bool, jobs: Path | None, kb: Path | None) -> int:
    from ...engine.jobs.shop.agreement import agreed
    from ...engine.jobs.shop.estimate import estimate as estimated
    from ...engine.jobs.shop.estimate import over_the_approved
    from ..screen.caution import STANDING
    from ..shapes.estimate_shapes import estimate_shape

    job = job_of(jobs, number)
    now = session_of(kb, job).read(job.log)
    made = estimated(now, job.log)
    over = over_the_approved(now, job.log)
    budget = over_the_budget(made, agreed(job.log))
    shape = estimate_shape(now.base, made, job.number, now.facts.title, over, budget, STANDING)
    if as_json:
        Screen().json(shape)
    else:
        tell(Screen(), shape)
    return exits.DONE


def over_the_budget(made: Estimate, told: Agreed) -> str:
    """How the estimate stands to the owner's budget; '' while it is within it, or there is none."""
    from ..screen.views import money

    if told.budget is None or made.total is None or (told.currency and told.currency != made.currency):
        return ""
    budget = money(told.budget, told.currency or made.currency)
    if made.total.low > told.budget:
        return f"Even the low end is over the owner's budget of {budget}: ask before going on."
    return f"The high end is over the owner's budget of {budget}." if made.total.high > told.budget else ""


STATES = {"done": "Done", "now": "To do now", "likely": "Likely, not sure yet"}


def tell(screen: Screen, shape: EstimateShape) -> None:
    """The estimate for people."""
    from ..screen.views import caution, minutes, money, percent

    screen.heading(f"Estimate for job {shape.number}: {shape.job}")
    for state, title in STATES.items():
        group = [work for work in shape.works if work.state == state]
        if group:
            screen.heading(title)
        for work in group:
            sure = "" if state == "done" else f" ({percent(work.probability)})"
            screen.line(f"{work.name}, for: {work.cause_name}{sure}", "bold", indent=2)
            labour = f", labour {money(work.labour, shape.currency)}" if work.labour is not None else ""
            screen.line(f"{minutes(work.minutes)} with its proof{labour}", indent=4)
            for line in work.parts:
                _part(screen, line, shape.currency)
            if work.total is not None and work.parts:
                screen.line(f"together {money(work.total, shape.currency)}", indent=4)
    screen.heading("What it comes to")
    low, high = shape.checks_minutes
    rate = f"{money(shape.hour, shape.currency)} an hour" if shape.hour is not None else "not set"
    rows = [("labour rate", rate), ("so far", _spent(shape))]
    if high:
        rows.append(("checks ahead", f"{low:.0f} to {high:.0f} min"))
    of_ = f"in {shape.confidence * 100:.0f} of 100 jobs that stand like this one"
    band = shape.minutes
    rows.append(("bench time", f"{band.low:.0f} to {band.high:.0f} min, likely {band.likely:.0f} ({of_})"))
    if shape.total is not None:
        total = shape.total
        whole = "" if shape.complete else ", and more for what has no price"
        sums = f"{total.low:,.2f} to {money(total.high, shape.currency)}, likely {total.likely:,.2f}"
        rows.append(("the whole job", f"{sums} ({of_}){whole}"))
    screen.pairs(rows, indent=2)
    if shape.unexplained >= 0.05:
        screen.line(
            f"With {percent(shape.unexplained)} something complained of has a cause this tool does not know; the "
            "bench time lost on it is in the band, its repair is not.", indent=2,
        )  # fmt: skip
    for flag in (shape.over_approved, shape.over_budget):
        if flag:
            screen.line(flag, "bold", indent=2)
    if shape.missing:
        screen.heading("Not in the sum")
        screen.bullets(shape.missing, indent=2)
    screen.line()
    caution(screen)


def _spent(shape: EstimateShape) -> str:
    from ..screen.views import minutes, money

    return minutes(shape.spent_minutes) + (f", {money(shape.spent, shape.currency)}" if shape.spent is not None else "")


def _part(screen: Screen, line: PartLineShape, currency: str) -> None:
    from ..screen.views import money

    count = f"{line.quantity} x " if line.quantity > 1 else ""
    cost = money(line.cost, currency) if line.cost is not None else "no price"
    screen.line(f"{count}{', '.join(filter(None, (line.part, line.value, line.rating)))}: {cost}", indent=4)
    for one in line.instead:
        screen.line(f"or {', '.join(filter(None, (one.value, one.rating)))}: {one.because}", indent=8)
    if line.keep:
        screen.line(line.keep if line.keep.startswith("No ") else f"keep: {line.keep}", indent=8)
