"""`chopstick show`: where a job stands, and why."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import JobNumber, JobsFolder, Json, KnowledgeFolder, job_of, session_of
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.jobs.store.job import Job
    from ...engine.reasoning.log import Log
    from ...engine.reasoning.session import Session, Standing

with late():
    from ...engine.bench import notation
    from ...engine.jobs.shop import agreement, estimate
    from ...engine.jobs.shop import before_after as shop_before_after
    from ...engine.reasoning import log as reasoning_log
    from ...engine.reasoning import wording
    from ...engine.reference import errors
    from ...engine.reports import reasons as reports_reasons
    from ...engine.reports import standing as reports_standing
    from ..screen import report, views, volts

Why = Annotated[str | None, typer.Option("--why", metavar="CAUSE", help="What points to a cause, and away from it.")]
Everything = Annotated[bool, typer.Option("--log", help="Also every entry, finding and figure, with its origin.")]


def show(
    job: JobNumber = None,
    why: Why = None,
    log: Everything = False,
    as_json: Json = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
) -> None:
    """Where a job stands, and why.

    How each complaint ends, repairs, the ranking, holds, contradictions, and what comes next.

    \b
    chopstick show          the job worked on last
    chopstick show 12 --log every entry, finding and figure, with its origin
    chopstick show 12 --why coupling-capacitor-leaky-preamp
    """
    code = _show(job, why, log, as_json, jobs, kb)
    raise typer.Exit(code)


def _show(number: int | None, why: str | None, whole: bool, as_json: bool, jobs: Path | None, kb: Path | None) -> int:
    job = job_of(jobs, number)
    session = session_of(kb, job)
    now = session.read(job.log)
    screen = Screen()
    if why is not None:
        return _why(screen, session, now, why, as_json)
    if as_json:
        screen.json(reports_standing.standing_of(now, job.log, job.number))
        return exits.DONE
    screen.heading(f"Job {job.number}: {now.facts.title}")
    if now.facts.amp:
        views.amp(screen, now)
    volts.circuit(screen, now)
    views.agreed(screen, now.base, agreement.agreed(job.log))
    _noted(screen, now, job.log)
    if whole:
        _log(screen, now, job.log)
    report.ending(screen, now, job.log)
    _beside(screen, now, job.log)
    _over(screen, now, job.log)
    _next(screen, now, job.number)
    return exits.DONE


def _noted(screen: Screen, now: Standing, log: Log) -> None:
    """Notes and photographs, in the order in which they came."""
    kept = [
        entry for _, entry in reasoning_log.standing(log) if isinstance(entry, reasoning_log.Note | reasoning_log.Photo)
    ]
    if kept:
        screen.heading("Notes and photographs")
        screen.bullets([wording.entry_said(now.base, entry) for entry in kept], indent=2)


def _over(screen: Screen, now: Standing, log: Log) -> None:
    if over := estimate.over_the_approved(now, log):
        screen.line(over, "bold")


def _beside(screen: Screen, now: Standing, log: Log) -> None:
    """What was taken before a repair and again after it, side by side."""
    found = shop_before_after.before_after(now.base, log)
    if not found:
        return
    marks = {True: "good", False: "not good", None: ""}
    screen.heading("Before and after the repairs")
    for one in found:
        screen.line(one.name, indent=2)
        sides = [("before", one.before), ("after", one.after)]
        rows = [(label, ", ".join(filter(None, (side.said, marks[side.good])))) for label, side in sides]
        screen.pairs([*rows, ("limits", one.limits)], indent=4)


def _why(screen: Screen, session: Session, now: Standing, cause: str, as_json: bool) -> int:
    if cause not in now.ranking.probability:
        known = cause in now.base.causes
        hint = errors.did_you_mean(cause, list(now.base.causes))
        screen.trouble(
            f"chopstick: '{cause}' can't exist in this amp, going by its amp facts." if known
            else f"chopstick: there is no cause '{cause}'. {hint or 'All of them: chopstick kb list causes'}"
        )  # fmt: skip
        return exits.INPUT
    told_ = reports_reasons.reasons(now, cause, session.experience)
    if as_json:
        screen.json(told_)
    else:
        report.reasons(screen, told_)
    return exits.DONE


def _log(screen: Screen, now: Standing, log: Log) -> None:
    """Every finding with its origin, and every figure worked."""
    screen.heading("Findings, with the number of the entry each rests on")
    screen.table(
        [
            (f"{one.entry}", one.text if one.present else f"not so: {one.text}", f"{one.origin} {one.of}")
            for one in reports_standing.findings_of(now, log)
        ],
        indent=2,
    )
    screen.heading("Readings and figures")
    for check in dict.fromkeys(key.partition("/")[0] for key in now.facts.values):
        found = now.base.checks[check]
        screen.line(found.name, "bold", indent=2)
        read = ((name, now.facts.values.get(f"{check}/{name}")) for name in found.readings)
        screen.pairs(
            [
                (name, notation.give_or_take(one.value, one.error, one.unit))
                for name, one in read
                if one is not None and one.value is not None
            ],
            indent=4,
        )
        views.values(screen, now.facts, found)


def _next(screen: Screen, now: Standing, number: int) -> None:
    step = now.next
    name, _ = wording.step_name(now.base, step)
    screen.line()
    if step.kind == "done":
        screen.line("Next: nothing further is worth doing.")
    else:
        screen.line(f"Next: {step.kind}: {name} ({step.id}). {step.why}.")
    screen.line(f"Go on with: chopstick bench {number}")


def changed(screen: Screen, before: Standing, after: Standing, job: Job, added: int) -> None:
    """What entries just added changed: what `take` prints."""
    screen.line(f"Job {job.number}: {added} {'entry' if added == 1 else 'entries'} kept.")
    for number, entry in enumerate(job.log[-added:], start=len(job.log) - added + 1):
        check = getattr(entry, "check", "")
        if check:
            views.values(screen, after.facts, after.base.checks[check])
        views.findings(screen, after, number)
    read = {getattr(entry, "check", "") for entry in job.log[-added:]}
    for fact in dict.fromkeys(fact for one in after.facts.doubts if one.check in read for fact in one.facts):
        screen.line(f"Say it with: chopstick take {job.number} --amp {fact}=VALUE", indent=4)
    views.advice(screen, after, [text for text, _ in before.deduction.advice])
    views.proofs(screen, before, after)
    _over(screen, after, job.log)
    report.conflicts(screen, [one for one in after.conflicts if one not in before.conflicts])
    views.moves(screen, before, after, most=8)
    screen.heading("How each complaint stands")
    report.complaints(screen, after)
    _next(screen, after, job.number)
