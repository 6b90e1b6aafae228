"""`chopstick show`: where a job stands, and why."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .. import exits
from ..desk import JobNumber, JobsFolder, Json, KnowledgeFolder, job_of, session_of, told
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.jobs.store.job import Job
    from ...engine.reasoning.log import Log
    from ...engine.reasoning.session import Session, Standing
    from ..shapes.shapes import TaughtShape

Why = Annotated[str | None, typer.Option("--why", metavar="CAUSE", help="What speaks for and against a cause.")]
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
    with told():
        code = _show(job, why, log, as_json, jobs, kb)
    raise typer.Exit(code)


def _show(
    number: int | None, why: str | None, whole: bool, as_json: bool, jobs: Path | None, kb: Path | None
) -> int:
    from ..screen import report, views, volts
    from ..shapes import results

    job = job_of(jobs, number)
    session = session_of(kb, job)
    now = session.read(job.log)
    screen = Screen()
    if why is not None:
        return _why(screen, session, now, why, as_json)
    if as_json:
        screen.json(results.standing_shape(now, job.log, job.number))
        return exits.DONE
    screen.heading(f"Job {job.number}: {now.facts.title}")
    if now.facts.amp:
        views.amp(screen, now)
    volts.circuit(screen, now)
    views.agreed(screen, now.base, results.agreed_shape(job.log))
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
    from ...engine.reasoning.log import Note, Photo, standing
    from ..screen import wording

    kept = [entry for _, entry in standing(log) if isinstance(entry, Note | Photo)]
    if kept:
        screen.heading("Notes and photographs")
        screen.bullets([wording.entry_said(now.base, entry) for entry in kept], indent=2)


def _over(screen: Screen, now: Standing, log: Log) -> None:
    from ...engine.jobs.shop.estimate import over_the_approved

    if over := over_the_approved(now, log):
        screen.line(over, "bold")


def _beside(screen: Screen, now: Standing, log: Log) -> None:
    """What was taken before a repair and again after it, side by side."""
    from ...engine.jobs.shop.before_after import before_after

    found = before_after(now.base, log)
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
    from ...engine.reasoning.explain import reasons
    from ...engine.reference.errors import did_you_mean
    from ..screen import report
    from ..shapes import results

    if cause not in now.ranking.probability:
        known = cause in now.base.causes
        hint = did_you_mean(cause, list(now.base.causes))
        screen.trouble(
            f"chopstick: '{cause}' can't exist in this amp, going by its amp facts." if known
            else f"chopstick: there is no cause '{cause}'. {hint or 'All of them: chopstick kb list causes'}"
        )  # fmt: skip
        return exits.INPUT
    shape = results.reasons_shape(now, reasons(now, cause))
    shape = shape.model_copy(update={"taught": _taught(session, now, cause)})
    if as_json:
        screen.json(shape)
    else:
        report.reasons(screen, shape)
    return exits.DONE


def _taught(session: Session, now: Standing, cause: str) -> TaughtShape | None:
    """What closed jobs taught of a cause on such an amp."""
    if session.experience is None:
        return None
    from ...engine.jobs.shop.learned import Learned
    from ..shapes.shapes import TaughtShape

    change = session.experience.change(cause, now.facts.amp) if isinstance(session.experience, Learned) else None
    if change is None:
        return None
    return TaughtShape(
        found=change.found, amps=change.amps, prior=change.prior, now=change.rate, kept=change.kept
    )  # fmt: skip


def _log(screen: Screen, now: Standing, log: Log) -> None:
    """Every finding with its origin, and every figure worked."""
    from ...engine.bench import notation
    from ..screen import views
    from ..shapes import results

    shape = results.standing_shape(now, log)
    screen.heading("Findings, with the number of the entry each rests on")
    screen.table(
        [(f"{f.entry}", f.text if f.present else f"not so: {f.text}", f"{f.origin} {f.of}") for f in shape.findings],
        indent=2,
    )
    screen.heading("Readings and figures")
    for check in dict.fromkeys(one.check for one in shape.values):
        screen.line(now.base.checks[check].name, "bold", indent=2)
        rows = [
            (one.name, notation.give_or_take(one.value, one.error, one.unit))
            for one in shape.values
            if one.check == check and one.figure is None and one.value is not None
        ]
        screen.pairs(rows, indent=4)
        views.values(screen, now.facts, now.base.checks[check])


def _next(screen: Screen, now: Standing, number: int) -> None:
    from ..shapes import results

    step = results.step_shape(now.base, now.next)
    screen.line()
    if step.kind == "done":
        screen.line("Next: nothing further is worth doing.")
    else:
        screen.line(f"Next: {step.kind}: {step.name} ({step.id}). {step.why}.")
    screen.line(f"Go on with: chopstick bench {number}")


def changed(screen: Screen, before: Standing, after: Standing, job: Job, added: int) -> None:
    """What entries just added changed: what `take` prints."""
    from ..screen import report, views

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
    report.conflicts(screen, after.base, [one for one in after.conflicts if one not in before.conflicts])
    views.moves(screen, before, after, most=8)
    screen.heading("How each complaint stands")
    report.complaints(screen, after)
    _next(screen, after, job.number)
