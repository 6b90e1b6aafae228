"""A sentence cut where a new complaint may begin."""

from __future__ import annotations

import re

_CUT = re.compile(
    r"\s*(?:[;.!?:]+(?=\s|$)|,|\s[-–—]+\s|\b(?:and|but|plus|then|also|besides|though|additionally|while|or else)\b)\s*",
    re.IGNORECASE,
)
MOST = 10


def clauses(text: str) -> tuple[tuple[int, int], ...]:
    """Where the pieces of a text begin and end. A long story is left whole at its end."""
    found: list[tuple[int, int]] = []
    begun = 0
    for cut in _CUT.finditer(text):
        if cut.start() > begun and text[begun : cut.start()].strip() and len(found) < MOST - 1:
            found.append((begun, cut.start()))
            begun = cut.end()
        elif not text[begun : cut.start()].strip():
            begun = cut.end()
    if text[begun:].strip():
        found.append((begun, len(text)))
    return tuple(found)
