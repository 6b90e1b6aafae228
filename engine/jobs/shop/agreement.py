"""What was agreed about a job, and what it waits for: a pure function of its log, needing no knowledge base."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ...reasoning.log import Approved, Arrived, Awaited, Closed, Details, Log, standing


@dataclass(frozen=True)
class Waiting:
    """A part that was ordered. number: of the entry that says so."""

    number: int
    part: str
    due: date | None


@dataclass(frozen=True)
class Agreed:
    """The last word on each thing. approvals: every word of the owner on an estimate, in order; awaited: parts ordered
    that are not here yet; closed: how the job ended, None while it is open."""

    serial: str = ""
    work_before: str = ""
    accessories: tuple[str, ...] = ()
    priority: str = ""
    budget: float | None = None
    currency: str = ""
    promised: date | None = None
    approvals: tuple[Approved, ...] = ()
    awaited: tuple[Waiting, ...] = ()
    closed: Closed | None = None

    @property
    def approval(self) -> Approved | None:
        """The owner's last word on an estimate."""
        return self.approvals[-1] if self.approvals else None


def agreed(log: Log) -> Agreed:
    """What a job's log says was agreed."""
    told: dict[str, object] = {}
    approvals: list[Approved] = []
    awaited: dict[int, Waiting] = {}
    closed: Closed | None = None
    for number, entry in standing(log):
        match entry:
            case Details():
                told |= entry.model_dump(exclude={"kind", "at"}, exclude_none=True)
            case Approved():
                approvals.append(entry)
            case Awaited():
                awaited[number] = Waiting(number, entry.part, entry.due)
            case Arrived():
                awaited.pop(entry.number, None)
            case Closed():
                closed = entry
            case _:
                pass
    return Agreed(**told, approvals=tuple(approvals), awaited=tuple(awaited.values()), closed=closed)  # type: ignore[arg-type]
