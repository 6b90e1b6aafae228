"""A sentence cut where a new complaint may begin."""

from __future__ import annotations

import re
from collections.abc import Iterable

_CUT = re.compile(
    r"\s*(?:[;.!?:]+(?=\s|$)|,|\s[-–—]+\s|\b(?:and|but|plus|then|also|besides|though|additionally|while|or else)\b)\s*",
    re.IGNORECASE,
)
_CONDITION = re.compile(
    r"\s*(?:when|whenever|if|after|as soon as|once|since|ever since|until|while|every time|because|with|at|in|on|just|"
    r"sometimes|first|starts?|built|turn|put in|been|was|used to)\b",
    re.IGNORECASE,
)
MOST = 10


def held_together(phrases: Iterable[str]) -> re.Pattern[str] | None:
    """What finds the phrases that hold a word at which a sentence is cut, as in 'comes and goes'."""
    held = sorted({phrase for phrase in phrases if _CUT.search(f" {phrase} ".replace("'", ""))}, key=len, reverse=True)
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, held))})\b", re.IGNORECASE) if held else None


def clauses(text: str, held: re.Pattern[str] | None = None) -> tuple[tuple[int, int], ...]:
    """Where the pieces of a text begin and end; none within what is held together. A long story is left whole at its
    end."""
    whole = [found.span() for found in held.finditer(text)] if held else []
    found: list[tuple[int, int]] = []
    begun = 0
    for cut in _CUT.finditer(text):
        if any(begin <= cut.start() < end for begin, end in whole):
            continue
        piece = text[begun : cut.start()]
        if cut[0].strip() in (",", "", "then") and _CONDITION.match(piece):
            continue  # 'when it gets warm, ...' and what follows are one
        if piece.strip() and len(found) < MOST - 1:
            found.append((begun, cut.start()))
            begun = cut.end()
        elif not piece.strip():
            begun = cut.end()
    if text[begun:].strip():
        found.append((begun, len(text)))
    return tuple(found)
