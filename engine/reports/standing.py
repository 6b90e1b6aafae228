"""Where a job stands, whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from ..bench.notation import show
from ..caution import STANDING
from ..jobs.shop.agreement import Agreed, agreed
from ..jobs.shop.before_after import BeforeAfter, before_after
from ..jobs.shop.estimate import ahead
from ..reasoning.bands import Doubt, Value
from ..reasoning.conflict import Conflict
from ..reasoning.facts import Said
from ..reasoning.holds import HoldState
from ..reasoning.log import Answer, Complaint, Log, Note, Photo, Reading, standing
from ..reasoning.minutes_spent import minutes_spent
from ..reasoning.rule_sentences import conclusion
from ..reasoning.script import Happened
from ..reasoning.session import ComplaintStanding, RankedCause, Standing
from ..reasoning.wording import said_of
from ..report import Report
from .repairs import RepairOfJob, repairs_of
from .step import StepOfJob, step_of
from .volts import VoltsOfJob, volts_of

CameFrom = Literal["complaint", "answer", "reading", "rule"]


class SettledFinding(Report):
    """A finding that was settled. of: the check or rule id, for a complaint the player's words; entry: the number of
    the log entry it rests on; how: in words."""

    finding: str
    text: str
    present: bool
    origin: CameFrom
    of: str
    entry: int
    how: str


class WorkedFigure(Report):
    """A worked figure: the sum one line per step, what to beware of, what it rests on, and the id of its source."""

    name: str
    value: float
    unit: str
    steps: tuple[str, ...]
    warnings: tuple[str, ...]
    rests_on: str
    source: str
    verdict: str


class ValueOfCheck(Report):
    """A reading or figure of a check. value is None, and trouble says why, when it can't be worked out. error: how far
    it may be off either way; doubt, settle: when that reaches across a limit, what it can't tell, and what would."""

    check: str
    name: str
    value: float | None
    unit: str
    shown: str
    figure: WorkedFigure | None
    trouble: str
    error: float
    doubt: str
    settle: str


class MinutesOfJob(Report):
    """spent: by the checks and repairs of the log; ahead: checks and repairs that are left, and from ahead_low to
    ahead_high in 80 of 100 jobs like it."""

    spent: float
    ahead: float
    ahead_low: float
    ahead_high: float


class Advice(Report):
    text: str
    rule: str


class PhotoKept(Report):
    """A photograph that was kept: the file, what it shows, and the step (a check's id) it was taken at."""

    path: str
    text: str
    check: str


class SpokenRule(Report):
    """A rule that has spoken: then: what it concludes, in sentences; rests_on: what it was met by."""

    rule: str
    then: tuple[str, ...]
    because: str
    rests_on: tuple[str, ...]


class StandingOfJob(Report):
    """Where a job stands.

    number: of the job, None for one that is not kept. fingerprint: of the knowledge base now; opened_with: of the one
    the job was opened with; learned: of what closed jobs taught, '' where that has no say. next: the step that comes
    next (kind done when nothing is worth doing, held when the work stands at a hold). ranking: every cause that can
    exist in this amp, most probable first; bound: how far any of its probabilities may be off, 0 where they are exact,
    1 where that can't be told. doubts: values that leave findings open, or that are not there, with what would settle
    each. steps: of a run from a file of answers, empty otherwise. circuit: None when none was chosen. caution: the
    standing caution.
    """

    shape: Literal["chopstick standing 1"] = "chopstick standing 1"
    number: int | None
    job: str
    fingerprint: str
    opened_with: str
    learned: str
    amp: dict[str, str | bool | float]
    circuit: VoltsOfJob | None
    stage: str
    next: StepOfJob
    complaints: tuple[ComplaintStanding, ...]
    ranking: tuple[RankedCause, ...]
    bound: float
    findings: tuple[SettledFinding, ...]
    values: tuple[ValueOfCheck, ...]
    doubts: tuple[Doubt, ...]
    holds: tuple[HoldState, ...]
    conflicts: tuple[Conflict, ...]
    repairs: tuple[RepairOfJob, ...]
    advice: tuple[Advice, ...]
    rules: tuple[SpokenRule, ...]
    notes: tuple[str, ...]
    photos: tuple[PhotoKept, ...]
    compared: tuple[BeforeAfter, ...]
    agreed: Agreed
    minutes: MinutesOfJob
    steps: tuple[StepOfJob, ...]
    caution: str = STANDING


def standing_of(now: Standing, log: Log, number: int | None = None, happened: Sequence[Happened] = ()) -> StandingOfJob:
    """Where a job stands, with the steps of a run when there was one."""
    base, left = now.base, ahead(now)
    entries = [entry for _, entry in standing(log)]
    return StandingOfJob(
        number=number,
        job=now.facts.title,
        fingerprint=base.fingerprint,
        opened_with=now.facts.fingerprint,
        learned=now.learned,
        amp=dict(now.facts.amp),
        circuit=volts_of(now),
        stage=now.facts.stage,
        next=step_of(base, now.next),
        complaints=now.complaints,
        ranking=now.likely,
        bound=now.ranking.posterior.bound,
        findings=tuple(findings_of(now, log)),
        values=tuple(_value(now, key, value) for key, value in now.facts.values.items()),
        doubts=now.facts.doubts,
        holds=now.holds,
        conflicts=now.conflicts,
        repairs=repairs_of(now),
        advice=tuple(Advice(text=text, rule=rule) for text, rule in now.deduction.advice),
        rules=tuple(
            SpokenRule(
                rule=id_, then=tuple(conclusion(base, one) for one in spoken.rule.then), because=spoken.rule.because,
                rests_on=spoken.because,
            )
            for id_, spoken in now.deduction.spoken.items()
        ),
        compared=before_after(base, log),
        notes=tuple(entry.text for entry in entries if isinstance(entry, Note)),
        photos=tuple(PhotoKept.made_of(entry) for entry in entries if isinstance(entry, Photo)),
        agreed=agreed(log),
        minutes=MinutesOfJob(
            spent=minutes_spent(now, log), ahead=left.likely, ahead_low=left.low, ahead_high=left.high
        ),
        steps=tuple(step_of(base, one.step, said_of(base, one.entries), one.remark) for one in happened),
    )  # fmt: skip


def findings_of(now: Standing, log: Log) -> Iterator[SettledFinding]:
    """Every finding that was settled, those of the log before those that rules made."""
    for said in (*now.facts.latest().values(), *now.deduction.findings):
        origin, of = _origin(now, log, said)
        yield SettledFinding.made_of(said, text=now.base.text(said.finding), origin=origin, of=of)


def _origin(now: Standing, log: Log, said: Said) -> tuple[CameFrom, str]:
    """Where a finding comes from, and the words, check or rule."""
    if said in now.deduction.findings:
        return "rule", said.by
    entry = log[said.entry - 1]
    if isinstance(entry, Complaint):
        return "complaint", entry.says
    if isinstance(entry, Reading):
        return "reading", entry.check
    return "answer", entry.check if isinstance(entry, Answer) else ""


def _value(now: Standing, key: str, value: Value) -> ValueOfCheck:
    check, _, name = key.partition("/")
    doubt = next((one for one in now.facts.doubts if (one.check, one.quantity) == (check, name)), None)
    shown = "" if value.value is None else show(value.value, value.unit)
    told = {"doubt": doubt.text if doubt else "", "settle": doubt.settle if doubt else ""}
    return ValueOfCheck.made_of(value, check=check, name=name, shown=shown, **told)
