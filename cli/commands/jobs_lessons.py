"""`chopstick jobs learned` and `jobs calibration`: what closed jobs teach, and whether 80 percent means 80."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import JobsFolder, Json, KnowledgeFolder, knowledge, left_out, store_of, switched_off
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.reports.lessons import Calibration, Lessons

with late():
    from ...engine.jobs.shop import calibration as shop_calibration
    from ...engine.jobs.shop import learned as shop_learned
    from ...engine.reports import lessons as reports_lessons
    from .. import desk, knowledge_in_force

Everything = Annotated[bool, typer.Option("--all", help="Every cause, also those that hardly changed.")]
Reset = Annotated[bool, typer.Option("--reset", help="Forget: only jobs closed from now on teach.")]
AllJobs = Annotated[bool, typer.Option("--all", help="Read every closed job now, however long it takes.")]
NOTABLE = 1.1  # a rate that changed by less than this factor is not worth a line


def attach(app: typer.Typer) -> None:
    """Put these commands into the group of `chopstick jobs`."""
    app.command("learned")(learned)
    app.command("calibration")(calibration)


def learned(
    everything: Everything = False,
    reset: Reset = False,
    as_json: Json = False,
    folder: JobsFolder = None,
    kb: KnowledgeFolder = None,
) -> None:
    """What the closed jobs taught about how common each cause is.

    For each kind of amp: what the knowledge base says, on how many of the amps seen it was, and the rate
    that is used now. What is dangerous never moves down. Off: --no-learned before any command, or
    `shop: {learn: false}` in a file of the shop's layer.

    \b
    chopstick jobs learned
    chopstick jobs learned --reset
    """
    code = _learned(everything, reset, as_json, folder, kb)
    raise typer.Exit(code)


def _learned(everything: bool, reset: bool, as_json: bool, folder: Path | None, kb: Path | None) -> int:
    store, base = store_of(folder), knowledge(kb)
    if reset:
        store.mark("learning", desk.now())
    taught = reports_lessons.lessons(shop_learned.from_store(base, store), switched_off(base), store.marked("learning"))
    if as_json:
        Screen().json(taught)
    else:
        _tell(Screen(), taught, everything, reset)
    return exits.DONE


def _tell(screen: Screen, taught: Lessons, everything: bool, reset: bool) -> None:
    if reset:
        screen.line("Forgotten: only jobs closed from now on teach. The jobs themselves are all still there.")
        return
    screen.heading("What the closed jobs taught")
    if taught.off:
        screen.line(f"Switched off: {taught.off}.", "bold")
    if taught.since:
        screen.line(f"Only jobs closed after {taught.since.isoformat()[:16]} count.")
    if not taught.jobs:
        screen.line("Nothing yet. A job teaches once it is closed and says what it was: chopstick close JOB")
        return
    screen.line(
        f"{taught.jobs} closed jobs, table {taught.fingerprint}. As many closed jobs of a kind as "
        f"{taught.prior_amps:g} weigh as much as the knowledge base."
    )
    for kind in taught.kinds:
        screen.heading(f"{', '.join(kind.kind)}: {kind.jobs} {'job' if kind.jobs == 1 else 'jobs'}")
        shown = [
            one for one in kind.changes
            if everything or one.found or one.kept or max(one.now / one.prior, one.prior / one.now) >= NOTABLE
        ]  # fmt: skip
        rest = len(kind.changes) - len(shown)
        shown.sort(key=lambda one: (-one.found, -abs(one.now - one.prior), one.cause))
        kept = [one for one in shown if one.kept and not one.found]
        told_ = [one for one in shown if everything or one not in kept]
        screen.table(
            [
                (f"{one.found} of {one.amps}", f"{one.prior * 1000:.3g} -> {one.now * 1000:.3g} in 1000",
                 one.name + (", kept: it bears on safety" if one.kept else ""))
                for one in told_
            ],
            indent=2,
        )  # fmt: skip
        if kept and not everything:
            screen.line(f"{len(kept)} causes that bear on safety were not met and keep their place.", indent=2)
        if rest:
            screen.line(f"{rest} causes hardly changed; --all shows them.", indent=2)


def calibration(
    all_: AllJobs = False, as_json: Json = False, folder: JobsFolder = None, kb: KnowledgeFolder = None
) -> None:
    """Of causes shown at 80 percent, how many were there.

    Reads every closed job again, as it stood before its first repair and by the knowledge base alone, and compares
    what was believed with what it really was. At one time so many jobs are read as takes a few seconds, drawn
    by lot; what was read is kept.

    \b
    chopstick jobs calibration
    """
    code = _calibration(all_, as_json, folder, kb)
    raise typer.Exit(code)


def _calibration(all_: bool, as_json: bool, folder: Path | None, kb: Path | None) -> int:
    store = store_of(folder)
    jobs = [shop_calibration.ClosedJob(job.number, job.hash, tuple(job.log)) for job in store.jobs()]
    most = None if all_ else shop_calibration.MOST_READ
    found = shop_calibration.replay(jobs, knowledge(kb).fingerprint, kb, knowledge_in_force.layers(kb), most)
    made = reports_lessons.calibration(shop_calibration.bins(found.shown), found.jobs, len(jobs), found.read)
    if as_json:
        Screen().json(made)
    else:
        _tell_calibration(Screen(), made)
    return left_out(store)


def _tell_calibration(screen: Screen, made: Calibration) -> None:
    screen.heading("What was shown, and what was there")
    screen.line(f"{made.closed} of {made.jobs} jobs are closed and say what they were.")
    if not made.bins:
        screen.line("Nothing to compare yet: chopstick close JOB")
        return
    rows = [("shown at", "causes", "were there", "may be, with 95%", "")]
    for one in made.bins:
        low, high = one.surely
        rows.append(
            (f"{one.low:.0%} to {one.high:.0%}", f"{one.shown}, mean {one.expected:.0%}",
             f"{one.there} ({one.there / one.shown:.0%})", f"{low:.0%} to {high:.0%}",
             "" if one.fits else "does not fit")
        )  # fmt: skip
    screen.table(rows, indent=2)
    if made.read < made.closed:
        screen.line(
            f"{made.read} of the {made.closed} closed jobs were read again so far, drawn by lot. The next time "
            "it goes on from there; --all reads them all now, some ten a second."
        )
    screen.line("As each job stood before its first repair, by the knowledge base alone.")
