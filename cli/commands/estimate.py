"""`chopstick estimate`: what a job will come to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from ...engine.late import late
from .. import exits
from ..desk import JobNumber, JobsFolder, Json, KnowledgeFolder, job_of, session_of
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.jobs.shop.estimate import Estimate, PricedPart

with late():
    from ...engine.jobs.shop import estimate as shop_estimate
    from ...engine.jobs.shop import money as shop_money
    from ...engine.reasoning import wording
    from ..screen import views


def estimate(job: JobNumber = None, as_json: Json = False, jobs: JobsFolder = None, kb: KnowledgeFolder = None) -> None:
    """What a job will come to: parts, labour, and how sure that is.

    The repairs done, to do now and likely, their parts with what may stand in for them, and a band with its
    confidence. Prices and the labor rate are the shop's own: `prices` and `shop` in a file of its layer. What has no
    price is named, never counted as zero.

    \b
    chopstick estimate 12
    chopstick take 12 --approve "the owner, by phone"
    """
    code = _estimate(job, as_json, jobs, kb)
    raise typer.Exit(code)


def _estimate(number: int | None, as_json: bool, jobs: Path | None, kb: Path | None) -> int:
    job = job_of(jobs, number)
    made = shop_estimate.estimate(session_of(kb, job).read(job.log), job.log, job.number)
    if as_json:
        Screen().json(made)
    else:
        tell(Screen(), made)
    return exits.DONE


STATES = {"done": "Done", "now": "To do now", "likely": "Likely, not sure yet"}


def tell(screen: Screen, made: Estimate) -> None:
    """The estimate for people."""
    screen.heading(f"Estimate for job {made.number}: {made.job}")
    for state, title in STATES.items():
        group = [work for work in made.works if work.state == state]
        if group:
            screen.heading(title)
        for work in group:
            sure = "" if state == "done" else f" ({wording.percent(work.probability)})"
            screen.line(f"{work.name}, for: {work.cause_name}{sure}", "bold", indent=2)
            labour = f", labor {shop_money.money(work.labour, made.currency)}" if work.labour is not None else ""
            screen.line(f"{views.minutes(work.minutes)} with its proof{labour}", indent=4)
            for line in work.parts:
                _part(screen, line, made.currency)
            if work.total is not None and work.parts:
                screen.line(f"together {shop_money.money(work.total, made.currency)}", indent=4)
    screen.heading("What it comes to")
    low, high = made.checks_minutes
    rate = f"{shop_money.money(made.hour, made.currency)} an hour" if made.hour is not None else "not set"
    rows = [("labor rate", rate), ("so far", _spent(made))]
    if high:
        rows.append(("checks ahead", f"{low:.0f} to {high:.0f} min"))
    of_ = f"in {made.confidence * 100:.0f} of 100 jobs like this one"
    band = made.minutes
    rows.append(("bench time", f"{band.low:.0f} to {band.high:.0f} min, likely {band.likely:.0f} ({of_})"))
    if made.total is not None:
        total = made.total
        whole = "" if made.complete else ", and more for what has no price"
        sums = f"{total.low:,.2f} to {shop_money.money(total.high, made.currency)}, likely {total.likely:,.2f}"
        rows.append(("the whole job", f"{sums} ({of_}){whole}"))
    screen.pairs(rows, indent=2)
    if made.unexplained >= 0.05:
        screen.line(
            f"With {wording.percent(made.unexplained)} something complained of has a cause this tool does not know; "
            "the bench time lost on it is in the band, its repair is not.", indent=2,
        )  # fmt: skip
    for flag in (made.over_approved, made.over_budget):
        if flag:
            screen.line(flag, "bold", indent=2)
    if made.missing:
        screen.heading("Not in the sum")
        screen.bullets(made.missing, indent=2)
    screen.line()
    views.caution(screen)


def _spent(made: Estimate) -> str:
    return views.minutes(made.spent_minutes) + (
        f", {shop_money.money(made.spent, made.currency)}" if made.spent is not None else ""
    )


def _part(screen: Screen, part: PricedPart, currency: str) -> None:
    cost = shop_money.money(part.cost, currency) if part.cost is not None else "no price"
    screen.line(f"{part.counted(part.specification)}: {cost}", indent=4)
    for one in part.instead:
        screen.line(f"or {', '.join(filter(None, (one.value, one.rating)))}: {one.because}", indent=8)
    if part.keep:
        screen.line(part.keep if part.never else f"keep: {part.keep}", indent=8)
