"""What each paper says: one frozen value a paper, made without looking at how it is laid out.

What the engine reports stands in them as it is. Every text in them is plain text; the writer makes it harmless for the
format it goes to.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ...engine.bench.figure import Figure
from ...engine.caution import STANDING
from ...engine.jobs.shop.estimate import Estimate
from ...engine.knowledge.model import Stage
from ...engine.reports.repairs import RepairOfJob
from ...engine.reports.volts import VoltsOfJob

OWNERS_CAUTION = (
    "Inside this amplifier are voltages that can kill, even hours after it is unplugged. Do not open it; leave work "
    "inside to somebody trained for it. Always have the speaker connected before you switch it on, use only the fuse "
    "marked on it, and an outlet with a working protective earth."
)


@dataclass(frozen=True)
class Pair:
    label: str
    text: str


@dataclass(frozen=True)
class Head:
    """What stands at the top of every paper. date: of the latest entry of the job, '' for a blank paper, which leaves
    a line to write it on; sheet: the code by which a filled-in checklist is typed back; says: the player's words;
    about: what came with the amp and what was agreed."""

    title: str
    job: int | None = None
    name: str = ""
    date: str = ""
    sheet: str = ""
    says: tuple[str, ...] = ()
    about: tuple[Pair, ...] = ()
    amp: tuple[Pair, ...] = ()
    caution: str = STANDING

    @property
    def blank(self) -> bool:
        return self.job is None


@dataclass(frozen=True)
class Option:
    """An answer that can be ticked: the key to type, and what it means."""

    key: str
    text: str = ""


@dataclass(frozen=True)
class Line:
    """A numbered line of a checklist, with a box or room for a reading. ok: the answer that `ok` stands for.

    of: the hold or check; reading: which of the check's readings; prepared: of a move to power, the checks below for
    which hands go in before it; expected: what a healthy amp would show here, when a circuit tells; bands: what the
    ranges of the reading mean.
    """

    number: int
    kind: Literal["hold", "answer", "reading"]
    of: str
    ask: str
    reading: str = ""
    point: str = ""
    unit: str = ""
    text: str = ""
    options: tuple[Option, ...] = ()
    ok: str = ""
    prepared: tuple[str, ...] = ()
    expected: str = ""
    bands: tuple[str, ...] = ()


@dataclass(frozen=True)
class Item:
    """A check on a checklist. cautions: by name, told in full at the head of its stage of work."""

    check: str
    name: str
    minutes: float
    do: str
    normal: str
    lines: tuple[Line, ...]
    why: str = ""
    tools: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    worked_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class StageOfWork:
    stage: Stage
    title: str
    cautions: tuple[Pair, ...]
    holds: tuple[Line, ...]
    items: tuple[Item, ...]


@dataclass(frozen=True)
class Checklist:
    """The checks of a job, or of a check-over, in order of the stages of work."""

    head: Head
    stages: tuple[StageOfWork, ...]
    minutes: float
    left_out: int = 0  # checks that were worth doing but did not fit

    @property
    def lines(self) -> tuple[Line, ...]:
        return tuple(
            line
            for stage in self.stages
            for line in (*stage.holds, *(line for item in stage.items for line in item.lines))
        )


@dataclass(frozen=True)
class Blank:
    """A question of the intake: choices to tick, or room to write."""

    ask: str
    choices: tuple[str, ...] = ()
    unit: str = ""


@dataclass(frozen=True)
class Ticks:
    """Complaints of one area, to be ticked."""

    title: str
    texts: tuple[str, ...]


@dataclass(frozen=True)
class Intake:
    """The blank sheet for a newly arrived amp."""

    head: Head
    safety: tuple[Blank, ...]
    owner: tuple[Blank, ...]
    amp: tuple[Blank, ...]
    complaints: tuple[Ticks, ...]


@dataclass(frozen=True)
class OwnersEstimate:
    """What the owner is asked to approve. comes_to: the sums; missing: what is not in them, in an owner's words;
    approval: the owner's word, '' while there is none."""

    head: Head
    made: Estimate
    comes_to: tuple[Pair, ...]
    explained: str
    missing: tuple[str, ...]
    approval: str = ""


@dataclass(frozen=True)
class WorkOrder:
    """What is to be done, for the technician at the bench."""

    head: Head
    holds: tuple[str, ...]
    works: tuple[RepairOfJob, ...]
    checks: tuple[str, ...]
    minutes: float
    cautions: tuple[Pair, ...] = ()
    approved: str = ""
    awaited: tuple[str, ...] = ()


@dataclass(frozen=True)
class HowItEnded:
    """A complaint and how it ended, in the owner's words and in plain ones."""

    says: str
    outcome: str
    cured: bool


@dataclass(frozen=True)
class SideBySide:
    """One thing before and after the work. limits: what it should be, where that is known."""

    what: str
    before: str
    after: str
    limits: str = ""


@dataclass(frozen=True)
class Tested:
    """One test that the finished amp had to pass: what was tested, what it showed, and what it should be."""

    what: str
    showed: str
    limit: str


@dataclass(frozen=True)
class HandBack:
    """The report for the owner."""

    head: Head
    endings: tuple[HowItEnded, ...]
    compared: tuple[SideBySide, ...]
    tested: tuple[Tested, ...]
    found: tuple[str, ...]
    done: tuple[str, ...]
    left: tuple[str, ...]
    advised: tuple[str, ...]
    cautions: tuple[str, ...] = (OWNERS_CAUTION,)
    warranty: str = ""


@dataclass(frozen=True)
class ReadingRow:
    """A reading or figure as it was taken. entry: its number in the job's log."""

    entry: int
    at: str
    check: str
    name: str
    value: float
    unit: str
    shown: str
    verdict: str = ""


@dataclass(frozen=True)
class Sum:
    """A worked figure of a check."""

    check: str
    name: str
    shown: str
    figure: Figure


@dataclass(frozen=True)
class EntryRow:
    entry: int
    at: str
    text: str
    undone: bool = False


@dataclass(frozen=True)
class Record:
    """The bench record for the shop: everything that was said, read, worked out and done."""

    head: Head
    endings: tuple[Pair, ...]
    ranking: tuple[Pair, ...]
    readings: tuple[ReadingRow, ...]
    sums: tuple[Sum, ...]
    findings: tuple[Pair, ...]
    works: tuple[Pair, ...]
    conflicts: tuple[str, ...]
    doubts: tuple[str, ...]
    notes: tuple[str, ...]
    entries: tuple[EntryRow, ...]
    minutes: tuple[Pair, ...] = ()
    volts: VoltsOfJob | None = None
