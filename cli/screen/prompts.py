"""Asking a person. In a terminal with line editing and Tab; otherwise plain lines, so that answers can be piped in."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Any

from ...engine.late import late
from .screen import Screen, clean

with late():
    import questionary
    from prompt_toolkit import completion, shortcuts


class Ended(Exception):
    """There is nobody to ask any more: end of input, or the person broke off."""


class Prompt:
    """Asks one line at a time. Messages go where the screen writes."""

    def __init__(self, screen: Screen) -> None:
        self.screen = screen

    @property
    def at_terminal(self) -> bool:
        """Whether lines can be edited; not for a screen reader, which a prompt that redraws itself confuses."""
        return self.edits and not self.screen.plain

    @property
    def edits(self) -> bool:
        return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "dumb") not in ("", "dumb")

    def ask(self, message: str, words: Sequence[str] = ()) -> str:
        """What was typed, cleaned and stripped. words: what Tab completes. Raises Ended."""
        message = clean(message)
        typed = self._edited(message, words) if self.at_terminal else self._line(message)
        return clean(typed).strip()

    def _edited(self, message: str, words: Sequence[str]) -> str:
        options: dict[str, Any] = {}
        if words:
            options["completer"] = completion.WordCompleter(list(words), ignore_case=True, sentence=True)
            options["complete_while_typing"] = False
            options["complete_style"] = shortcuts.CompleteStyle.READLINE_LIKE  # a menu would push the page up
        style = questionary.Style([("qmark", "noinherit bold"), ("question", "bold"), ("answer", "noinherit")])
        try:
            return str(questionary.text(message, qmark=">", style=style, **options).unsafe_ask())
        except (EOFError, KeyboardInterrupt):
            raise Ended from None

    def _line(self, message: str) -> str:
        stream = sys.stderr if self.screen.to_stderr else sys.stdout
        stream.write(f"> {message} " if message else "> ")
        stream.flush()
        try:
            typed = sys.stdin.readline()
        except (KeyboardInterrupt, OSError):  # OSError: what should be read is a folder, or gone
            raise Ended from None
        except UnicodeDecodeError:
            return "help"
        if not typed:
            stream.write("\n")
            raise Ended
        if not sys.stdin.isatty():
            stream.write(clean(typed).strip() + "\n")
        return typed

    def yes(self, message: str, words: Sequence[str] = ("yes", "no")) -> bool | None:
        """Yes, no, or None for an empty line."""
        while True:
            typed = self.ask(message, words).lower()
            if not typed:
                return None
            if typed in ("y", "yes"):
                return True
            if typed in ("n", "no"):
                return False
            self.screen.line("Please type yes or no, or just Enter to leave it open.")
