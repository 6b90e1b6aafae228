"""`chopstick jobs`: the kept jobs."""

from __future__ import annotations

import typer

from . import exits
from .desk import JobsFolder, Json, jobs_folder, told
from .screen import Screen


def jobs(as_json: Json = False, folder: JobsFolder = None) -> None:
    """The kept jobs, and the folder they are kept in. Exit code 1 when one can't be read.

    \b
    chopstick jobs
    """
    from ..engine.jobs.files import listed
    from . import shapes

    where = jobs_folder(folder)
    with told():
        found = list(listed(where))
    screen = Screen()
    if as_json:
        rows = tuple(
            shapes.JobShape(
                number=one.number, path=str(one.path), job=one.title,
                opened=one.opened.isoformat() if one.opened else "", entries=one.entries, trouble=one.trouble,
            )
            for one in found
        )  # fmt: skip
        screen.json(shapes.JobsShape(folder=str(where), jobs=rows))
    else:
        screen.line(f"Jobs in {where}")
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
