"""Two benches on one job: whether an entry still makes sense after those that came in meanwhile.

Entries are kept in the order in which they come in; what is asked here is only whether a person should look first.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator

from ...reasoning.log import (
    AmpFactsTold,
    Answer,
    Arrived,
    Awaited,
    Closed,
    Complaint,
    Details,
    HoldAnswered,
    LogEntry,
    Note,
    Photo,
    Reading,
    RepairDone,
    Undone,
)

WORK = (Answer, Reading, RepairDone)
REMARKS = (Note, Photo)  # they touch nothing


def clash(came: Iterable[LogEntry], mine: Iterable[LogEntry]) -> str:
    """Why entries of one's own should not simply follow those that came in; '' when there is no reason not to."""
    came = tuple(came)
    return next((why for entry in mine for other in came if (why := _between(other, entry))), "")


def _between(came: LogEntry, mine: LogEntry) -> str:
    if isinstance(mine, REMARKS) or isinstance(came, REMARKS):
        return f"the job you close has got a {came.kind}" if isinstance(mine, Closed) else ""
    if isinstance(came, Closed):
        return "the job was closed"
    if isinstance(mine, Closed):
        return "the job you close was worked on"
    if isinstance(came, HoldAnswered) and not came.cleared and isinstance(mine, WORK):
        return f"the hold '{came.hold}' was answered no"
    shared = set(_subjects(came)) & set(_subjects(mine))
    if shared and not (
        isinstance(came, HoldAnswered) and isinstance(mine, HoldAnswered) and came.cleared == mine.cleared
    ):
        what, name = min(shared, key=str)
        return f"{what} '{name}' was entered there too" if name else f"{what} was entered there too"
    return ""


def _subjects(entry: LogEntry) -> Iterator[tuple[str, Hashable]]:
    """What an entry is about: two entries about the same thing want a person's eye."""
    match entry:
        case Answer() | Reading():
            yield "the check", entry.check
        case HoldAnswered():
            yield "the hold", entry.hold
        case RepairDone():
            yield "the repair for", entry.cause
        case Complaint():
            yield "the complaint", entry.symptom
        case AmpFactsTold():
            yield from (("the amp fact", name) for name in entry.amp)
        case Details():
            told = entry.model_dump(exclude={"kind", "at"}, exclude_none=True)
            yield from (("the detail", name) for name in told if name != "currency")
        case Awaited():
            yield "the part", entry.part
        case Arrived():
            yield "the part of entry", entry.number
        case Undone():
            yield "the undoing of entry", entry.number
        case _:
            yield f"something of the kind '{entry.kind}'", ""
