"""Lints on how the amp must stand: hands, what is prepared before power, and dangers that nothing would betray. They
hold for a base that has moves between set-ups."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...reference.errors import Problem
from .. import model
from ..entry import POWERED
from ..hazards import bars_of, betrayed_by
from .frame import Look, lint

_INSIDE = ("inside", "clip-on", "iron")


def _works(look: Look) -> Iterator[tuple[str, model.Check | model.Repair]]:
    if look.base.moves:
        yield from (("checks", check) for check in look.base.written.values())
        yield from (("repairs", repair) for repair in look.base.repairs.values())


@lint("error", always=True)
def hands_unsaid(look: Look) -> Iterator[Problem]:
    """A check or repair that does not say where the hands go: safety follows from it. Say `hands:` outside, inside,
    clip-on or iron, as its text really has it.
    """
    for section, work in _works(look):
        if work.hands is None:
            yield look.problem(section, work, (), "does not say where the hands go", key=True)


@lint("error", always=True)
def hands_where_they_kill(look: Look) -> Iterator[Problem]:
    """Hands inside an amp that may be charged: stage look leaves the capacitors as they are, so nothing of it goes
    inside; and what is done under power after hands were in says in `prepare` what they did, unplugged and bled.
    """
    for section, work in _works(look):
        inside = work.hands in _INSIDE
        if work.stage == "look" and inside:
            yield look.problem(section, work, ("hands",), "hands go in, but at stage look the amp is still charged")
        if work.stage in POWERED and inside and not work.prepare:
            yield look.problem(section, work, ("hands",), "hands go in before power: `prepare` must say what they do")
        if work.prepare and not (work.stage in POWERED and inside):
            yield look.problem(section, work, ("prepare",), "`prepare` belongs to work under power with hands in first")


@lint("error", always=True)
def words_of_hands_under_power(look: Look) -> Iterator[Problem]:
    """The text of work under power tells of clipping, lifting, soldering or tugging (the words in kb/moves.yaml), but
    its hands are said to be outside. Say where the hands go, and move that part of the text to `prepare`.
    """
    if not look.base.words_of_hands:
        return
    words = re.compile(rf"\b(?:{'|'.join(map(re.escape, look.base.words_of_hands))})\b", re.IGNORECASE)
    for section, work in _works(look):
        text = work.do if isinstance(work, model.Check) else " ".join(work.steps)
        found = words.search(text)
        if work.stage in POWERED and work.hands == "outside" and found:
            message = f"tells of '{found[0]}' under power, with the hands outside"
            yield look.problem(section, work, (), message, key=True)


@lint("error", always=True)
def danger_unsaid(look: Look) -> Iterator[Problem]:
    """A cause that can ruin parts does not say what that forbids (`bars:` power, power tubes, play or nothing)."""
    for cause in look.base.causes.values() if look.base.moves else ():
        if cause.hazard == "damage" and cause.bars is None:
            yield look.problem("causes", cause, ("hazard",), "can do damage, and does not say what that bars")


@lint("error", always=True)
def danger_not_barred(look: Look) -> Iterator[Problem]:
    """A cause that can shock, burn or ruin, and that no finding would bar: power would go on with the fault in plain
    sight. It must usually show a finding of a check that mostly means danger; where that can't be counted from the
    odds, say `bars: true` on the finding. The list of dangers tells what bars what.
    """
    for cause in look.base.causes.values() if look.base.moves else ():
        if bars_of(cause) != "nothing" and not betrayed_by(look.base, cause):
            yield look.problem("causes", cause, (), f"no finding that it usually shows bars {bars_of(cause)}", key=True)
