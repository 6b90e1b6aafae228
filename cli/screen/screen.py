"""The one way text reaches a terminal: made harmless, wrapped to the width, readable in black and white."""

from __future__ import annotations

import json
import os
import re
import sys
import unicodedata
from collections.abc import Iterable, Sequence
from typing import IO, TYPE_CHECKING, Any

from ...engine.late import late

if TYPE_CHECKING:
    from pydantic import BaseModel
    from rich.console import Console, RenderableType
    from rich.padding import Padding

with late():
    from rich import console as rich_console
    from rich import padding
    from rich import table as rich_table
    from rich import text as rich_text

WIDEST = 100  # columns; longer lines are hard to read
NARROWEST, USUAL = 20, 80  # columns: what is less is broken by the terminal itself; and where it does not say
PLAIN = "CHOPSTICK_PLAIN"  # set to 1 for a screen reader
_SEQUENCE = re.compile(
    r"(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]"  # control sequences: colors, cursor, clearing
    r"|(?:\x1b[\]PX^_]|[\x90\x98\x9d\x9e\x9f])[^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)?"  # strings: titles, links
    r"|\x1b[ -/]*[0-~]?"
)
_CHANGE = re.compile(r"(%|ruled out) -> ")
_PADDING = re.compile(r" +((?:\x1b\[0m)?\n)")
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_JOINERS = "\u200c\u200d"  # some scripts need them, and they move nothing


def clean(text: object) -> str:
    """Text that can't steer a terminal: no escape sequences, control, invisible or direction-changing characters.

    Line ends become spaces; whoever wants lines prints lines.
    """
    return "".join(map(_kept, _SEQUENCE.sub("", str(text))))


def _kept(sign: str) -> str:
    """A sign as it may be shown; a byte of a file's name that is no text shows that something is there."""
    if sign in _JOINERS or unicodedata.category(sign) not in _HIDDEN:
        return sign
    if sign in "\n\t\r\u2028\u2029":
        return " "
    return "\ufffd" if "\udc80" <= sign <= "\udcff" else ""


class Screen:
    """Where a command writes. Every method takes plain text, cleans it, and lets no markup through.

    width: columns, when they are not the terminal's. plain: for a screen reader, one sentence or item a line in reading
    order, without columns, bars or line breaks of our own; by default as CHOPSTICK_PLAIN says.
    """

    def __init__(self, stream: IO[str] | None = None, width: int | None = None, plain: bool | None = None) -> None:
        self._stream = stream
        self._width = width
        self._fixed: Console | None = None
        self.plain = os.environ.get(PLAIN, "") not in ("", "0") if plain is None else plain

    @property
    def to_stderr(self) -> bool:
        return self._stream is sys.stderr

    @property
    def console(self) -> Console:
        if self._fixed is not None:
            return self._fixed
        console = rich_console.Console(
            file=self._stream or sys.stdout, markup=False, highlight=False, emoji=False, no_color=True,
            force_terminal=True if self._width else None,
        )  # fmt: skip
        console.width = self._width or min(max(console.width or USUAL, NARROWEST), WIDEST)
        if self._width:
            self._fixed = console
        return console

    def _print(self, renderable: RenderableType) -> None:
        """Write, without the blanks that pad each line to the full width."""
        console = self.console
        with console.capture() as captured:
            console.print(renderable)
        (self._stream or sys.stdout).write(_PADDING.sub(r"\1", captured.get()))

    def line(self, text: object = "", style: str = "", indent: int = 0) -> None:
        """One paragraph."""
        if self.plain:
            self._spoken(text)
            return

        self._print(padding.Padding(rich_text.Text(clean(text), style=style), (0, 0, 0, indent)) if text else "")

    def whole(self, text: object) -> None:
        """A line that is never wrapped, for other programs to read."""
        (self._stream or sys.stdout).write(clean(text) + "\n")

    def verbatim(self, text: object, indent: int = 0) -> None:
        """A line as it stands, its blanks kept: a command, or what a program prints."""
        if self.plain:
            self._spoken(text)
        else:
            self.whole(" " * indent + clean(text) if text else "")

    def heading(self, text: object) -> None:
        self.line()
        self.line(text, "bold")

    def pairs(self, rows: Iterable[tuple[object, object]], indent: int = 0) -> None:
        """Labels with their text, the text hanging beside the label."""
        told = [(clean(label), clean(text)) for label, text in rows]
        if self.plain:
            self._each(f"{label}: {text}" for label, text in told)
        elif told:
            self._print(_grid([[label, text] for label, text in told], indent, bold_first=True))

    def bullets(self, texts: Iterable[object], indent: int = 0, mark: str = "-") -> None:
        rows = [[mark, clean(text)] for text in texts]
        if self.plain:
            self._each(text for _, text in rows)
        elif rows:
            self._print(_grid(rows, indent))

    def numbered(self, texts: Iterable[object], indent: int = 0) -> None:
        rows = [[f"{number}.", clean(text)] for number, text in enumerate(texts, start=1)]
        if self.plain:
            self._each(" ".join(row) for row in rows)
        elif rows:
            self._print(_grid(rows, indent))

    def table(self, rows: Iterable[Sequence[object]], indent: int = 0) -> None:
        """Rows in columns; the last column takes what width is left."""
        told = [[clean(cell) for cell in row] for row in rows]
        if self.plain:
            self._each(", ".join(cell for cell in row if cell) for row in told)
        elif told:
            self._print(_grid(told, indent))

    def _each(self, texts: Iterable[str]) -> None:
        for text in texts:
            self._spoken(text)

    def _spoken(self, text: object) -> None:
        """A line without the arrows, which a screen reader spells out."""
        said = _CHANGE.sub(r"\1 to ", clean(text)).replace(" => ", ": ").replace(" -> ", ": ")
        self.whole(said.removeprefix("-> "))

    def json(self, shape: BaseModel) -> None:
        """A documented shape, as JSON on standard output. All but ASCII is escaped, so nothing can steer a terminal."""
        text = json.dumps(shape.model_dump(mode="json"), indent=2, ensure_ascii=True)
        (self._stream or sys.stdout).write(text + "\n")

    def trouble(self, message: object) -> None:
        """Something that stopped the work, on standard error."""
        for part in str(message).splitlines() or [""]:
            Screen(sys.stderr).whole(part)


def _grid(rows: Sequence[Sequence[str]], indent: int, bold_first: bool = False) -> Padding:
    grid = rich_table.Table.grid(padding=(0, 2, 0, 0))
    count = max(len(row) for row in rows)
    for column in range(count):
        widest = max((len(row[column]) for row in rows if column < len(row)), default=0)
        last = column == count - 1
        grid.add_column(
            no_wrap=not last and widest <= 24,
            style="bold" if bold_first and column == 0 else "",
            max_width=None if last else 44,
            overflow="fold",
        )
    for row in rows:
        cells: list[Any] = [rich_text.Text(cell, overflow="fold") for cell in row]
        grid.add_row(*cells)
    return padding.Padding(grid, (0, 0, 0, indent))
