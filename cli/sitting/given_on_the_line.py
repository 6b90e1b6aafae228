"""What was given on one command line, as the engine takes it; and what the engine says of it, with what to type."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from ...engine.bench.notation import NotationError, parse
from ...engine.jobs import entering
from ...engine.jobs.entering import Given, Taken, Wrong
from ...engine.jobs.shop.estimate import estimate
from ...engine.jobs.store.job import Job
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.holds import HoldState
from ...engine.reasoning.log import Log, LogEntry, Note
from ...engine.reasoning.session import Session
from ..desk import now
from ..screen.screen import clean
from . import agreement, amp_words, photos
from .agreement import Agreeing


@dataclass(frozen=True)
class Words:
    """The words of a `take` command."""

    values: Sequence[str] = ()
    holds: Sequence[str] = ()
    repairs: Sequence[str] = ()
    complaints: Sequence[str] = ()
    unsaid: Sequence[str] = ()
    amp: Sequence[str] = ()
    notes: Sequence[str] = ()
    photos: Sequence[str] = ()
    undo: bool = False
    believe: bool = False
    circuit: str | None = None
    agreeing: Agreeing = field(default_factory=Agreeing)
    because: str = ""
    prepared: Sequence[str] = ()


def kept(session: Session, job: Job, words: Words) -> Taken:
    """Everything given, added to the job. Raises JobError; MovedOn when another bench entered the same."""
    return entering.kept(job, lambda log: taken(session, log, words))


def taken(session: Session, log: Log, words: Words) -> Taken:
    """Everything given as log entries, or all that is wrong with it."""
    wrong: list[str] = []
    given = _given(session, log, words, wrong)
    got = entering.taken(session, log, given, now())
    return Taken(wrong=(*map(Wrong, wrong), *got.wrong)) if wrong else got


def said(wrong: Wrong) -> str:
    """What can't be taken, and the option that would take it."""
    about = f"{wrong.about}: " if wrong.about else ""
    return f"{about}{wrong.text}{' If the meter really says so: --believe' if wrong.doubted else ''}"


def barred_by(hold: HoldState, asks_volts: bool = False) -> str:
    """The hold that stands before what was given, and the option that answers it."""
    if hold.kind in ("danger", "untold"):
        taken_on = f"--hold {hold.hold}=yes --because REASON"
        return f"{stands_before(hold)} Whoever is senior may take it on in writing: {taken_on}"
    return f"{stands_before(hold)} When it is so: --hold {hold.hold}={'VOLTS,VOLTS' if asks_volts else 'yes'}"


def stands_before(hold: HoldState) -> str:
    """The hold that stands before what was given."""
    if hold.against:
        return f"'{hold.hold}' stands while this does: {hold.against}. {hold.text}"
    kind = {"danger": "danger", "untold": "check"}.get(hold.kind, "hold")
    return f"before this comes the {kind} '{hold.hold}'. {hold.text} {hold.ask}"


def _given(session: Session, log: Log, words: Words, wrong: list[str]) -> Given:
    base = session.base
    return Given(
        undo=words.undo,
        amp=tuple(_amp(base, words.amp, wrong)),
        complaints=tuple(_complaints(base, words.complaints, wrong)),
        unsaid=tuple(word.strip() for word in words.unsaid),
        circuit=words.circuit,
        holds=tuple(_holds(words.holds, wrong)),
        volts=_volts(words.holds),
        reason=words.because,
        prepared=words.prepared,
        repairs=tuple((id_, cause) for id_, _, cause in (word.partition(":") for word in words.repairs)),
        values=tuple(_values(words.values, wrong)),
        believe=words.believe,
        kept=tuple(_kept(session, log, words, wrong)),
    )


def _amp(base: KnowledgeBase, words: Sequence[str], wrong: list[str]) -> Iterable[tuple[str, str | bool | float]]:
    try:
        return amp_words.amp_facts(base, words).items()
    except AnswerError as error:
        wrong.append(str(error))
        return ()


def _complaints(base: KnowledgeBase, words: Sequence[str], wrong: list[str]) -> Iterator[tuple[str, str]]:
    for text in words:
        try:
            yield amp_words.complaint(base, clean(text))
        except AnswerError as error:
            wrong.append(str(error))


def _holds(words: Sequence[str], wrong: list[str]) -> Iterator[tuple[str, bool]]:
    """Holds and moves: yes or no; the volts of the filter nodes count as yes, and are judged by the engine."""
    for word in words:
        id_, _, answer = word.partition("=")
        if answer.lower() in ("yes", "no"):
            yield id_, answer.lower() == "yes"
        elif _read(answer):
            yield id_, True
        else:
            wrong.append(f"the hold '{clean(id_)}' takes yes or no, as in --hold {clean(id_)}=yes; volts as 3V,1V")


def _volts(words: Sequence[str]) -> tuple[float, ...]:
    return next((read for word in words if (read := _read(word.partition("=")[2]))), ())


def _read(answer: str) -> tuple[float, ...]:
    """Volts, one after another; none when it is anything else."""
    try:
        return tuple(parse(one, "V").value for one in answer.split(",") if one.strip())
    except NotationError:
        return ()


def _values(words: Sequence[str], wrong: list[str]) -> Iterator[tuple[str, str]]:
    for word in words:
        name, equals, value = word.partition("=")
        if equals:
            yield name.strip(), value
        else:
            wrong.append(f"'{clean(word)}' is not CHECK=VALUE")


def _kept(session: Session, log: Log, words: Words, wrong: list[str]) -> Iterator[LogEntry]:
    """What needs no work on the amp: what was agreed, photographs, notes."""
    currency = session.base.shop.currency or ""
    try:
        yield from agreement.entries(words.agreeing, log, currency, lambda: estimate(session.read(log), log))
    except AnswerError as error:
        wrong.append(str(error))
    for word in words.photos:
        try:
            yield photos.entry(word)
        except AnswerError as error:
            wrong.append(str(error))
    for text in words.notes:
        yield Note(at=now(), text=clean(text))
