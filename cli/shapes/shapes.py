"""The documented JSON of every command: what `--json` prints, field by field.

A shape only ever grows: fields may be added, none is renamed, removed or given another meaning. Probabilities run from
0 to 1, minutes are bench minutes, and numbers are in the unit named beside them. Ids are those of the knowledge base.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

Kind = Literal["hold", "check", "proof", "repair", "held", "done"]


class Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)  # most are never wanted in one run


class CauseShape(Shape):
    """A cause and how probable it is. prior: before anything was said of this amp."""

    cause: str
    name: str
    probability: float
    prior: float


class FindingShape(Shape):
    """A finding that was settled. origin: complaint, answer, reading or rule; of: the check or rule id, for a
    complaint the player's words; entry: the number of the log entry it rests on; how: in words."""

    finding: str
    text: str
    present: bool
    origin: Literal["complaint", "answer", "reading", "rule"]
    of: str
    entry: int
    how: str


class FigureShape(Shape):
    """A worked figure: the sum a line a step, what to beware of, what it rests on, and the id of its source."""

    name: str
    value: float
    unit: str
    steps: tuple[str, ...]
    warnings: tuple[str, ...]
    rests_on: str
    source: str
    verdict: str


class ValueShape(Shape):
    """A reading or figure of a check. value is null, and trouble says why, when it can't be worked out. error: how far
    it may be off either way; doubt, settle: when that reaches across a limit, what it can't tell, and what would."""

    check: str
    name: str
    value: float | None
    unit: str
    shown: str
    figure: FigureShape | None
    trouble: str
    error: float
    doubt: str
    settle: str


class HoldShape(Shape):
    """A hold of this job. answered: true clears it, false leaves it open, null: not asked yet. rule: what raised it,
    '' for one that stands on every job. blocks: the stage of work from which on nothing is offered."""

    hold: str
    text: str
    ask: str
    blocks: str
    answered: bool | None
    rule: str
    because: str


class ConflictShape(Shape):
    """Two findings that do not fit together (the same one twice, when it was said both ways)."""

    one: str
    other: str
    one_text: str
    other_text: str
    why: str


class StepShape(Shape):
    """A step: what was next and why; got: what the log then got, as typed or chosen; remark: a reading questioned."""

    kind: Kind
    id: str
    name: str
    stage: str
    cause: str
    why: str
    got: str
    remark: str


class CandidateShape(Shape):
    cause: str
    name: str
    probability: float


class ComplaintShape(Shape):
    """A complaint and how it ends.

    verdict: proven (repaired, and the proof held), repaired (its proof is still to come), repair (do `repair` for
    `cause` now), checks (those named are worth doing), not separable (`separating` names the check that would tell the
    candidates apart, '' when none is known), not explained (by anything known). unexplained: how probable it is that
    nothing known explains it.
    """

    symptom: str
    name: str
    says: str
    verdict: Literal["proven", "repaired", "repair", "checks", "not separable", "not explained"]
    candidates: tuple[CandidateShape, ...]
    unexplained: float
    checks: tuple[str, ...]
    separating: str
    repair: str
    cause: str


class PartShape(Shape):
    """A part: its value in trade notation or the rule that gives it, its rating, and how many."""

    part: str
    value: str
    rating: str
    quantity: int


class ProofShape(Shape):
    """The check that proves a repair: after it, finding `gone` must be answered no, or `found` must be so; wants says
    it in words."""

    check: str
    name: str
    gone: str
    found: str
    wants: str


class RepairShape(Shape):
    """A repair. state: proposed, done (proof still to come), proven, or failed (the proof did not hold)."""

    repair: str
    name: str
    cause: str
    cause_name: str
    probability: float
    state: Literal["proposed", "done", "proven", "failed"]
    minutes: float
    skill: str
    hazard: str
    steps: tuple[str, ...]
    parts: tuple[PartShape, ...]
    cautions: tuple[str, ...]
    keeps: str
    proof: ProofShape


class MinutesShape(Shape):
    """spent: by the checks and repairs of the log; ahead: checks and repairs that are left, and from ahead_low to
    ahead_high in 80 of 100 jobs that stand so."""

    spent: float
    ahead: float
    ahead_low: float
    ahead_high: float


class AdviceShape(Shape):
    text: str
    rule: str


class PhotoShape(Shape):
    """A photograph that was kept: the file, what it shows, and the step (a check's id) it was taken at."""

    path: str
    text: str
    check: str
class ApprovalShape(Shape):
    """The owner's word on an estimate; high is the most that may be spent without asking again."""

    approved: bool
    low: float | None
    high: float | None
    currency: str
    by: str
    at: str


class AwaitedShape(Shape):
    """A part that is waited for. entry: the number of the log entry that ordered it; due: a day, '' when not known."""

    entry: int
    part: str
    due: str


class ClosedShape(Shape):
    """How a job ended. was: the causes it really had; other: what no cause here stands for; left: causes left as they
    are; charged: in `currency`; days as in 2026-03-01, '' when not known."""

    at: str
    was: tuple[str, ...]
    other: str
    left: tuple[str, ...]
    minutes: float | None
    charged: float | None
    currency: str
    warranty_until: str


class AgreedShape(Shape):
    """What came with the amp, what its owner wants and has agreed to, and which parts are waited for."""

    serial: str
    work_before: str
    accessories: tuple[str, ...]
    priority: str
    budget: float | None
    currency: str
    promised: str
    approvals: tuple[ApprovalShape, ...]
    awaited: tuple[AwaitedShape, ...]
    closed: ClosedShape | None


class SpokenShape(Shape):
    """A rule that has spoken: then: what it concludes, in sentences; rests_on: what it was met by."""

    rule: str
    then: tuple[str, ...]
    because: str
    rests_on: tuple[str, ...]


class SideShape(Shape):
    """What a check showed. good: within the limits; null when there are none. entry: its number in the log."""

    value: float | None
    said: str
    good: bool | None
    entry: int


class ComparedShape(Shape):
    """A reading, figure or answer (quantity '') before and after `repairs`; nothing is wrong from `low` to `high`."""

    check: str
    quantity: str
    name: str
    unit: str
    before: SideShape
    after: SideShape
    low: float | None
    high: float | None
    limits: str
    repairs: tuple[str, ...]


class PointReadShape(Shape):
    """Volts read at a test point, and what a sound amp gives there; low to high with sound parts."""

    point: str
    volts: float
    expected: float
    low: float
    high: float


class SuspectShape(Shape):
    """A fault of the circuit that the volts point to. predicted: volts with it at the points read; same: faults that no
    reading at any test point tells from it, itself first; checks: what would; causes: those it may be."""

    fault: str
    text: str
    stage: str
    probability: float
    predicted: dict[str, float]
    same: tuple[str, ...]
    checks: tuple[str, ...]
    causes: tuple[str, ...]


class VoltsShape(Shape):
    """The circuit that was chosen for a job, and what the volts read on it say.

    trouble: why it can't be used, '' when it can. readings: since the last repair that could change them. explained:
    whether some faults account for them.
    """

    circuit: str
    title: str
    trouble: str
    readings: tuple[PointReadShape, ...]
    explained: bool
    suspects: tuple[SuspectShape, ...]


class StandingShape(Shape):
    """Where a job stands. `take`, `show`, `bench` and `demo` print it.

    number: of the job, null for one that is not kept. fingerprint: of the knowledge base now; opened_with: of the one
    the job was opened with; learned: of what closed jobs taught, '' where that has no say. next: the step that comes
    next (kind done when nothing is worth doing, held when the work stands at a hold). ranking: every cause that can
    exist in this amp, most probable first. steps: filled by `bench --answers` and `demo`, empty otherwise. circuit:
    null when none was chosen. caution: the standing caution.
    """

    shape: Literal["chopstick standing 1"] = "chopstick standing 1"
    number: int | None
    job: str
    fingerprint: str
    opened_with: str
    learned: str
    amp: dict[str, str | bool | float]
    circuit: VoltsShape | None
    stage: str
    next: StepShape
    complaints: tuple[ComplaintShape, ...]
    ranking: tuple[CauseShape, ...]
    findings: tuple[FindingShape, ...]
    values: tuple[ValueShape, ...]
    holds: tuple[HoldShape, ...]
    conflicts: tuple[ConflictShape, ...]
    repairs: tuple[RepairShape, ...]
    advice: tuple[AdviceShape, ...]
    rules: tuple[SpokenShape, ...]
    notes: tuple[str, ...]
    photos: tuple[PhotoShape, ...]
    compared: tuple[ComparedShape, ...]
    agreed: AgreedShape
    minutes: MinutesShape
    steps: tuple[StepShape, ...]
    caution: str


class AreaShape(Shape):
    """An area the complaints point to, with the number of faults to be expected there."""

    area: str
    title: str
    expected: float


class ReadyShape(Shape):
    part: str
    value: str
    rating: str
    quantity: int
    cause: str


class TriageShape(Shape):
    """What `intake` prints: the job it opened, holds first, likely areas and causes, what to have ready, and the
    bench minutes: from low to high in 80 of 100 jobs that stand so."""

    shape: Literal["chopstick triage 1"] = "chopstick triage 1"
    number: int
    path: str
    job: str
    amp: dict[str, str | bool | float]
    complaints: tuple[ComplaintShape, ...]
    holds: tuple[HoldShape, ...]
    areas: tuple[AreaShape, ...]
    likely: tuple[CandidateShape, ...]
    tools: tuple[str, ...]
    parts: tuple[ReadyShape, ...]
    minutes_likely: float
    minutes_low: float
    minutes_high: float
    next: StepShape
    caution: str


class WeightShape(Shape):
    """What one statement does to the cause: log_odds (natural) with it less without it; above zero speaks for it."""

    finding: str
    text: str
    present: bool
    how: str
    entry: int
    log_odds: float


class RuleWeightShape(Shape):
    """What a rule does to the cause's odds; log_odds is null when it rules the cause out."""

    rule: str
    because: str
    log_odds: float | None


class TurnShape(Shape):
    """A check that could move the cause: its probability after the worst and the best outcome for it."""

    check: str
    name: str
    lowest: float
    highest: float


class TaughtShape(Shape):
    """What closed jobs taught of a cause on this kind of amp: it was found on so many of the amps seen; prior: how
    common the knowledge base has it there, now: how common it is reckoned; kept: not let fall, for safety."""

    found: int
    amps: int
    prior: float
    now: float
    kept: bool


class VoltsReasonShape(Shape):
    """What the volts of a known circuit say of a cause. silent: no DC reading shows any of its faults. log_odds: what
    speaks against it (0 for nothing); readings and predicted: volts by test point."""

    silent: bool
    log_odds: float
    readings: dict[str, float]
    predicted: dict[str, float]


class ReasonsShape(Shape):
    """What `show --why CAUSE` prints. taught: null where closed jobs have no say. volts: null when no circuit is
    chosen, or the cause is no fault of it."""

    shape: Literal["chopstick reasons 1"] = "chopstick reasons 1"
    cause: str
    name: str
    probability: float
    prior: float
    weights: tuple[WeightShape, ...]
    rules: tuple[RuleWeightShape, ...]
    turns: tuple[TurnShape, ...]
    repairs: tuple[str, ...]
    taught: TaughtShape | None = None
    volts: VoltsReasonShape | None = None


class ProblemShape(Shape):
    file: str
    line: int
    column: int
    entry: str
    severity: Literal["error", "warning"]
    message: str
    hint: str
    lint: str


class KnowledgeCheckShape(Shape):
    """What `kb check` prints. counts: entries by section."""

    shape: Literal["chopstick knowledge check 1"] = "chopstick knowledge check 1"
    errors: int
    warnings: int
    problems: tuple[ProblemShape, ...]
    counts: dict[str, int]


class LintShape(Shape):
    shape: Literal["chopstick lint 1"] = "chopstick lint 1"
    lint: str
    severity: str
    manual: str


class EntryShape(Shape):
    """An entry of the knowledge base. where: file:line:column. uses, prices: of a part, how many entries name it, and
    what it costs, in words."""

    section: str
    id: str
    name: str
    area: str
    where: str
    uses: int = 0
    prices: tuple[str, ...] = ()


class EntriesShape(Shape):
    """What `kb list` prints."""

    shape: Literal["chopstick entries 1"] = "chopstick entries 1"
    entries: tuple[EntryShape, ...]


class OriginShape(Shape):
    """Where one value of an entry stands. layer: which layer of one's own it is from, '' for the base."""

    field: str
    where: str
    layer: str


class RestsOnShape(Shape):
    """A source behind an entry. own: the entry names it itself; else its area names it for all that name none. seen:
    the text was read."""

    source: str
    title: str
    publisher: str
    seen: bool
    note: str
    own: bool


class WholeEntryShape(Shape):
    """What `kb show ID` prints: the entry as the file has it, and the ids of the entries that refer to it. more: others
    of that id, or called by that word. rests_on: the sources behind it."""

    shape: Literal["chopstick entry 1"] = "chopstick entry 1"
    section: str
    id: str
    where: str
    entry: dict[str, object]
    used_by: tuple[str, ...]
    origins: tuple[OriginShape, ...]
    more: tuple[WholeEntryShape, ...] = ()
    rests_on: tuple[RestsOnShape, ...] = ()


class AreaCountShape(Shape):
    """How many entries an area has, by section. Of these, published: that name a source of their own which is more
    than common practice; by_default: that name none and rest on their area's; unsourced: that rest on nothing."""

    area: str
    title: str
    counts: dict[str, int]
    published: int = 0
    by_default: int = 0
    unsourced: int = 0


class PartingShape(Shape):
    """A check that parts two causes by a finding, '' when none does. words: how many how-often words apart they show
    it; factor: by how much the answer shifts the odds between the two, on average."""

    check: str
    finding: str
    words: int
    factor: float


class PairShape(Shape):
    """Two causes that share a symptom. stage: at which the first of them can be confirmed; in_time: what parts them
    best up to there; ever: at any stage. because: the reason, when they are named as inseparable."""

    one: str
    other: str
    stage: str
    in_time: PartingShape
    ever: PartingShape
    told_apart: bool
    because: str


class IdleShape(Shape):
    """A check that is never worth doing. instead: the checks that settle all it settles as early and as quickly; none
    when it was chosen in no sample job."""

    check: str
    name: str
    instead: tuple[str, ...]


class CoverageShape(Shape):
    """What `kb report` prints. pairs: the weakest told apart, of `sharing` pairs that share a symptom. idle: checks
    never worth doing; unchosen: checks that no sample job chose, null when none were tried. single: symptoms that one
    cause alone shows. unconfirmed: causes that no single finding confirms."""

    shape: Literal["chopstick knowledge coverage 1"] = "chopstick knowledge coverage 1"
    areas: tuple[AreaCountShape, ...]
    sharing: int
    pairs: tuple[PairShape, ...]
    idle: tuple[IdleShape, ...]
    unchosen: tuple[str, ...] | None
    single: tuple[str, ...]
    unconfirmed: tuple[str, ...]


class JobShape(Shape):
    """A kept job. path: of the database it is kept in, or its URL. last: when something was last entered. faults: the
    causes it was closed with or repaired for. trouble: why it can't be read, '' when it can."""

    number: int
    path: str
    job: str
    opened: str
    entries: int
    trouble: str
    last: str = ""
    closed: bool = False
    faults: tuple[str, ...] = ()


class JobsShape(Shape):
    """What `jobs` prints."""

    shape: Literal["chopstick jobs 1"] = "chopstick jobs 1"
    folder: str
    jobs: tuple[JobShape, ...]
