"""`chopstick jobs`: the kept jobs, and finding one again. Keeping them safe is in jobs_safe.py."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import JobsFolder, Json, left_out, store_of
from ..screen.screen import Screen
from . import jobs_lessons, jobs_safe

if TYPE_CHECKING:
    from ...engine.jobs.store.store import Listed
    from ...engine.reports.store import FoundJobs

with late():
    from ...engine.jobs.store import errors
    from ...engine.jobs.store import search as store_search
    from ...engine.reports import store as reports_store
    from ..sitting import agreement

MOST_FOUND, MOST_HITS = 50, 20  # jobs, and entries of each, that a search shows; --json tells all
app = typer.Typer(
    add_completion=False, rich_markup_mode=None, invoke_without_command=True,
    help="The kept jobs: list, search, move and keep them safe.",
)  # fmt: skip
jobs_safe.attach(app)
jobs_lessons.attach(app)

Open = Annotated[bool | None, typer.Option("--open/--closed", help="Only jobs that are open, or only closed ones.")]
Since = Annotated[str | None, typer.Option("--since", metavar="DAY", help="Only jobs worked on since (2026-03-01).")]
Fault = Annotated[
    list[str] | None,
    typer.Option("--fault", metavar="CAUSE", help="Only jobs that had this cause, or were repaired for it."),
]
Text = Annotated[str, typer.Argument(metavar="TEXT", help="Words, in any order; all must be in the same entry.")]


@app.callback()
def jobs(ctx: typer.Context, as_json: Json = False, folder: JobsFolder = None) -> None:
    """The kept jobs: list, search, move and keep them safe. Without a command, all of them are listed."""
    if ctx.invoked_subcommand is None:
        _list(folder, as_json)


@app.command("list")
def list_(
    open_: Open = None, since: Since = None, fault: Fault = None, as_json: Json = False, folder: JobsFolder = None
) -> None:
    """List the kept jobs, and where they are kept. Exit code 1 when one can't be read.

    \b
    chopstick jobs list --open --since 2026-03-01
    chopstick jobs list --fault coupling-capacitor-leaky-preamp
    """
    _list(folder, as_json, open_, since, fault or [])


def _list(
    folder: Path | None,
    as_json: bool,
    open_: bool | None = None,
    since: str | None = None,
    faults: list[str] | None = None,
) -> None:
    store = store_of(folder)
    whole = store.listed()
    found = list(store_search.chosen(whole, open_, agreement.day(since) if since else None, faults or ()))
    screen = Screen()
    if as_json:
        screen.json(reports_store.list_of_jobs(store.where, found))
    else:
        screen.line(f"Jobs in {store.where}")
        screen.table([_row(one) for one in found], indent=2)
        if any(one.trouble for one in found):
            screen.line("What is wrong with them, and what to do: chopstick jobs check", indent=2)
        if not found:
            screen.line("None match." if whole else "None yet. Start one with: chopstick intake", indent=2)
    raise typer.Exit(exits.PROBLEMS if any(one.trouble for one in whole) else exits.DONE)


def _row(one: Listed) -> tuple[object, ...]:
    state = "" if one.trouble else "closed" if one.closed else "open"
    return (one.number, f"{one.opened:%Y-%m-%d}" if one.opened else "", state, errors.entries(one.entries),
            one.trouble or one.title)  # fmt: skip


@app.command()
def search(text: Text, as_json: Json = False, folder: JobsFolder = None) -> None:
    """Find jobs by their words.

    By what was said, found, measured, repaired or noted. Capitals do not matter. Exit code 1 when a job can't be read.

    \b
    chopstick jobs search "hot resin"
    """
    store = store_of(folder)
    found = reports_store.found_jobs(text, store_search.search(store.jobs(), text))
    screen = Screen()
    if as_json:
        screen.json(found)
    else:
        _tell_found(screen, found)
    raise typer.Exit(left_out(store))


def _tell_found(screen: Screen, found: FoundJobs) -> None:
    left = len(found.jobs) - MOST_FOUND
    if left > 0:
        screen.line(f"{len(found.jobs):,} jobs have these words. The last {MOST_FOUND} of them; more words narrow it:")
    for job in found.jobs[max(left, 0) :]:
        screen.line(f"Job {job.number}: {job.job}", "bold")
        screen.table([(f"{hit.entry}.", hit.kind, hit.words) for hit in job.hits[:MOST_HITS]], indent=2)
        if len(job.hits) > MOST_HITS:
            screen.line(f"and {len(job.hits) - MOST_HITS:,} more of its entries", indent=2)
    if not found.jobs:
        screen.line("No job has these words.")
