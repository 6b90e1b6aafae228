"""A whole job without prompts: a file says what each check would show, and the session is run through it.

What the file lacks is answered "can't tell". The same shape serves as a sample job, whose `truth` and `expect` say
what the amp really had and how the session must end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from ..bench.notation import parse
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..knowledge.model import AmpValue
from ..knowledge.validate import validate
from ..late import late
from ..reference.errors import KnowledgeError, Problem, did_you_mean
from ..reference.text import Document, read_file
from . import answers
from .circuit_checks import check_named
from .healthy import nothing_wrong
from .log import CANT_TELL, EARLIEST, CircuitChosen, Complaint, HoldAnswered, LogEntry, Opened, RepairDone
from .nodes import filter_nodes
from .session import Session, Standing
from .steps import Step

with late():
    from . import words

MOST_STEPS = 400
ENDLESS = f"stopped here: no end was in sight after {MOST_STEPS} steps"


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Told(_Strict):
    """A complaint: the player's words, and the symptom they mean (found by the words when left out)."""

    says: str
    symptom: str | None = None


class InseparablePair(_Strict):
    causes: tuple[str, ...]
    by: str


class Expect(_Strict):
    """How a sample job must end; see the README."""

    likely: tuple[str, ...] = ()
    not_likely: tuple[str, ...] = ()
    inseparable: tuple[InseparablePair, ...] = ()
    holds: tuple[str, ...] = ()
    ends_in_hold: bool = False
    contradiction: tuple[str, ...] = ()
    not_explained: tuple[str, ...] = ()


class AnswerFile(_Strict):
    """A whole job to be run. checks: by check id, an answer key, a reading, or readings by name; with a circuit (its
    name), also volts by test point; a list where it is taken again, each in its turn. otherwise: what is answered where
    the file names no answer to what must be told before power, or passed before the amp goes back: can't tell, or what
    a healthy amp shows."""

    job: str
    amp: dict[str, AmpValue] = {}
    circuit: str = ""
    complaints: tuple[Told, ...] = ()
    holds: dict[str, Any] = {}
    checks: dict[str, Any] = {}
    repairs: dict[str, dict[str, Any]] = {}
    otherwise: Literal["can't tell", "healthy"] = "can't tell"
    truth: tuple[str, ...] = ()
    expect: Expect = Expect()


@dataclass(frozen=True)
class Happened:
    """One step of a run: what was next, what the log got, and a remark (a reading that was questioned ...)."""

    step: Step
    entries: tuple[LogEntry, ...]
    remark: str = ""


@dataclass(frozen=True)
class Run:
    """A finished run. end: what was next when it ended: done, held, or the step at which it was given up."""

    log: tuple[LogEntry, ...]
    happened: tuple[Happened, ...]
    standing: Standing
    end: Step


def read_answers(path: Path, session: Session) -> AnswerFile:
    """Read an answer file. Raises KnowledgeError with every problem: shape, unknown checks, holds, symptoms ..."""
    document = read_file(path)
    problems: list[Problem] = []
    file = validate(document, AnswerFile, problems)
    if file is None:
        raise KnowledgeError(problems)
    known = session.known(file.circuit)
    if isinstance(known, str) and known:
        raise KnowledgeError([Problem(document.where(("circuit",)), "circuit", known, lint="unknown-reference")])
    base = session.base if isinstance(known, str) else known.base
    problems = list(_unknown(document, file, base))
    if problems:
        raise KnowledgeError(problems)
    named = {check_named(base, name): typed for name, typed in file.checks.items()}
    proofs = {
        id_: {check_named(base, name): typed for name, typed in shown.items()} for id_, shown in file.repairs.items()
    }
    return file.model_copy(update={"checks": named, "repairs": proofs})


def _unknown(document: Document, file: AnswerFile, base: KnowledgeBase) -> Iterator[Problem]:
    named: list[tuple[tuple[str | int, ...], str, Mapping[str, object], str]] = [
        *((("checks", id_), id_, base.checks, "check") for id_ in file.checks),
        *((("holds", id_), id_, base.holds, "hold") for id_ in file.holds),
        *((("repairs", id_), id_, base.repairs, "repair") for id_ in file.repairs),
        *((("amp", id_), id_, base.amp_facts, "amp fact") for id_ in file.amp),
        *((("truth", n), id_, base.causes, "cause") for n, id_ in enumerate(file.truth)),
        *(
            (("complaints", n, "symptom"), told.symptom, base.symptoms, "symptom")
            for n, told in enumerate(file.complaints)
            if told.symptom
        ),
    ]
    for place, id_, known, kind in named:
        if (check_named(base, id_) if kind == "check" else id_) not in known:
            where = document.where(place, key=place[0] in ("checks", "holds", "repairs", "amp"))
            hint = did_you_mean(id_, list(known))
            yield Problem(where, ".".join(map(str, place)), f"there is no {kind} '{id_}'.", hint, "unknown-reference")
    shown: list[tuple[tuple[str | int, ...], str, Any]] = [
        *((("checks", id_), id_, typed) for id_, typed in file.checks.items()),
        *((("repairs", one, id_), id_, typed) for one, proof in file.repairs.items() for id_, typed in proof.items()),
    ]
    for place, id_, typed in shown:
        try:
            if (id_ := check_named(base, id_)) in base.checks:
                for one in typed if isinstance(typed, list) else [typed]:
                    answers.entry(base.checks[id_], one, EARLIEST, believed=True)
        except answers.AnswerError as error:
            yield Problem(document.where(place), ".".join(map(str, place)), str(error), lint="answer")


def opening(file: AnswerFile, session: Session, now: Callable[[], datetime]) -> list[LogEntry]:
    """The log's first entries: the job, the amp, the complaints."""
    log: list[LogEntry] = [Opened(at=now(), title=file.job, fingerprint=session.base.fingerprint, amp=file.amp)]
    for told in file.complaints:
        symptom = told.symptom or words.best_match(session.base, told.says)
        if symptom is None:
            raise answers.AnswerError(f"no known symptom matches the words '{told.says}'; name it with symptom:")
        log.append(Complaint(at=now(), says=told.says, symptom=symptom))
    if file.circuit:
        log.append(CircuitChosen(at=now(), circuit=file.circuit))
    return log


def run(file: AnswerFile, session: Session, now: Callable[[], datetime]) -> Run:
    """Run a job to its end through the real session. One that has none in sight ends with a remark that says so."""
    log = opening(file, session, now)
    happened: list[Happened] = []
    shown: dict[str, Any] = dict(file.checks)
    later: dict[str, Step] = {}  # repairs that the file does not have done, by cause
    while True:
        standing = session.read(log)
        step = standing.next_but(later)
        if step.kind in ("done", "held"):
            left = [Happened(step, (), "left to be done") for step in later.values()]
            return Run(tuple(log), (*happened, *left), standing, step)
        if step.kind == "repair" and step.id not in file.repairs:
            later[step.cause] = step
            continue
        over = len(happened) >= MOST_STEPS
        entries, remark = ([], ENDLESS) if over else _respond(file, standing, step, shown, now)
        if not entries:
            return Run(tuple(log), (*happened, Happened(step, (), remark)), standing, step)
        log.extend(entries)
        happened.append(Happened(step, tuple(entries), remark))


def _respond(
    file: AnswerFile, standing: Standing, step: Step, shown: dict[str, Any], now: Callable[[], datetime]
) -> tuple[list[LogEntry], str]:
    if step.kind == "move":
        return [_moved(file, standing, step, now())], ""
    if step.kind == "hold":
        cleared = str(file.holds.get(step.id, "no")).lower() in ("yes", "true")
        return [HoldAnswered(at=now(), hold=step.id, cleared=cleared)], ""
    if step.kind == "repair":
        shown.update(file.repairs[step.id])
        return [RepairDone(at=now(), repair=step.id, cause=step.cause)], ""
    check = standing.base.checks[step.id]
    typed = shown.get(check.id, _otherwise(file, standing, check))
    if isinstance(typed, list):
        shown[check.id], typed = typed[1:] if len(typed) > 1 else typed, typed[0]
    try:
        return [answers.entry(check, typed, now())], ""
    except answers.Implausible as error:
        return [answers.entry(check, CANT_TELL, now())], f"questioned, and not believed without a second look: {error}"


def _otherwise(file: AnswerFile, standing: Standing, check: model.Check) -> Any:
    base = standing.base
    due = check.safety or check.last is not None or any(check.id in move.through for move in base.moves.values())
    return nothing_wrong(base, check) if due and file.otherwise == "healthy" else CANT_TELL


def _moved(file: AnswerFile, standing: Standing, step: Step, at: datetime) -> HoldAnswered:
    """The answer to a move: yes; the volts of the filter nodes, one for all or one for each; or no."""
    move, said = standing.base.moves[step.id], file.holds.get(step.id, "no")
    entry = HoldAnswered(at=at, hold=step.id, cleared=str(said).lower() not in ("no", "false"), prepared=step.prepared)
    if move.volts is None or not entry.cleared or str(said).lower() in ("yes", "true"):
        return entry
    nodes = filter_nodes(standing) or ("node_1",)
    read = [parse(str(one), "V").value for one in (said if isinstance(said, list) else [said])]
    return entry.model_copy(
        update={"volts": dict(zip(nodes, read * len(nodes) if len(read) == 1 else read, strict=False))}
    )
