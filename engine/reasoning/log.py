"""A job is an append-only list of entries. Nothing is ever edited: undo is an entry too.

Each entry is one line of JSON in a job file; the models here are the documented shape of those lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter

from ..knowledge.model import AmpValue

CANT_TELL = "can't tell"
NOT_THIS_AMP = "not this amp"
NOT_KNOWN = "unknown"  # told of an amp fact: the same as nothing told

EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(3000, 1, 1, tzinfo=UTC)


def _of_some_clock(at: datetime) -> datetime:
    """A time that a bench's clock can show, with its zone: UTC where it names none. Beyond these years, reckoning with
    zones and warranties leaves what a date can be."""
    at = at if at.tzinfo else at.replace(tzinfo=UTC)
    if not EARLIEST <= at < LATEST:
        raise ValueError(f"no clock shows this time; the years run from {EARLIEST.year} to {LATEST.year - 1}")
    return at


MOST = 1e7  # of what is counted on one job, minutes and money alike
Amount = Annotated[float, Field(ge=0, le=MOST, allow_inf_nan=False)]
Value = Annotated[float, Field(ge=-1e12, le=1e12, allow_inf_nan=False)]  # as far as the units of a reading go
At = Annotated[datetime, AfterValidator(_of_some_clock)]


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    at: At


class Opened(_Entry):
    """The job begins. fingerprint: of the knowledge base it was opened with."""

    kind: Literal["opened"] = "opened"
    title: str
    fingerprint: str
    amp: dict[str, AmpValue] = {}


class AmpFactsTold(_Entry):
    """Something more is known about the amp."""

    kind: Literal["amp"] = "amp"
    amp: dict[str, AmpValue]


class Complaint(_Entry):
    """What the player says, tied to a symptom."""

    kind: Literal["complaint"] = "complaint"
    says: str
    symptom: str


class Answer(_Entry):
    """A check was answered: one of its answer keys, CANT_TELL or NOT_THIS_AMP."""

    kind: Literal["answer"] = "answer"
    check: str
    answer: str


class Reading(_Entry):
    """A check's readings, by name, each in the reading's own unit. believed: an implausible one was confirmed."""

    kind: Literal["reading"] = "reading"
    check: str
    values: dict[str, Value] = Field(min_length=1)
    believed: bool = False


class HoldAnswered(_Entry):
    """A hold was answered, or the amp moved to another set-up. Only `cleared` true opens the way.

    volts: what each filter node read, by its name, for a move that asks for them. prepared: the checks and repairs for
    which hands were in the chassis before this move to power. reason: why the way is opened though a danger stands, in
    the words of whoever takes it on.
    """

    kind: Literal["hold"] = "hold"
    hold: str
    cleared: bool
    volts: dict[str, Value] = {}
    prepared: tuple[str, ...] = ()
    reason: str = ""


class CircuitChosen(_Entry):
    """The circuit the amp is built to: the name of a circuit of kb/amps or of one's own; '' when none is known."""

    kind: Literal["circuit"] = "circuit"
    circuit: str


class RepairDone(_Entry):
    """A repair was carried out, for a cause."""

    kind: Literal["repair"] = "repair"
    repair: str
    cause: str


class Details(_Entry):
    """What came with the amp and what its owner wants. A later one says more, or says anew, field by field.

    work_before: what others did to it; accessories: what was handed in with it; priority: what matters most to the
    owner; budget: the most they want to spend, in `currency`; promised: the day it was promised for.
    """

    kind: Literal["details"] = "details"
    serial: str | None = None
    work_before: str | None = None
    accessories: tuple[str, ...] | None = None
    priority: str | None = None
    budget: Amount | None = None
    currency: str | None = None
    promised: date | None = None


class Approved(_Entry):
    """The owner's word on an estimate. approved: false when it was declined. low, high: the band they were told, in
    `currency`; high is the most that may be spent without asking again. by: who said so, and how."""

    kind: Literal["approved"] = "approved"
    approved: bool = True
    low: Amount | None = None
    high: Amount | None = None
    currency: str = ""
    by: str = ""


class Awaited(_Entry):
    """A part has been ordered. due: the day it is expected."""

    kind: Literal["awaited"] = "awaited"
    part: str
    due: date | None = None


class Arrived(_Entry):
    """The part awaited by the earlier entry of that number is here (or is no longer waited for)."""

    kind: Literal["arrived"] = "arrived"
    number: int = Field(ge=2)


class Note(_Entry):
    kind: Literal["note"] = "note"
    text: str


class Photo(_Entry):
    """A photograph that was taken. path: where the file lies; text: what it shows; check: what it was taken at."""

    kind: Literal["photo"] = "photo"
    path: str
    text: str = ""
    check: str = ""


class Undone(_Entry):
    """Takes back the earlier entry of that number (1 is the first of the log)."""

    kind: Literal["undone"] = "undone"
    number: int = Field(ge=2)


class Closed(_Entry):
    """The job is handed back. reason: why, where a hold was open or the last test not passed.

    was: the causes it really had. other: in words, what it was, if no cause here covers it, 'nothing wrong' among
    them. left: causes that are there and were left as they are. minutes, charged: what the bench time and the whole
    came to, in `currency`. warranty_until: the last day of the warranty.
    """

    kind: Literal["closed"] = "closed"
    was: tuple[str, ...] = ()
    other: str = ""
    left: tuple[str, ...] = ()
    minutes: Amount | None = None
    charged: Amount | None = None
    currency: str = ""
    warranty_until: date | None = None
    reason: str = ""

    @property
    def verdict(self) -> bool:
        """Whether it says what the amp really had; a job closed without saying teaches nothing."""
        return bool(self.was or self.other or self.left)


LogEntry = Annotated[
    Opened
    | AmpFactsTold
    | Details
    | Complaint
    | Answer
    | Reading
    | HoldAnswered
    | CircuitChosen
    | RepairDone
    | Approved
    | Awaited
    | Arrived
    | Note
    | Photo
    | Undone
    | Closed,
    Field(discriminator="kind"),
]
Log = Sequence[LogEntry]
ENTRY: TypeAdapter[LogEntry] = TypeAdapter(LogEntry)


def standing(log: Log) -> list[tuple[int, LogEntry]]:
    """The entries that hold, each with its number: what was undone is left out, and so is the undoing."""
    return still_standing(enumerate(log, start=1))


def still_standing(numbered: Iterable[tuple[int, LogEntry]]) -> list[tuple[int, LogEntry]]:
    """The same of entries with their numbers, where some of a log may be left out."""
    entries = list(numbered)
    gone = taken_back(entries)
    return [(number, entry) for number, entry in entries if number not in gone and not isinstance(entry, Undone)]


def taken_back(numbered: Iterable[tuple[int, LogEntry]]) -> frozenset[int]:
    """The numbers of the entries that were undone. Only what was there can be: nothing said now makes what will be
    found later void."""
    return frozenset(entry.number for number, entry in numbered if isinstance(entry, Undone) and entry.number < number)


def chosen_circuit(log: Log) -> str:
    """The name of the circuit that was chosen last; '' for none."""
    return next((entry.circuit for _, entry in reversed(standing(log)) if isinstance(entry, CircuitChosen)), "")


def last_undoable(log: Iterable[LogEntry]) -> int | None:
    """The number of the latest entry that undo would take back; None when there is nothing."""
    numbers = [number for number, entry in standing(list(log)) if not isinstance(entry, Opened)]
    return numbers[-1] if numbers else None
