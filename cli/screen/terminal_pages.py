"""Pages on a terminal: one screenful a question, with the strip, the caution and the question always on it.

Nothing is cleared and the cursor is never moved: a page is as many lines as the terminal has, so the one before it
scrolls away upward, where it can be read again. What does not fit between caution and question is dealt out in
parts, and Enter turns to the next.
"""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from .page import Page, PageBlock, Strip, headline
from .prompts import Prompt
from .screen import WIDEST, Screen

Writes = Callable[[Screen], None]
Piece = list[str]  # lines that stay together where they can

NARROW = 60  # columns below which a label stands before its text, not beside it
LEAST_ROOM = 5  # lines for the body, before anything else gives way
SHORT_RESULT = 4  # lines of a result that need no page of their own
SMALLEST = (30, 16)  # columns and lines below which pages make no sense


def fits() -> bool:
    """Whether the terminal is large enough for pages."""
    size = _terminal()
    return size.columns >= SMALLEST[0] and size.lines >= SMALLEST[1]


class Paged:
    """Lays pages out for the terminal as it is at that moment."""

    def __init__(self, prompt: Prompt) -> None:
        self.prompt = prompt
        self.screen = prompt.screen
        self._page: Page | None = None
        self._part = 0
        self._said: list[str] = []
        self._aside: Writes | None = None

    def ask(self, page: Page, complete: Sequence[str] = ()) -> str:
        """What was typed in answer to the page's question; Enter alone turns the parts. Raises Ended."""
        if not page.same_but_for_the_question(self._page):
            self._part, self._aside = 0, None
        self._page = page
        while True:
            lines, parts = layout(page, self._part, self._said, self._aside, *_size())
            self._said = []
            self._write(lines)
            typed = self.prompt.ask("", complete)
            if typed or parts == 1:
                return typed
            self._part = (self._part + 1) % parts

    def say(self, text: str) -> None:
        """An answer to what was typed last; it stands above the question."""
        self._said.append(text)

    def tell(self, writes: Writes) -> None:
        """Something asked for; it stands in place of the body until Enter turns on."""
        self._aside, self._part = writes, 0

    def result(self, writes: Writes, strip: Strip) -> str:
        """What an entry changed: above the next question when it is short, else on a page of its own. What was typed
        to that page, '' for Enter."""
        columns, rows = _size()
        told = _sheet(writes, columns)
        if len(told) <= SHORT_RESULT:
            self._said += [line.strip() for line in told]
            return ""
        page = Page(strip, "What that changed", "Enter to go on, or: back, stop")
        part = 0
        while True:
            lines, parts = layout(page, part, [], writes, columns, rows, only_aside=True)
            self._write(lines)
            typed = self.prompt.ask("")
            part += 1
            if typed or part >= parts:
                return typed

    def last_words(self) -> None:
        """What was said and waits for a next page, when none comes."""
        for text in self._said:
            self.screen.line(text)
        self._said = []

    def more(self, page: Page) -> None:
        """The next part; Enter does the same."""
        del page
        self._part += 1

    def caution_fits(self, page: Page) -> bool:
        """Whether the cautions stand in full with the question on the terminal as it is."""
        if not page.cautions:
            return True
        columns, rows = _size()
        top, bottom = next(_frames(page, (), columns))
        room = rows - 1 - len(top) - len(bottom)
        return room >= LEAST_ROOM or room >= sum(map(len, _bodies(page, None, columns, False)))

    def _write(self, lines: Sequence[str]) -> None:
        stream = self.screen.console.file
        stream.write("".join(f"{line}\n" for line in lines))
        stream.flush()


def _terminal() -> os.terminal_size:
    """What the terminal says of itself, whatever COLUMNS and LINES say: a page that is too long would scroll."""
    try:
        size = os.get_terminal_size(sys.stdout.fileno())
    except (OSError, ValueError):
        return shutil.get_terminal_size()
    return size if size.columns and size.lines else shutil.get_terminal_size()


def _size() -> tuple[int, int]:
    size = _terminal()
    return min(size.columns - 1, WIDEST), size.lines  # the last column stays free: some terminals wrap there


def layout(
    page: Page, part: int, said: Sequence[str], aside: Writes | None, columns: int, rows: int, only_aside: bool = False
) -> tuple[list[str], int]:
    """The lines of one screen but for the line that is typed on, and how many parts the page has."""
    body = _bodies(page, aside, columns, only_aside)
    for top, bottom in _frames(page, said, columns):
        room = rows - 1 - len(top) - len(bottom)
        if room >= min(LEAST_ROOM, sum(map(len, body))):
            break
    parts = _dealt(body, max(room, 2))
    part %= len(parts)
    shown = parts[part]
    if len(parts) > 1:
        shown = [*shown, *_turn(part, len(parts), columns)]
    return [*top, *shown, *[""] * (room - len(shown)), *bottom], len(parts)


def _turn(part: int, parts: int, columns: int) -> list[str]:
    word = "for the first" if part + 1 == parts else "for more"
    told = f"(part {part + 1} of {parts}: Enter {word})"
    if len(told) > columns:
        told = f"({part + 1} of {parts}: Enter)"
    return _sheet(lambda screen: screen.line(told, "bold"), columns)


def _frames(page: Page, said: Sequence[str], columns: int) -> Iterator[tuple[list[str], list[str]]]:
    """What stands above and below the body, richest first: on a small screen the cautions are shortened to their
    first sentences (they were shown in full before), then keys and the strip."""
    short = (" ".join(map(headline, page.cautions)),) if page.cautions else ()
    bare = Strip(page.strip.needed)
    for cautions, keys, strip in (
        (page.cautions, page.keys, page.strip),
        (short, page.keys, page.strip),
        (short, ("help",), page.strip),
        (short, ("help",), replace(page.strip, lines=page.strip.lines[:1])),
        (short, ("help",), replace(page.strip, lines=())),
        (short, ("help",), bare),
        (short, (), bare),
        (short, (), Strip(())),
    ):
        yield _top(page, cautions, strip, columns), _bottom(page, said, keys, columns)


def _top(page: Page, cautions: Sequence[str], strip: Strip, columns: int) -> list[str]:
    def writes(screen: Screen) -> None:
        if strip.status:
            screen.line(" | ".join(strip.status))
        for label, text in strip.lines:
            screen.line(f"{label}: {text}")
        screen.line(page.title, "bold")
        _pairs(screen, [("CAUTION" if number == 0 else "", text) for number, text in enumerate(cautions)], columns)

    return _sheet(writes, columns)


def _bottom(page: Page, said: Sequence[str], keys: Sequence[str], columns: int) -> list[str]:
    def writes(screen: Screen) -> None:
        for text in said:
            screen.line(text)
        if page.keys and keys:
            screen.line("keys: " + ", ".join(keys))
        screen.line(page.question, "bold")

    return _sheet(writes, columns)


def _bodies(page: Page, aside: Writes | None, columns: int, only_aside: bool) -> list[Piece]:
    told = _paragraphs(_trimmed(_sheet(aside, columns))) if aside else []
    if only_aside:
        return told
    blocks = [*page.first, *page.more]
    body = [_sheet(lambda screen, one=block: _block(screen, one, columns), columns) for block in blocks]  # type: ignore[misc]
    if told:
        return [*told, ["\f"], *body]
    return [*body[: len(page.first)], *([["\f"]] if page.more else []), *body[len(page.first) :]]


def _paragraphs(lines: list[str]) -> list[Piece]:
    """Lines that belong together: one, and those after it that are set in deeper."""
    pieces: list[Piece] = []
    for line in lines:
        depth = len(line) - len(line.lstrip())
        if pieces and line and depth > len(pieces[-1][0]) - len(pieces[-1][0].lstrip()):
            pieces[-1].append(line)
        else:
            pieces.append([line])
    return pieces


def _trimmed(lines: list[str]) -> list[str]:
    while lines and not lines[0]:
        lines = lines[1:]
    return lines


def _block(screen: Screen, block: PageBlock, columns: int) -> None:
    if block.way == "text":
        _pairs(screen, [(block.label, block.text)], columns)
        return
    screen.line(f"{block.label}:", "bold")
    if block.way == "steps":
        screen.numbered([row[0] for row in block.rows])
    elif columns < NARROW:
        screen.bullets([", ".join(filter(None, row[:2])) + (f": {row[2]}" if row[2:] and row[2] else "")
                        for row in block.rows])  # fmt: skip
    else:
        screen.table(block.rows, indent=2)


def _pairs(screen: Screen, rows: Sequence[tuple[str, str]], columns: int) -> None:
    if columns < NARROW:
        for label, text in rows:
            screen.line(f"{label}: {text}" if label else text)
    else:
        screen.pairs([(label.ljust(8), text) for label, text in rows])


def _dealt(body: list[Piece], room: int) -> list[list[str]]:
    """The body in parts of at most `room` lines, the last line of each kept for the turning line where there are
    several. A piece goes whole to the next part if it fits there; a form feed begins a part."""
    whole = [line for piece in body for line in piece]
    if len(whole) <= room and "\f" not in whole:
        return [whole]
    room = max(1, room - 1)
    parts: list[list[str]] = [[]]
    for piece in body:
        if piece == ["\f"]:
            parts.append([])
            continue
        rest = list(piece)
        if len(parts[-1]) + len(rest) > room and (len(rest) <= room or room - len(parts[-1]) < 3):
            parts.append([])
        while len(parts[-1]) + len(rest) > room:
            cut = room - len(parts[-1])
            parts[-1] += rest[:cut]
            rest = rest[cut:]
            parts.append([])
        parts[-1] += rest
    return [part for part in parts if part] or [[]]


def _sheet(writes: Writes, columns: int) -> list[str]:
    """What is written, as lines of at most that many columns."""
    stream = io.StringIO()
    writes(Screen(stream, width=columns, plain=False))
    return stream.getvalue().splitlines()
