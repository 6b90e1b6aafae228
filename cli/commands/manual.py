"""`chopstick manual`: the pages that come with the program, on the screen."""

from __future__ import annotations

from typing import Annotated

import typer

from .. import exits
from ..screen import manual_page
from ..screen.screen import Screen

Name = Annotated[str | None, typer.Argument(metavar="[PAGE]", help="A page, by its name or the beginning of it.")]


def manual(page: Name = None) -> None:
    """Read the manual: a list of its pages, or one of them.

    \b
    chopstick manual
    chopstick manual bench
    """
    screen = Screen()
    if page is None:
        manual_page.contents(screen)
        raise typer.Exit(exits.DONE)
    found = manual_page.named(page)
    if len(found) != 1:
        names = ", ".join(one.stem for one in found or manual_page.pages())
        screen.trouble(f"chopstick: {'several pages begin with' if found else 'there is no page'} '{page}': {names}")
        raise typer.Exit(exits.INPUT)
    manual_page.lay_out(screen, found[0].read_text(encoding="utf-8"))
    raise typer.Exit(exits.DONE)
