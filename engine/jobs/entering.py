"""What somebody wants to enter in a job, turned into log entries: all of it, or what is wrong with it.

Amp facts and complaints come first, then the circuit, holds, repairs, checks, and what is only kept with the job; the
gate (reasoning/gate.py) says whether the work may be entered.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..knowledge.model import AmpValue
from ..reasoning import answers
from ..reasoning.answers import AnswerError
from ..reasoning.circuit_checks import check_named
from ..reasoning.gate import BEFORE_POWER, passed
from ..reasoning.holds import HoldState
from ..reasoning.log import (
    AmpFactsTold,
    CircuitChosen,
    Complaint,
    HoldAnswered,
    Log,
    LogEntry,
    RepairDone,
    Undone,
    last_undoable,
    standing,
)
from ..reasoning.nodes import named_volts, volts_trouble
from ..reasoning.session import Session, Standing
from ..reference.errors import did_you_mean
from .store.errors import MovedOn
from .store.job import Job


@dataclass(frozen=True)
class Given:
    """What is to be entered. undo: first take back the last entry. complaints: the player's words with a symptom;
    unsaid: symptoms whose complaint is taken back. circuit: its name, '' for none, None for nothing said. volts: what
    the filter nodes read, for a move that asks for them; prepared: checks for which hands were in before a move to
    power; reason: why a danger is taken on. repairs: each with its cause, '' for the most probable one. values: what
    each check showed, by its id, CHECK.READING for one of several readings, or a test point of the circuit. believe:
    readings outside their plausible range. kept: entries that need no work on the amp.
    """

    undo: bool = False
    amp: Sequence[tuple[str, AmpValue]] = ()
    complaints: Sequence[tuple[str, str]] = ()
    unsaid: Sequence[str] = ()
    circuit: str | None = None
    holds: Sequence[tuple[str, bool]] = ()
    volts: Sequence[float] = ()
    prepared: Sequence[str] = ()
    reason: str = ""
    repairs: Sequence[tuple[str, str]] = ()
    values: Sequence[tuple[str, object]] = ()
    believe: bool = False
    kept: Sequence[LogEntry] = ()


@dataclass(frozen=True)
class Wrong:
    """What can't be taken. about: the check, '' for anything else. doubted: a reading that would be taken if it were
    believed."""

    text: str
    about: str = ""
    doubted: bool = False


class Taken(NamedTuple):
    """entries: to be added to the log. wrong: what can't be taken. barred: the open hold that stands before it."""

    entries: tuple[LogEntry, ...] = ()
    wrong: tuple[Wrong, ...] = ()
    barred: HoldState | None = None


def kept(job: Job, given: Callable[[Log], Taken]) -> Taken:
    """What is given, added to the job. given: what it comes to after a log; when the job moved on meanwhile, it is
    looked at again from there. Raises JobError; MovedOn when another bench entered the same."""
    while True:
        got = given(job.log)
        if not got.entries:
            return got
        try:
            job.append(*got.entries, merge=False)
            return got
        except MovedOn as moved:
            if moved.why:
                raise


def taken(session: Session, log: Log, given: Given, at: datetime) -> Taken:
    """Everything given as log entries of that time, in a safe order."""
    wrong: list[Wrong] = []
    first = [*_first(log, given, at, wrong), *_circuit(session, given, at, wrong)]
    standing = session.read([*log, *first])
    holds = list(_holds(standing, given, at, wrong))
    work = [*_repairs(standing, given, at, wrong), *_checks(standing.base, given, at, wrong)]
    if wrong:
        return Taken(wrong=tuple(wrong))
    through = passed(session, log, first, holds, work)
    if through.barred:
        return Taken(barred=through.barred)
    return Taken((*through.entries, *given.kept))


def cause_of(standing: Standing, repair: str) -> str:
    """The most probable cause that a repair serves."""
    served = [one.id for one in standing.base.causes.values() if repair in one.repairs]
    return max(served, key=lambda id_: standing.ranking.probability.get(id_, 0.0))


def choice_of_circuit(session: Session, name: str, at: datetime) -> CircuitChosen:
    """The log entry that chooses a circuit, '' or 'none' for none. Raises AnswerError when it can't be used."""
    name = "" if name.lower() in ("", "none") else name
    known = session.known(name)
    if isinstance(known, str) and known:
        raise AnswerError(known)
    return CircuitChosen(at=at, circuit=name)


def _first(log: Log, given: Given, at: datetime, wrong: list[Wrong]) -> Iterator[LogEntry]:
    if given.undo:
        number = last_undoable(log)
        if number is None:
            wrong.append(Wrong("there is nothing to take back"))
        else:
            yield Undone(at=at, number=number)
    yield from _taken_back(log, given, at, wrong)
    if given.amp:
        yield AmpFactsTold(at=at, amp=dict(given.amp))
    for words, symptom in given.complaints:
        yield Complaint(at=at, says=words, symptom=symptom)


def _taken_back(log: Log, given: Given, at: datetime, wrong: list[Wrong]) -> Iterator[Undone]:
    """What takes back the complaints of a symptom; one must be left, or be given."""
    made = [(number, entry) for number, entry in standing(log) if isinstance(entry, Complaint)]
    for symptom in given.unsaid:
        if symptom not in {entry.symptom for _, entry in made}:
            there = ", ".join(dict.fromkeys(entry.symptom for _, entry in made))
            wrong.append(Wrong(f"nobody complains of '{symptom}'; the complaints are: {there}"))
    if given.unsaid and not given.complaints and all(entry.symptom in given.unsaid for _, entry in made):
        wrong.append(Wrong("a job needs at least one complaint; give the right one in the same command"))
    yield from (Undone(at=at, number=number) for number, entry in made if entry.symptom in given.unsaid)


def _circuit(session: Session, given: Given, at: datetime, wrong: list[Wrong]) -> Iterator[CircuitChosen]:
    try:
        if given.circuit is not None:
            yield choice_of_circuit(session, given.circuit, at)
    except AnswerError as error:
        wrong.append(Wrong(str(error)))


def _holds(standing: Standing, given: Given, at: datetime, wrong: list[Wrong]) -> Iterator[HoldAnswered]:
    base = standing.base
    states = {hold.hold: hold for hold in standing.holds}
    for id_, cleared in given.holds:
        state, hold = states.get(id_), base.holds.get(id_)
        if state is None and hold is None and id_ != BEFORE_POWER:
            wrong.append(Wrong(f"there is no hold '{id_}'. {did_you_mean(id_, [*base.holds, *states])}".strip()))
            continue
        entry = HoldAnswered(at=at, hold=id_, cleared=cleared)
        if hold is not None and hold.standing and hold.blocks in model.POWERED:
            entry = entry.model_copy(update={"prepared": tuple(given.prepared)})
        if isinstance(hold, model.Move) and hold.volts is not None:
            entry = entry.model_copy(update={"volts": named_volts(standing, given.volts)})
            if trouble := volts_trouble(standing, hold, entry):
                wrong.append(Wrong(trouble))
                continue
        if hold is None:
            entry = entry.model_copy(update={"reason": given.reason})
            if cleared and not given.reason.strip():
                wrong.append(
                    Wrong(f"'{id_}' is opened by a check or a repair; who takes it on must say why (a reason)")
                )
                continue
        if cleared and state is not None and state.against:
            wrong.append(
                Wrong(f"'{id_}' can't be answered yes while this stands: {state.against}. Measure it anew first")
            )
            continue
        yield entry


def _repairs(standing: Standing, given: Given, at: datetime, wrong: list[Wrong]) -> Iterator[RepairDone]:
    base = standing.base
    for id_, named in given.repairs:
        if id_ not in base.repairs:
            wrong.append(Wrong(f"there is no repair '{id_}'. {did_you_mean(id_, list(base.repairs))}".strip()))
            continue
        cause = named or cause_of(standing, id_)
        if cause not in base.causes or id_ not in base.causes[cause].repairs:
            served = [one.id for one in base.causes.values() if id_ in one.repairs]
            wrong.append(Wrong(f"'{id_}' is no repair of '{cause}'; it is one of: {', '.join(served)}"))
            continue
        yield RepairDone(at=at, repair=id_, cause=cause)


def _checks(base: KnowledgeBase, given: Given, at: datetime, wrong: list[Wrong]) -> Iterator[LogEntry]:
    typed: dict[str, object] = {}
    for name, value in given.values:
        id_, dot, reading = name.partition(".")
        if (point := check_named(base, name)) in base.checks:
            id_, dot = point, ""
        if id_ not in base.checks:
            wrong.append(Wrong(f"there is no check '{id_}'. {did_you_mean(id_, list(base.checks))}".strip()))
        elif dot:
            readings = typed.setdefault(id_, {})
            if isinstance(readings, dict):
                readings[reading] = value
        else:
            typed[id_] = value
    for id_, what in typed.items():
        try:
            yield answers.entry(base.checks[id_], what, at, given.believe)  # type: ignore[arg-type]
        except answers.Implausible as error:
            wrong.append(Wrong(str(error), id_, doubted=True))
        except AnswerError as error:
            wrong.append(Wrong(str(error), id_))
