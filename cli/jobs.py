"""`chopstick jobs`: the kept jobs."""

from __future__ import annotations

import typer

from . import exits
from .desk import JobsFolder, Json, store_of, told
from .screen import Screen


def jobs(as_json: Json = False, folder: JobsFolder = None) -> None:
    """The kept jobs, and where they are kept. Exit code 1 when one can't be read.

    \b
    chopstick jobs
    """
    from . import shapes

    with told():
        store = store_of(folder)
        found = store.listed()
    screen = Screen()
    if as_json:
        rows = tuple(
            shapes.JobShape(
                number=one.number, path=store.where, job=one.title,
                opened=one.opened.isoformat() if one.opened else "", entries=one.entries, trouble=one.trouble,
            )
            for one in found
        )  # fmt: skip
        screen.json(shapes.JobsShape(folder=store.where, jobs=rows))
    else:
        screen.line(f"Jobs in {store.where}")
        screen.table(
            [
                (one.number, f"{one.opened:%Y-%m-%d}" if one.opened else "", f"{one.entries} entries",
                 one.trouble or one.title)
                for one in found
            ],
            indent=2,
        )  # fmt: skip
        if not found:
            screen.line("None yet. Start one with: chopstick intake", indent=2)
    raise typer.Exit(exits.PROBLEMS if any(one.trouble for one in found) else exits.DONE)
