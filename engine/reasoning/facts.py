"""What the log says about the amp: amp facts, values, figures, and findings true or false.

Nothing here concludes anything: readings are turned into figures, figures fall in bands, bands and answers name
findings. Chaining is in rules.py and deduce.py.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import lru_cache

from ..bench import catalogue
from ..bench.figure import Figure
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..late import late
from ..reference.errors import UnknownName
from .bands import Bounded, Doubt, Judgement, Value, bands_of, judge, said_of, spoken
from .families import narrowed, said_by_kinds
from .log import (
    CANT_TELL,
    NOT_KNOWN,
    NOT_THIS_AMP,
    AmpFactsTold,
    Answer,
    CircuitChosen,
    Closed,
    Complaint,
    HoldAnswered,
    Log,
    LogEntry,
    Opened,
    Reading,
    RepairDone,
    standing,
)
from .set_up import SetUp, set_up_of
from .untold import OF_THE_AMP, untold

with late():
    from ..bench import error as bench_error

AS_DESIGNED, ASKED = "as designed", "asked"  # what a repair may make of an amp fact, beside a value
TAKEN_ON = ("danger", "untold")  # DANGER/FINDING and UNTOLD/CHECK: what a senior may take on, with a reason
FOR_SAFETY = "taken as the worse, for safety"


@dataclass(frozen=True)
class Said:
    """One statement about a finding: present or not, by which entry, and which causes were repaired by then.

    how: a sentence; by: the check, or rule, that said it, '' for the player. point: the test point, where it is the
    band of a DC reading there. quantity, meaning: the reading or figure of the check that settled it, and the words of
    the bands that it lies in.
    """

    finding: str
    present: bool
    entry: int
    how: str
    repaired: frozenset[str] = frozenset()
    by: str = ""
    point: str = ""
    quantity: str = ""
    meaning: str = ""


@dataclass(frozen=True)
class VoltsRead:
    """A DC reading at a test point (or one of several: see the reading's `point`), with its true sign."""

    check: str
    reading: str
    volts: float
    entry: int
    repaired: frozenset[str]


@dataclass(frozen=True)
class Repaired:
    """A repair that was carried out. proven: True, False, or None while its proving check is still to come."""

    repair: str
    cause: str
    entry: int
    proven: bool | None


@dataclass(frozen=True)
class Facts:
    """Everything told so far. said: in the order of the log. values: by CHECK/NAME. done: how each check ended."""

    title: str = ""
    fingerprint: str = ""
    amp: Mapping[str, model.AmpValue] = field(default_factory=dict)
    complaints: tuple[tuple[str, str, int], ...] = ()  # symptom, the player's words, entry
    said: tuple[Said, ...] = ()
    values: Mapping[str, Value] = field(default_factory=dict)
    volts: tuple[VoltsRead, ...] = ()
    circuit: str = ""  # the one chosen, whether it is there or not
    doubts: tuple[Doubt, ...] = ()  # readings and figures that leave findings open, each with why
    done: Mapping[str, str] = field(default_factory=dict)  # check -> answer key, 'read', CANT_TELL, NOT_THIS_AMP
    done_at: Mapping[str, int] = field(default_factory=dict)
    holds: Mapping[str, bool] = field(default_factory=dict)
    repairs: tuple[Repaired, ...] = ()
    set_up: SetUp = field(default_factory=SetUp)
    came: Mapping[str, model.AmpValue] = field(default_factory=dict)  # the amp facts before any repair changed them
    to_ask: tuple[str, ...] = ()  # amp facts that a repair changed in a way only the technician knows
    closed: bool = False
    minutes_since: Mapping[str, float] = field(default_factory=dict)  # opened, check/ID ... -> to the latest entry

    @property
    def stage(self) -> model.Stage:
        """The stage of work that the amp stands at; an amp that nothing is known of is looked at first."""
        return self.set_up.stage or "look"

    def latest(self) -> dict[str, Said]:
        """The last word on each finding."""
        return {said.finding: said for said in self.said}

    def evidence(self) -> tuple[Said, ...]:
        """What belief rests on: the last word on each finding; and, where a finding was present and is gone after
        a repair, both, since the amp as it came did show it."""
        kept: list[Said] = []
        for last in self.latest().values():
            if not last.present:
                before = [
                    said
                    for said in self.said
                    if said.finding == last.finding and said.present and said.repaired < last.repaired
                ]
                kept.extend(before[-1:])
            kept.append(last)
        return tuple(sorted(kept, key=lambda said: said.entry))


def gather(base: KnowledgeBase, log: Log) -> Facts:
    """Read a log. A check (or its answer), symptom, hold or repair the knowledge base no longer has is passed over."""
    entries = standing(log)
    epochs = amp_by_epoch(base, entries)
    gathering = _Gathering(base, epochs[0][1])
    for number, entry in entries:
        gathering.take(number, entry)
        for start, amp in epochs[1:]:
            if start == number:
                gathering.amp = amp
    return gathering.facts(entries, set_up_of(base, log), epochs)


def amp_by_epoch(
    base: KnowledgeBase, entries: Iterable[tuple[int, LogEntry]]
) -> list[tuple[int, dict[str, model.AmpValue]]]:
    """The amp facts as it came, and after each repair that changed some: the entry of the repair, and the facts from
    there on. What is told holds for the whole of the epoch in which it is told."""
    epochs: list[tuple[int, dict[str, model.AmpValue]]] = [(0, {})]
    for number, entry in entries:
        if isinstance(entry, Opened | AmpFactsTold):
            epochs[-1][1].update(entry.amp)
        elif isinstance(entry, RepairDone) and entry.repair in base.repairs and base.repairs[entry.repair].changes:
            epochs.append((number, {**epochs[-1][1], **changed(base.repairs[entry.repair], epochs[-1][1])}))
    return [(at, {name: value for name, value in amp.items() if value != NOT_KNOWN}) for at, amp in epochs]


def changed(repair: model.Repair, amp: Mapping[str, model.AmpValue]) -> dict[str, model.AmpValue]:
    """What a repair makes of the amp facts; `unknown` for one that is to be asked, or was never told."""
    new: dict[str, model.AmpValue] = {}
    for fact, value in repair.changes.items():
        new[fact] = amp.get(f"{fact}-designed", NOT_KNOWN) if value == AS_DESIGNED else value
        if value == ASKED:
            new[fact] = NOT_KNOWN
    return new


class _Gathering:
    def __init__(self, base: KnowledgeBase, amp: dict[str, model.AmpValue]) -> None:
        self.base = base
        self.amp = amp
        self.said: list[Said] = []
        self.complaints: list[tuple[str, str, int]] = []
        self.values: dict[str, Value] = {}
        self.read_since: set[str] = set()  # the last repair
        self.volts: list[VoltsRead] = []
        self.doubts: dict[str, tuple[Doubt, ...]] = {}
        self.done: dict[str, str] = {}
        self.done_at: dict[str, int] = {}
        self.holds: dict[str, bool] = {}
        self.repairs: list[tuple[int, RepairDone]] = []

    def take(self, number: int, entry: LogEntry) -> None:
        if isinstance(entry, Complaint) and entry.symptom in self.base.symptoms:
            self.complaints.append((entry.symptom, entry.says, number))
            self._say(entry.symptom, True, number, f"the player says: {entry.says}")
        elif isinstance(entry, HoldAnswered):
            self._hold(entry)
        elif isinstance(entry, RepairDone) and entry.repair in self.base.repairs:
            self.repairs.append((number, entry))
            self.read_since.clear()
        elif isinstance(entry, Answer | Reading) and entry.check in self.base.checks:
            check = self.base.checks[entry.check]
            if not _known(check, entry):
                return
            self.done_at[check.id] = number
            self.doubts.pop(check.id, None)
            if isinstance(entry, Answer):
                self.done[check.id] = entry.answer
                self._answer(number, check, entry.answer)
            else:
                self.done[check.id] = "read"
                self._read(number, check, entry.values)

    def _hold(self, entry: HoldAnswered) -> None:
        """A hold that the rules raise holds for good once answered; a standing one is the set-up's (set_up.py). A
        danger, or a check left untold, is taken on only with a reason."""
        hold = self.base.holds.get(entry.hold)
        if hold is not None and not hold.standing:
            self.holds[entry.hold] = entry.cleared
        elif hold is None and entry.hold.partition("/")[0] in TAKEN_ON:
            self.holds[entry.hold] = entry.cleared and bool(entry.reason.strip())

    def _answer(self, number: int, check: model.Check, key: str) -> None:
        if key in (CANT_TELL, NOT_THIS_AMP):
            return
        told = f"{check.name}: {check.answers[key].text or key}"
        present, absent = set(check.answers[key].findings), set(check.absent(key))
        for finding in check.findings():
            if finding in present or finding in absent:
                self._say(finding, finding in present, number, told, check.id)

    def _read(self, number: int, check: model.Check, values: Mapping[str, float]) -> None:
        """Readings of a check may come one by one; those from before a repair are no part of what is read after it."""
        if check.id not in self.read_since:
            self.read_since.add(check.id)
            for name in (*check.readings, *check.figures):
                self.values.pop(f"{check.id}/{name}", None)
        for name, number_read in values.items():
            if name in check.readings:
                unit = check.readings[name].unit
                error = self.base.reference.reading_error(number_read, unit)
                self.values[f"{check.id}/{name}"] = Value(number_read, unit, error=error)
                self._volts(number, check, name, number_read)
        for name, wanted in check.figures.items():
            self.values[f"{check.id}/{name}"] = self._figure(check, wanted)
        judged: dict[str, Judgement] = {}
        for quantity, bands in bands_of(check).items():
            value = self.values.get(f"{check.id}/{quantity}")
            if value is not None and value.value is not None:
                bounded = [one for one in (self._bounded(check, band) for band in bands) if one]
                judged[quantity] = judge(check, quantity, value, value.value, bounded)
        self._settle(number, check, judged)

    def _volts(self, number: int, check: model.Check, name: str, value: float) -> None:
        """Keeps what a known circuit takes in: a DC reading at a test point, with its true sign, and its like."""
        reading = check.readings[name]
        if reading.dc or reading.quantity:
            volts = value / 1000 if reading.unit == "mV" else value
            repaired = frozenset(entry.cause for _, entry in self.repairs)
            self.volts.append(VoltsRead(check.id, name, -volts if reading.dc == "minus" else volts, number, repaired))

    def _settle(self, number: int, check: model.Check, judged: Mapping[str, Judgement]) -> None:
        """Say what the readings of a check settle. On one that bears on safety, what may hurt is taken to be there
        while it is in doubt."""
        present, absent, open_ = said_of(judged)
        lacking = tuple(untold(self.base, check, self.amp, self._given, present | open_))
        absent -= {finding for one in lacking for finding in one.findings}  # what can't be judged might have it
        feared = {finding for finding in open_ if check.safety and self._hurts(finding)}
        at = {finding: point for point, findings in dc_findings(check) for finding in findings}
        for finding in check.findings():
            if finding in present | absent | feared:
                how, *settled = self._how(check, judged, finding)
                self._say(finding, finding not in absent, number, how, check.id, at.get(finding, ""), *settled)
        doubts = [one.doubt for one in judged.values() if one.doubt and open_.intersection(one.doubt.findings)]
        worse = [f"{one.text}; {FOR_SAFETY}" if feared.intersection(one.findings) else one.text for one in doubts]
        told = (replace(one, text=text) for one, text in zip(doubts, worse, strict=True))
        self.doubts[check.id] = (*told, *lacking)

    def _how(self, check: model.Check, judged: Mapping[str, Judgement], finding: str) -> tuple[str, ...]:
        """The words of the quantity that settles a finding, one that has it before one that has not; then the quantity
        and the words of its bands, where it lies in one for certain."""
        settling = [
            (finding not in one.present, f"{spoken(check, name, self.values[f'{check.id}/{name}'])}: {one.said}", name)
            for name, one in judged.items()
            if finding in one.present | one.absent
        ]
        feared = (f"{one.doubt.text}; {FOR_SAFETY}" for one in judged.values() if one.doubt)
        if not settling:
            return (next(feared),)
        _, how, name = min(settling)
        return how, name, judged[name].said

    def _hurts(self, finding: str) -> bool:
        return any(self.base.causes[id_].hazard != "none" for id_ in self.base.causes_showing.get(finding, ()))

    def _bounded(self, check: model.Check, band: model.Band) -> Bounded | None:
        """A band with its limits as numbers; None while one of them is not known."""
        try:
            low, high = self.bounds(check, band)
        except ValueError:
            return None
        errors = [self._spread(check, source) for source in (band.above, band.below) if isinstance(source, str)]
        return Bounded(band, low, high, max(errors, default=0.0))

    def bounds(self, check: model.Check, band: model.Band) -> tuple[float, float]:
        """The bounds of a band; an open end is infinite. Raises ValueError while one is not known."""
        low = -math.inf if band.above is None else self._number(check, band.above)
        high = math.inf if band.below is None else self._number(check, band.below)
        return low, high

    def _figure(self, check: model.Check, wanted: model.FigureOf) -> Value:
        try:
            function = catalogue.find(wanted.compute)
            unit = wanted.unit or catalogue.unit(function)
            given = {name: self._given(check, source) for name, source in wanted.given.items()}
            errors = {name: self._error(check, source) for name, source in wanted.given.items()}
            known = tuple((name, error) for name, error in errors.items() if error is not None)
            figure = _worked(wanted.compute, tuple(given.items()), known)
            return Value(figure.value, unit, figure, error=figure.error or 0.0)
        except (ValueError, LookupError) as error:
            return Value(None, wanted.unit or "", trouble=str(error))

    def _error(self, check: model.Check, source: str | float) -> float | None:
        """How far a `given` may be off, when it is a figure or a limit; None for a reading, a number or an amp fact,
        whose unit decides."""
        if not isinstance(source, str) or source.startswith("amp."):
            return None
        value = self._value(check, source)
        return None if value is not None and value.figure is None else self._spread(check, source)

    def _spread(self, check: model.Check, source: str) -> float:
        value = self._value(check, source)
        return value.error if value else 0.0

    def _value(self, check: model.Check, source: str) -> Value | None:
        """The reading or figure that a word names; None when it names something else, or nothing known yet."""
        return self.values.get(source if "/" in source else f"{check.id}/{source}")

    def _number(self, check: model.Check, source: str | float) -> float:
        value = self._given(check, source)
        if isinstance(value, str):
            raise ValueError(f"'{source}' is a word, not a number")
        return value

    def _given(self, check: model.Check, source: str | float) -> str | float:
        """What a `given` names. Raises ValueError, for people, when it is not known yet."""
        if not isinstance(source, str):
            return source
        kind, dot, key = source.partition(".")
        if dot and kind == "amp":
            if key not in self.amp:
                raise ValueError(f"the amp fact '{key}' is not known yet")
            fact = self.amp[key]
            return fact if isinstance(fact, str) else float(fact)
        if dot and kind in ("tube", "rectifier"):
            return self._rating(kind, key)
        if dot and kind == "window":
            return self._window(key)
        value = self._value(check, source)
        if value is None or value.value is None:
            raise ValueError(value.trouble if value and value.trouble else f"'{source}' is not measured yet")
        return value.value

    def _rating(self, kind: str, key: str) -> float:
        fact = OF_THE_AMP[kind]
        if fact not in self.amp:
            raise ValueError(f"the amp fact '{fact}' is not known yet")
        try:
            if kind == "tube":
                return self.base.reference.limit(str(self.amp[fact]), key).value
            blocks = self.base.reference.rectifier(str(self.amp[fact])).limits
        except UnknownName as error:
            raise ValueError(str(error)) from error
        found = [value for block in blocks if (value := getattr(block, key, None)) is not None]
        if not found:
            raise ValueError(f"no {key} is on file for the {self.amp[fact]}")
        return float(found[0])

    def _window(self, key: str) -> float:
        name, _, end = key.rpartition(".")
        try:
            value = getattr(self.base.reference.window(name), end, None)
        except UnknownName as error:
            raise ValueError(str(error)) from error
        if value is None:
            raise ValueError(f"the limit '{name}' has no '{end}'")
        return float(value)

    def _say(self, finding: str, present: bool, number: int, how: str, *more: str) -> None:
        """more: by, point, quantity and meaning, as far as there are such."""
        repaired = frozenset(entry.cause for _, entry in self.repairs)
        self.said.append(Said(finding, present, number, how, repaired, *more))

    def facts(
        self,
        entries: list[tuple[int, LogEntry]],
        set_up: SetUp,
        epochs: list[tuple[int, dict[str, model.AmpValue]]],
    ) -> Facts:
        opened = next((entry for _, entry in entries if isinstance(entry, Opened)), None)
        closed = any(isinstance(entry, Closed) for _, entry in entries)
        now = {one.finding: one.present for one in self.said}
        complaints = narrowed(self.base, self.complaints, now)
        told_by_kinds = said_by_kinds(self.base, now)
        return Facts(
            title=opened.title if opened else "",
            fingerprint=opened.fingerprint if opened else "",
            amp=self.amp,
            complaints=tuple(complaints),
            said=tuple(one for one in self.said if one.finding not in told_by_kinds),
            values=self.values,
            volts=tuple(self.volts),
            circuit=next((entry.circuit for _, entry in reversed(entries) if isinstance(entry, CircuitChosen)), ""),
            doubts=tuple(doubt for doubts in self.doubts.values() for doubt in doubts),
            done=self.done,
            done_at=self.done_at,
            holds={**self.holds, **set_up.answered},
            repairs=tuple(self._proofs()),
            set_up=set_up,
            came=epochs[0][1],
            to_ask=tuple(
                fact
                for _, entry in self.repairs
                for fact in self.base.repairs[entry.repair].changes
                if fact not in self.amp
            ),
            closed=closed,
            minutes_since=_minutes_since(entries),
        )

    def _proofs(self) -> Iterator[Repaired]:
        """Each repair with what its proving check said after it."""
        for number, entry in self.repairs:
            proof = self.base.repairs[entry.repair].proof_for(self.base.causes.get(entry.cause))
            wanted = proof.gone or proof.found
            after = [said for said in self.said if said.finding == wanted and said.entry > number]
            proven = None if not after else after[-1].present == (proof.found is not None)
            yield Repaired(entry.repair, entry.cause, number, proven)


def _known(check: model.Check, entry: Answer | Reading) -> bool:
    """Whether the check still has what was answered, or any of what was read. If not, the amp was at its stage of work
    all the same."""
    if isinstance(entry, Answer):
        return entry.answer in (CANT_TELL, NOT_THIS_AMP) or entry.answer in check.answers
    return not check.readings.keys().isdisjoint(entry.values)


def _minutes_since(entries: list[tuple[int, LogEntry]]) -> dict[str, float]:
    """Minutes from the latest entry of each kind to the latest of all: the log's own times, never the clock's."""
    at: dict[str, datetime] = {}
    for _, entry in entries:
        match entry:
            case Opened():
                at["opened"] = _universal(entry.at)
            case Answer() | Reading():
                at[f"check/{entry.check}"] = _universal(entry.at)
            case RepairDone():
                at[f"repair/{entry.repair}"] = _universal(entry.at)
            case HoldAnswered():
                at[f"hold/{entry.hold}"] = _universal(entry.at)
            case Complaint():
                at[f"complaint/{entry.symptom}"] = _universal(entry.at)
    latest = max((_universal(entry.at) for _, entry in entries), default=None)
    return {} if latest is None else {name: (latest - time).total_seconds() / 60 for name, time in at.items()}


def _universal(at: datetime) -> datetime:
    """A time without a zone is taken as UTC, so that hand-written and kept logs can be compared."""
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def bounds(base: KnowledgeBase, facts: Facts, check: model.Check, band: model.Band) -> tuple[float, float] | None:
    """The bounds of a band as numbers, an open end as infinity; None while one of them is not known yet."""
    gathering = _Gathering(base, dict(facts.amp))
    gathering.values = dict(facts.values)
    try:
        return gathering.bounds(check, band)
    except ValueError:
        return None


def dc_findings(check: model.Check) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Test points that a check reads the DC of, each with the findings that the reading alone settles."""
    for quantity, bands in bands_of(check).items():
        reading = check.readings.get(quantity)
        if reading is not None and reading.dc:
            yield reading.point or "", tuple(finding for band in bands for finding in band.findings)


@lru_cache(maxsize=1024)
def _worked(name: str, given: tuple[tuple[str, str | float], ...], errors: tuple[tuple[str, float], ...]) -> Figure:
    """A figure with its error; a pure function, kept because a log is read anew at every step."""
    return bench_error.with_error(catalogue.find(name), dict(given), dict(errors))
