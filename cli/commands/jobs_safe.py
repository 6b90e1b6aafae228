"""`chopstick jobs export|import|backup|restore|check`: moving jobs between stores, and keeping them safe."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import JobsFolder, Json, left_out, store_of
from ..screen.screen import Screen

with late():
    from ...engine.jobs.store import check as store_check
    from ...engine.jobs.store import errors
    from ...engine.jobs.store import transfer as store_transfer
    from ...engine.reports import store as reports_store

Numbers = Annotated[list[int] | None, typer.Argument(metavar="[JOB ...]", help="Which jobs; all when none is named.")]
To = Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Write to a new file, not to the screen.")]
From = Annotated[
    Path,
    typer.Argument(metavar="FROM", help="JSON lines (- for standard input), a backup, or a folder of old job files."),
]
File = Annotated[Path, typer.Argument(metavar="FILE", help="The backup.")]


def attach(app: typer.Typer) -> None:
    """Put these commands into the group of `chopstick jobs`."""
    for name, command in (
        ("export", export), ("import", import_), ("backup", backup), ("restore", restore), ("check", check)
    ):  # fmt: skip
        app.command(name)(command)


def export(numbers: Numbers = None, to: To = None, folder: JobsFolder = None) -> None:
    """Write jobs as JSON lines, one line per job. Exit code 1 when one can't be read, and so is left out.

    Each line holds "shape" (chopstick job 1), "number" (what stands on the label), "entries", in order, and
    "sha256", by which import sees that the line is as it was written.

    \b
    chopstick jobs export --to jobs.jsonl
    chopstick jobs export 12
    """
    store = store_of(folder)
    if to is None:
        for line in store_transfer.exported(store, numbers or ()):
            sys.stdout.write(line + "\n")
    else:
        count = store_transfer.export(store, to, numbers or ())
        Screen().line(f"{_jobs(count)} written to {to}.")
    raise typer.Exit(left_out(store))


def import_(source: From, as_json: Json = False, folder: JobsFolder = None) -> None:
    """Import jobs: all of them, or none.

    A job keeps its number where that is free. One that is there already is not doubled: only what it has more is added.

    \b
    chopstick jobs import jobs.jsonl
    chopstick jobs import old-folder --store postgresql://bench@shop/jobs
    """
    found = _from_input() if str(source) == "-" else store_transfer.incoming(source)
    store = store_of(folder)
    taken = store_transfer.take_in(store, found)
    screen = Screen()
    if as_json:
        screen.json(reports_store.Imported(jobs=tuple(taken)))
        return
    for one in taken:
        screen.line(_became(one))
    new = sum(one.new for one in taken)
    screen.line(f"{_jobs(new)} new in {store.where}.")


def _from_input() -> list[store_transfer.JobLine]:
    return store_transfer.incoming_stream(sys.stdin.buffer, "-")


def _became(one: object) -> str:
    assert isinstance(one, store_transfer.TakenIn)
    if not one.new:
        return f"Job {one.was} is there already as job {one.number}; {errors.entries(one.added)} added."
    relabel = "" if one.was == one.number else f" (it was {one.was}, which is taken: mark the amp's label)"
    return f"Job {one.number}{relabel}: {errors.entries(one.added)}."


def backup(file: File, as_json: Json = False, folder: JobsFolder = None) -> None:
    """Keep a copy of all jobs in one file.

    The copy is checked; put it on another disk. It is the same kind of file, whatever the jobs are kept in.

    \b
    chopstick jobs backup /media/stick/jobs-2026-03-01.sqlite
    """
    store = store_of(folder)
    count = store_transfer.backup(store, file)
    if as_json:
        Screen().json(reports_store.Backup(file=str(file), store=store.where, jobs=count))
    else:
        Screen().line(f"{_jobs(count)} of {store.where} kept in {file}. The copy is good.")


def restore(file: File, as_json: Json = False, folder: JobsFolder = None) -> None:
    """Put a backup back.

    What was there before is put aside in the same folder, not thrown away. A PostgreSQL store must be empty.

    \b
    chopstick jobs restore /media/stick/jobs-2026-03-01.sqlite
    """
    store = store_of(folder)
    aside = store_transfer.restore(store, file)
    count = len(store.listed())
    if as_json:
        Screen().json(reports_store.Backup(file=str(file), store=store.where, jobs=count, aside=str(aside or "")))
        return
    Screen().line(f"{_jobs(count)} from {file} are back in {store.where}.")
    if aside:
        Screen().line("What was there before is put aside. To take in what it had more:")
        Screen().whole(f"  chopstick jobs import {aside}")


def check(as_json: Json = False, folder: JobsFolder = None) -> None:
    """See whether every kept entry is as it was written.

    Exit code 1 when something is wrong.

    \b
    chopstick jobs check
    """
    store = store_of(folder)
    wrong = store_check.problems(store)
    try:
        count = len(store.listed())
    except errors.JobError:
        count = 0
    screen = Screen()
    if as_json:
        screen.json(reports_store.StoreCheck(store=store.where, jobs=count, problems=tuple(wrong)))
    else:
        screen.line(f"{_jobs(count)} in {store.where}.")
        screen.bullets(wrong, indent=2)
        screen.line(
            "Put a backup back: chopstick jobs restore FILE. What is damaged is put aside, not thrown away." if wrong
            else "Every entry is as it was written."
        )  # fmt: skip
    raise typer.Exit(exits.PROBLEMS if wrong else exits.DONE)


def _jobs(count: int) -> str:
    return f"{count} {'job' if count == 1 else 'jobs'}"
