"""A command in a real pseudo-terminal, and what a person sees there."""

from __future__ import annotations

import os
import re
import sys
import time
from pathlib import Path

import pexpect
import pyte

from .conftest import SMALL

QUIET = {"TERM": "xterm", "PROMPT_TOOLKIT_NO_CPR": "1"}  # nothing here answers where the cursor is
PATIENCE = 120.0  # seconds: a slow machine fails no test


class Terminal:
    """Runs a command on a screen of columns and lines, and waits until it shows what is looked for."""

    def __init__(
        self,
        jobs: Path,
        *words: str,
        size: tuple[int, int] = (80, 24),
        level: str = "senior",
        kb: Path | None = SMALL,
        **environment: str,
    ) -> None:
        columns, lines = size
        self.screen = pyte.HistoryScreen(columns, lines, history=5000)
        self.stream = pyte.Stream(self.screen)
        self.raw = ""
        base = ["--kb", str(kb)] if kb else []
        self.child = pexpect.spawn(
            sys.executable,
            ["-m", "chopstick.cli.main", *words, *base],
            dimensions=(lines, columns),
            encoding="utf-8",
            timeout=PATIENCE,
            env={**os.environ, "CHOPSTICK_JOBS": str(jobs), "CHOPSTICK_LEVEL": level, **QUIET, **environment},
        )

    @property
    def lines(self) -> list[str]:
        """What is on the screen now."""
        return [line.rstrip() for line in self.screen.display]

    @property
    def text(self) -> str:
        """The screen as one line of words."""
        return " ".join(" ".join(self.lines).split())

    @property
    def scrolled(self) -> str:
        """Everything that has left the screen upward, and what is on it, as one line of words."""
        gone = ["".join(line[x].data for x in range(self.screen.columns)) for line in self.screen.history.top]
        return " ".join(" ".join([*gone, *self.lines]).split())

    def _take(self, seconds: float) -> bool:
        try:
            written = self.child.read_nonblocking(65536, seconds)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self.raw += written
        self.stream.feed(written)
        return True

    def shows(self, *wanted: str) -> list[str]:
        """Wait until all of that stands on the screen at once, with the cursor on a line to type on."""
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            alive = self._take(0.1)
            waiting = self.lines[self.screen.cursor.y].startswith(">")
            if waiting and all(one in self.text for one in wanted):
                return self.lines
            if not alive:
                break
        raise AssertionError(f"not shown together: {wanted}\n" + "\n".join(self.lines))

    def type(self, line: str) -> None:
        self.child.send(line + "\r")

    def says(self, typed: str, *wanted: str) -> list[str]:
        """Type a line and wait for what it brings."""
        self.type(typed)
        return self.shows(*wanted)

    def end(self) -> str:
        """Wait for the end of the command; everything it ever showed, as one line of words."""
        until = time.monotonic() + PATIENCE
        while self._take(0.1):
            assert time.monotonic() < until, "\n".join(self.lines)
        self.child.close()
        return self.scrolled

    def close(self) -> None:
        self.child.close(force=True)

    @property
    def codes(self) -> set[str]:
        """The codes of every setting of colour or weight that was written."""
        return {code for found in re.findall(r"\x1b\[([0-9;]*)m", self.raw) for code in found.split(";")}
