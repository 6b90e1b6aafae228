"""How a person is met: with pages on a terminal, with lines everywhere else."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from ...engine.late import late
from ..screen.page import Page, Strip
from ..screen.prompts import Prompt
from ..screen.screen import Screen

with late():
    from ..screen import plain_pages, terminal_pages

Writes = Callable[[Screen], None]


class Face(Protocol):
    """Shows pages and asks; see lines.py and terminal_pages.py."""

    screen: Screen
    prompt: Prompt

    def ask(self, page: Page, complete: Sequence[str] = ()) -> str: ...

    def say(self, text: str) -> None: ...

    def tell(self, writes: Writes) -> None: ...

    def result(self, writes: Writes, strip: Strip) -> str: ...

    def more(self, page: Page) -> None: ...

    def last_words(self) -> None: ...

    def caution_fits(self, page: Page) -> bool: ...


def face(screen: Screen, prompt: Prompt) -> Face:
    """The face for whoever is there."""
    if prompt.at_terminal and not screen.plain and not screen.to_stderr and terminal_pages.fits():
        return terminal_pages.Paged(prompt)

    return plain_pages.Lines(screen, prompt)
