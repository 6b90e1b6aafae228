"""How a person is met: with pages on a terminal, with lines everywhere else."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from .page import Page, Strip
from .prompts import Prompt
from .screen import Screen

Writes = Callable[[Screen], None]


class Face(Protocol):
    """Shows pages and asks; see lines.py and paged.py."""

    screen: Screen
    prompt: Prompt

    def ask(self, page: Page, complete: Sequence[str] = ()) -> str: ...

    def say(self, text: str) -> None: ...

    def tell(self, writes: Writes) -> None: ...

    def result(self, writes: Writes, strip: Strip) -> str: ...

    def more(self, page: Page) -> None: ...

    def caution_fits(self, page: Page) -> bool: ...


def face(screen: Screen, prompt: Prompt) -> Face:
    """The face for whoever is there."""
    from . import paged

    if prompt.at_terminal and not screen.plain and not screen.to_stderr and paged.fits():
        return paged.Paged(prompt)
    from .lines import Lines

    return Lines(screen, prompt)
