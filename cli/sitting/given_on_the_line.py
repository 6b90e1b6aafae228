"""What was given on one command line, turned into log entries: all of it, or what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from ...engine.jobs.shop.estimate import estimate
from ...engine.jobs.store.errors import MovedOn
from ...engine.jobs.store.job import Job
from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning import answers
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.circuit_checks import check_named
from ...engine.reasoning.log import (
    CANT_TELL,
    NOT_THIS_AMP,
    AmpFactsTold,
    Answer,
    CircuitChosen,
    Complaint,
    HoldAnswered,
    Log,
    LogEntry,
    Note,
    RepairDone,
    Undone,
    last_undoable,
)
from ...engine.reasoning.session import Session, Standing
from ...engine.reference.errors import did_you_mean
from ..desk import now
from ..screen import volts
from ..screen.screen import clean
from . import agreement, amp_words, photos
from .agreement import Agreeing


@dataclass(frozen=True)
class Given:
    """The words of a `take` command."""

    values: Sequence[str] = ()
    holds: Sequence[str] = ()
    repairs: Sequence[str] = ()
    complaints: Sequence[str] = ()
    amp: Sequence[str] = ()
    notes: Sequence[str] = ()
    photos: Sequence[str] = ()
    undo: bool = False
    believe: bool = False
    circuit: str | None = None
    agreeing: Agreeing = field(default_factory=Agreeing)


class Taken(NamedTuple):
    """entries: to be added to the log. wrong: what can't be taken. barred: the open hold that stands before it."""

    entries: tuple[LogEntry, ...]
    wrong: tuple[str, ...] = ()
    barred: str = ""


def kept(session: Session, job: Job, given: Given) -> Taken:
    """Everything given, added to the job. When the job moved on meanwhile, what is given is looked at again from there.
    Raises JobError; MovedOn when another bench entered the same."""
    while True:
        got = taken(session, job.log, given)
        if not got.entries:
            return got
        try:
            job.append(*got.entries, merge=False)
            return got
        except MovedOn as moved:
            if moved.why:
                raise


def taken(session: Session, log: Log, given: Given) -> Taken:
    """Everything given as log entries, in a safe order: amp facts and complaints, holds, repairs, checks, notes."""
    wrong: list[str] = []
    entries = [*_opening(session.base, log, given, wrong), *_circuit(session, given, wrong)]
    cleared = list(_holds(session.base, given.holds, wrong))
    standing = session.read([*log, *entries])
    work: list[LogEntry] = [*_repairs(standing, given.repairs, wrong), *_checks(standing.base, given, wrong)]
    kept: list[LogEntry] = [*_agreed(session, given.agreeing, log, wrong), *_photos(given.photos, wrong)]
    kept += [Note(at=now(), text=clean(text)) for text in given.notes]
    if wrong:
        return Taken((), tuple(wrong))
    entries += cleared
    yes = {entry.hold for entry in cleared if entry.cleared}
    for entry in work:
        stage = _stage(standing.base, entry)
        while stage and (hold := session.read([*log, *entries]).plan.blocked_by(stage)) is not None:
            if hold.hold not in yes:
                return Taken((), (), f"before this comes the hold '{hold.hold}'. {hold.text} {hold.ask} "
                             f"When it is so: --hold {hold.hold}=yes")  # fmt: skip
            entries.append(HoldAnswered(at=now(), hold=hold.hold, cleared=True))
        entries.append(entry)
    return Taken((*entries, *kept))


def _photos(given: Sequence[str], wrong: list[str]) -> Iterator[LogEntry]:
    for word in given:
        try:
            yield photos.entry(word)
        except AnswerError as error:
            wrong.append(str(error))


def _opening(base: KnowledgeBase, log: Log, given: Given, wrong: list[str]) -> Iterator[LogEntry]:
    if given.undo:
        number = last_undoable(log)
        if number is None:
            wrong.append("there is nothing to take back")
        else:
            yield Undone(at=now(), number=number)
    try:
        if facts := amp_words.amp_facts(base, given.amp):
            yield AmpFactsTold(at=now(), amp=facts)
    except AnswerError as error:
        wrong.append(str(error))
    for text in given.complaints:
        try:
            words, symptom = amp_words.complaint(base, clean(text))
            yield Complaint(at=now(), says=words, symptom=symptom)
        except AnswerError as error:
            wrong.append(str(error))


def _circuit(session: Session, given: Given, wrong: list[str]) -> Iterator[CircuitChosen]:
    try:
        if given.circuit is not None:
            yield volts.chosen(session, given.circuit)
    except AnswerError as error:
        wrong.append(str(error))


def _agreed(session: Session, given: Agreeing, log: Log, wrong: list[str]) -> Iterator[LogEntry]:
    currency = session.base.shop.currency or ""
    try:
        yield from agreement.entries(given, log, currency, lambda: estimate(session.read(log), log))
    except AnswerError as error:
        wrong.append(str(error))


def _holds(base: KnowledgeBase, given: Sequence[str], wrong: list[str]) -> Iterator[HoldAnswered]:
    for word in given:
        id_, equals, answer = word.partition("=")
        if id_ not in base.holds:
            wrong.append(f"there is no hold '{id_}'. {did_you_mean(id_, list(base.holds))}".strip())
        elif not equals or answer.lower() not in ("yes", "no"):
            wrong.append(f"the hold '{id_}' takes yes or no, as in --hold {id_}=yes")
        else:
            yield HoldAnswered(at=now(), hold=id_, cleared=answer.lower() == "yes")


def _repairs(standing: Standing, given: Sequence[str], wrong: list[str]) -> Iterator[RepairDone]:
    base = standing.base
    for word in given:
        id_, _, cause = word.partition(":")
        if id_ not in base.repairs:
            wrong.append(f"there is no repair '{id_}'. {did_you_mean(id_, list(base.repairs))}".strip())
            continue
        cause = cause or cause_of(standing, id_)
        if cause not in base.causes or id_ not in base.causes[cause].repairs:
            served = [one.id for one in base.causes.values() if id_ in one.repairs]
            wrong.append(f"'{id_}' is no repair of '{cause}'; it is one of: {', '.join(served)}")
            continue
        yield RepairDone(at=now(), repair=id_, cause=cause)


def cause_of(standing: Standing, repair: str) -> str:
    """The most probable cause that a repair serves."""
    served = [one.id for one in standing.base.causes.values() if repair in one.repairs]
    return max(served, key=lambda id_: standing.ranking.probability.get(id_, 0.0))


def _checks(base: KnowledgeBase, given: Given, wrong: list[str]) -> Iterator[LogEntry]:
    typed: dict[str, str | dict[str, object]] = {}
    for word in given.values:
        name, equals, value = word.partition("=")
        id_, dot, reading = name.strip().partition(".")
        if (point := check_named(base, name.strip())) in base.checks:
            id_, dot = point, ""
        if not equals:
            wrong.append(f"'{clean(word)}' is not CHECK=VALUE")
        elif id_ not in base.checks:
            wrong.append(f"there is no check '{id_}'. {did_you_mean(id_, list(base.checks))}".strip())
        elif dot:
            readings = typed.setdefault(id_, {})
            if isinstance(readings, dict):
                readings[reading] = value
        else:
            typed[id_] = value
    for id_, what in typed.items():
        try:
            yield answers.entry(base.checks[id_], what, now(), given.believe)
        except answers.Implausible as error:
            wrong.append(f"{id_}: {error} If the meter really says so: --believe")
        except AnswerError as error:
            wrong.append(f"{id_}: {error}")


def _stage(base: KnowledgeBase, entry: LogEntry) -> model.Stage | None:
    """The stage of work that an entry was done at; None for one that needs no work on the amp."""
    if isinstance(entry, RepairDone):
        return "cold"
    if isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP):
        return None
    check = getattr(entry, "check", "")
    return base.checks[check].stage if check else None
