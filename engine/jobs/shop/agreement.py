"""What was agreed about a job, and what it waits for: a pure function of its log, needing no knowledge base."""

from __future__ import annotations

from ...reasoning import log as entries
from ...reasoning.answers import AnswerError
from ...reasoning.log import Log, standing
from ...report import Day, Moment, Report


class Approval(Report):
    """The owner's word on an estimate; high is the most that may be spent without asking again."""

    approved: bool
    low: float | None
    high: float | None
    currency: str
    by: str
    at: Moment


class Waiting(Report):
    """A part that is waited for. entry: the number of the log entry that ordered it."""

    entry: int
    part: str
    due: Day


class Ending(Report):
    """How a job ended. was: the causes it really had; other: what no cause here covers; left: causes left as they
    are; charged: in `currency`; reason: why it went back though a hold was open or a test not done."""

    at: Moment
    was: tuple[str, ...]
    other: str
    left: tuple[str, ...]
    minutes: float | None
    charged: float | None
    currency: str
    warranty_until: Day
    reason: str


class Agreed(Report):
    """What came with the amp, what its owner wants and has agreed to, and which parts are waited for: the last word on
    each. approvals: every word of the owner on an estimate, in order; closed: None while the job is open."""

    serial: str = ""
    work_before: str = ""
    accessories: tuple[str, ...] = ()
    priority: str = ""
    budget: float | None = None
    currency: str = ""
    promised: Day = None
    approvals: tuple[Approval, ...] = ()
    awaited: tuple[Waiting, ...] = ()
    closed: Ending | None = None

    @property
    def approval(self) -> Approval | None:
        """The owner's last word on an estimate."""
        return self.approvals[-1] if self.approvals else None


def agreed(log: Log) -> Agreed:
    """What a job's log says was agreed."""
    told: dict[str, object] = {}
    approvals: list[entries.Approved] = []
    awaited: dict[int, Waiting] = {}
    closed: entries.Closed | None = None
    for number, entry in standing(log):
        match entry:
            case entries.Details():
                told |= entry.model_dump(exclude={"kind", "at"}, exclude_none=True)
            case entries.Approved():
                approvals.append(entry)
            case entries.Awaited():
                awaited[number] = Waiting(entry=number, part=entry.part, due=entry.due)
            case entries.Arrived():
                awaited.pop(entry.number, None)
            case entries.Closed():
                closed = entry
            case _:
                pass
    return Agreed.model_validate(
        {**told, "approvals": tuple(approvals), "awaited": tuple(awaited.values()), "closed": closed}
    )


def waited_for(log: Log, named: str) -> Waiting:
    """The part that is waited for, by the number of its entry or by words of it. Raises AnswerError."""
    waiting = agreed(log).awaited
    folded = named.strip().lower()
    exact = [one for one in waiting if folded in (str(one.entry), one.part.lower())]
    found = exact or [one for one in waiting if folded and folded in one.part.lower()]
    if len(found) == 1:
        return found[0]
    known = "; ".join(f"{one.entry}: {one.part}" for one in waiting) or "nothing"
    raise AnswerError(f"which part has arrived? '{named}' does not name one. Awaited: {known}")
