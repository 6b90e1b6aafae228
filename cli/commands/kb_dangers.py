"""`chopstick kb list dangers`: what each dangerous cause bars, and by which findings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...engine.late import late
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.knowledge.base import KnowledgeBase

with late():
    from ...engine.reports import dangers


def list_dangers(screen: Screen, base: KnowledgeBase, word: str | None, as_json: bool) -> None:
    """The dangers, as JSON or for people; with a word, only causes whose id or name has it."""
    whole = dangers.dangers(base)
    found = [one for one in whole.dangers if not word or word.lower() in f"{one.cause} {one.name}".lower()]
    if as_json:
        screen.json(dangers.Dangers(dangers=tuple(found)))
        return
    for area in dict.fromkeys(one.area for one in found):
        screen.heading(f"{base.areas[area].title}: dangers")
        for one in found:
            if one.area == area:
                screen.line(f"{one.name} ({one.cause}): {one.hazard}, bars {one.bars}", indent=2)
                screen.bullets([f"{by.text} ({by.finding}: bars {by.bars})" for by in one.by], indent=4)
