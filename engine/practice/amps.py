"""An amp with hidden faults that answers as it would on the bench, in the state it is in.

What its file says of a check is what it shows. Of a check that the file does not name, the likeliest outcome is taken,
given the faults that are still in it and how often each shows a finding (the same numbers that belief uses).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..knowledge.folder import shipped
from ..reasoning import answers
from ..reasoning.bands import bands_of
from ..reasoning.holds import HoldState
from ..reasoning.log import (
    CANT_TELL,
    Answer,
    CircuitChosen,
    Complaint,
    HoldAnswered,
    Log,
    LogEntry,
    Opened,
    Reading,
    RepairDone,
    standing,
)
from ..reasoning.nodes import filter_nodes
from ..reasoning.script import AnswerFile, opening, read_answers
from ..reasoning.session import Session, Standing

FOLDER = "practice"
BLED_VOLTS = 1.5  # what a filter node of these amps reads once it is bled
AMONG = 0.5  # a finding that a fault shows this often, or more, goes when the fault is repaired


def files(root: Path | None = None) -> tuple[Path, ...]:
    """The amps that came with the knowledge base."""
    return tuple(sorted(((root or shipped()) / FOLDER).glob("*.yaml")))


def read(path: Path, session: Session) -> Amp:
    """The amp of a file. Raises KnowledgeError."""
    file = read_answers(path, session)
    known = session.known(file.circuit)
    return Amp(session.base if isinstance(known, str) else known.base, file)


@dataclass(frozen=True)
class Amp:
    """An amp whose faults are known to this program only."""

    base: KnowledgeBase
    file: AnswerFile
    circuit: str = ""  # that it is built to, where one is known

    def opening(self, session: Session, at: datetime) -> list[LogEntry]:
        """The first entries of a log: the amp and the complaints; the file's title would give it away."""
        opened, *complaints = opening(self.file, session, lambda: at)
        assert isinstance(opened, Opened)
        known = [CircuitChosen(at=at, circuit=self.circuit)] if self.circuit else []
        return [opened.model_copy(update={"title": "An amp to practise on"}), *complaints, *known]

    def faults(self, log: Log) -> tuple[str, ...]:
        """The faults still in it after the repairs of a log."""
        mended = {entry.cause for _, entry in standing(log) if isinstance(entry, RepairDone)}
        return tuple(cause for cause in self.file.truth if cause not in mended)

    def mends(self, repair: str, log: Log) -> str:
        """The fault still in it that a repair would fix; '' for none."""
        return next((cause for cause in self.faults(log) if repair in self.base.causes[cause].repairs), "")

    def holds(self, hold: HoldState, log: Log) -> bool:
        """Whether a hold is as it should be: one that a rule raised only once its file says so, or no fault is left."""
        if hold.kind == "standing":
            return True
        if hold.kind in ("danger", "untold") or hold.against:
            return False
        return str(self.file.holds.get(hold.hold, "no")).lower() in ("yes", "true") or not self.faults(log)

    def answered(
        self, now: Standing, hold: HoldState, log: Log, at: datetime, prepared: tuple[str, ...] = ()
    ) -> HoldAnswered:
        """What is said to a hold, or to a move: its filter nodes have bled."""
        entry = HoldAnswered(at=at, hold=hold.hold, cleared=self.holds(hold, log), prepared=prepared)
        move = self.base.moves.get(hold.hold)
        if move is None or move.volts is None:
            return entry
        return entry.model_copy(update={"volts": dict.fromkeys(filter_nodes(now) or ("node_1",), BLED_VOLTS)})

    def entry(self, check: model.Check, log: Log, at: datetime) -> Answer | Reading:
        """What a check shows now; CANT_TELL where nothing can be said."""
        shown = self._shown(log)
        typed = shown.get(check.id)
        if typed is None:
            typed = self._likeliest(check, log, shown)
        return answers.entry(check, CANT_TELL if typed is None else typed, at, believed=True)

    def _shown(self, log: Log) -> dict[str, Any]:
        """What the file says of each check, after the repairs of a log."""
        shown = dict(self.file.checks)
        left = list(self.file.truth)
        for _, entry in standing(log):
            if not (isinstance(entry, RepairDone) and entry.cause in left):
                continue
            left.remove(entry.cause)
            for id_ in self._changed(entry, left):
                shown.pop(id_, None)
            shown.update(self.file.repairs.get(entry.repair, {}))
        return shown

    def _changed(self, done: RepairDone, left: Sequence[str]) -> Iterator[str]:
        """The checks that show something else once a fault is repaired: its proof, and those on what it alone
        showed."""
        yield self.base.repairs[done.repair].proof_for(self.base.causes[done.cause]).check
        gone = {
            finding
            for finding, often in self.base.causes[done.cause].shows.items()
            if self.base.how_often(often) >= AMONG and self._chance(finding, left, ()) < AMONG
        }
        for finding in gone:
            yield from self.base.checks_settling.get(finding, ())

    def _chance(self, finding: str, faults: Sequence[str], complaints: Sequence[str]) -> float:
        """How probable a finding is with these faults; a complaint that one of them shows is there."""
        shows = [self.base.how_often(self.base.causes[one].shows[finding]) for one in faults
                 if finding in self.base.causes[one].shows]  # fmt: skip
        if finding in complaints and shows:
            return 0.999
        absent = (1 - self.base.leak(finding)) * math.prod(1 - one for one in shows)
        return min(max(1 - absent, 1e-6), 1 - 1e-6)

    def _listed(self, shown: Mapping[str, Any]) -> dict[str, bool]:
        """What the answers that the file gives say of findings."""
        said: dict[str, bool] = {}
        for id_, typed in shown.items():
            check = self.base.checks[id_]
            if check.answers and isinstance(typed, str | bool) and str(typed) != CANT_TELL:
                key = answers.answer_key(check, typed)
                said |= dict.fromkeys(check.absent(key), False) | dict.fromkeys(check.answers[key].findings, True)
        return said

    def _likeliest(self, check: model.Check, log: Log, shown: Mapping[str, Any]) -> Any:
        faults, listed = self.faults(log), self._listed(shown)
        complaints = tuple(entry.symptom for _, entry in standing(log) if isinstance(entry, Complaint))
        chance = {
            finding: (0.999 if listed[finding] else 0.001) if finding in listed
            else self._chance(finding, faults, complaints)
            for finding in check.findings()
        }  # fmt: skip

        def score(findings: Sequence[str], absent: Sequence[str]) -> float:
            return sum(math.log(chance[one]) for one in findings) + sum(math.log(1 - chance[one]) for one in absent)

        if check.answers:
            sound = [score(one.findings, one.denies) for one in check.answers.values() if one.denies]
            rest = math.log(max(1 - sum(map(math.exp, sound)), 1e-9))  # 'not all of it', where others deny a list

            def fits(key: str) -> float:
                one = check.answers[key]
                return rest if sound and not one.denies and not one.findings else score(one.findings, check.absent(key))

            return max(check.answers, key=fits)
        values: dict[str, float] = {}
        for quantity, bands in bands_of(check).items():
            if quantity not in check.readings:
                return None  # a figure: what would have to be read can't be told from it
            among = tuple(dict.fromkeys(finding for band in bands for finding in band.findings))
            band = max(bands, key=lambda one: score(one.findings, [f for f in among if f not in one.findings]))
            value = _inside(band, check.readings[quantity])
            if value is None:
                return None
            values[quantity] = value
        return values if set(values) == set(check.readings) else None


def _inside(band: model.Band, reading: model.ReadingAsked) -> float | None:
    """A value well inside a band; None when a bound is not a plain number."""
    low, high = reading.plausible
    for bound in (band.above, band.below):
        if isinstance(bound, str):
            return None
    above = band.above if isinstance(band.above, float) else low
    below = band.below if isinstance(band.below, float) else high
    if band.above is not None and band.below is None and above > 0:
        return min(above * 1.3, (above + below) / 2)
    if band.below is not None and band.above is None and below > 0 >= above:
        return below * 0.5
    return (above + below) / 2
