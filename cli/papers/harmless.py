"""Text that can't become anything but text: in Markdown, in a table of a spreadsheet, in a terminal."""

from __future__ import annotations

import re

from ..screen.screen import clean

_ANYWHERE = re.compile(r"[\\`*_\[\]<>&|~$^!{}#]")
_AT_START = re.compile(r"^(?:\d+(?=[.)](?:\s|$))|(?=[-+=:%@;]))")
_LINKS = re.compile(r"(?=://)|(?<=mailto)(?=:)|(?<=xmpp)(?=:)|(?<=www)(?=\.)|(?=@)", re.IGNORECASE)
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", ";")


def plain(text: object) -> str:
    """One line of printable text, blanks collapsed; nothing that steers a terminal or a direction of writing."""
    return " ".join(clean(text).split())


def markdown(text: object) -> str:
    """Text for Markdown that shows as itself wherever it is put: inside a line, a list, a heading or a table cell.

    A backslash before an ASCII punctuation mark makes it that mark and nothing else (CommonMark 0.31, section 2.4).
    Links that some readers make of bare addresses are broken up the same way.
    """
    said = _LINKS.sub("\x00", _ANYWHERE.sub(lambda sign: "\\" + sign[0], plain(text)))
    said = _AT_START.sub(lambda start: start[0] + "\\", said) if not said.startswith("\x00") else said
    return said.replace("\x00", "\\")


def cell(value: object) -> str | float | int:
    """A cell for CSV. A number stays a number; text that a spreadsheet would take for a formula gets an apostrophe
    before it, which makes it text (common practice, OWASP's page on CSV injection)."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    raw = str(value)
    text = plain(raw)
    return f"'{text}" if text.startswith(FORMULA) or raw.startswith(FORMULA) else text
