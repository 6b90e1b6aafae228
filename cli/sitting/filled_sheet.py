"""`chopstick take JOB --sheet`: a checklist filled in by hand is typed back, line by line.

Each line is kept as soon as it is typed, so a kill loses at most the line being typed; what can't be kept is said, and
stays on the screen (or in the file) to be typed again. Holds bar what they bar, as everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from ...engine.jobs.entering import Taken, Wrong
from ...engine.jobs.store.errors import JobError
from ...engine.jobs.store.job import Job
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.holds import HoldState
from ...engine.reasoning.log import CANT_TELL, NOT_THIS_AMP, Log
from ...engine.reasoning.session import Session
from ..papers.checklist import check_over, checklist
from ..papers.models import Checklist, Line
from ..screen.prompts import Ended, Prompt
from ..screen.screen import Screen, clean
from .given_on_the_line import Words, barred_by, kept, taken

_NUMBERED = re.compile(r"(\d{1,4})\s*(?:[.:=)]\s*|\s)\s*(\S.*)")
_SHEET = re.compile(r"(?:sheet\s+)?(\d+)-(\d+)-([0-9a-f]{4})", re.IGNORECASE)
SKIPS = (CANT_TELL, NOT_THIS_AMP, "skip")


class Numbered(NamedTuple):
    """A typed line: its number on the sheet and what was written there."""

    number: int
    value: str


@dataclass
class Kept:
    """What became of the lines. lost: each line that was not entered, with the reason; barred: a hold came first."""

    entries: int = 0
    lost: list[tuple[str, str]] = field(default_factory=list)
    barred: bool = False


def sheet_of(session: Session, log: Log, job: int, code: str = "") -> Checklist:
    """The sheet of a job: the one its code tells, else the one that would be printed now. Raises AnswerError."""
    if not code:
        return checklist(session.read(log), log, job)
    match = _SHEET.fullmatch(code.strip())
    if match is None:
        raise AnswerError(f"'{code}' is not a sheet code; it is at the top of the sheet, like {job}-{len(log)}-1a2b")
    if int(match[1]) != job:
        raise AnswerError(f"the sheet {code} belongs to job {match[1]}, not to job {job}")
    then = log[: int(match[2])]
    if then and len(then) == int(match[2]):
        now = session.read(then)
        for sheet in (checklist(now, then, job), check_over(now, then, job)):
            if sheet.head.sheet.endswith(match[3].lower()):
                return sheet
    raise AnswerError(
        f"the lines of sheet {code} can't be worked out any more: the knowledge base has changed since it was printed, "
        "or the code is misread. Print a new sheet, or enter the answers by their checks: chopstick take --help"
    )


def numbered(text: str) -> Numbered | None:
    """`12 4k7`, `7: ok`: a line by its number; None when it is no such line."""
    match = _NUMBERED.fullmatch(text.strip())
    return Numbered(int(match[1]), match[2].strip()) if match else None


def given(line: Line, value: str) -> Words:
    """What a line of the sheet says, as words of `take`. `ok` is the answer of a healthy amp; an exclamation mark
    after a reading says that the meter really shows it. Raises AnswerError for an `ok` that could mean two things."""
    believe = value.endswith("!")
    value = value.removesuffix("!").strip()
    if value.lower() == "ok":
        if line.kind == "reading":
            raise AnswerError("a reading is wanted here, with its number")
        if not line.ok:
            raise AnswerError(f"'ok' could mean more than one thing here: {', '.join(o.key for o in line.options)}")
        value = line.ok
    if line.kind == "hold":
        word = next((word for word in ("yes", "no") if value and word.startswith(value.lower())), value)
        return Words(holds=(f"{line.of}={word.replace(' ', ',')}",), prepared=line.prepared)
    if line.kind == "reading" and " ".join(value.lower().split()) not in SKIPS:
        return Words(values=(f"{line.of}.{line.reading}={value}",), believe=believe)
    return Words(values=(f"{line.of}={value}",), believe=believe)


def _asked(base: KnowledgeBase, hold: HoldState, prompt: Prompt) -> str:
    """What was said to a hold: yes, or the volts that a move asks for; '' when the way stays shut."""
    if hold.kind in ("danger", "untold") or hold.against:
        return ""
    move = base.moves.get(hold.hold)
    if move is None or move.volts is None:
        return "yes" if prompt.yes(hold.ask) else ""
    typed = prompt.ask(f"{move.volts.ask} One after another, as in 3 1.5:")
    return "" if typed.lower() in ("", "no", "n") else ",".join(typed.replace(",", " ").split())


class Typing:
    """Keeps typed lines in a job, one after another."""

    def __init__(self, session: Session, job: Job, sheet: Checklist) -> None:
        self.session, self.job, self.sheet = session, job, sheet
        self.by_number = {line.number: line for line in sheet.lines}
        self.kept = Kept()

    def tried(self, line: Line, value: str, extra: Sequence[str] = ()) -> Taken:
        """What a line would enter; nothing is kept. extra: holds answered yes beside it."""
        try:
            return taken(self.session, self.job.log, _with(given(line, value), extra))
        except AnswerError as error:
            return Taken(wrong=(Wrong(str(error)),))

    def keep(self, line: Line, value: str, extra: Sequence[str] = ()) -> Taken:
        """Enter a line. Raises JobError, with nothing kept of it."""
        try:
            got = kept(self.session, self.job, _with(given(line, value), extra))
        except AnswerError as error:
            return Taken(wrong=(Wrong(str(error)),))
        self.kept.entries += len(got.entries)
        return got

    def file(self, lines: Iterable[str]) -> None:
        """Lines from a file, in any order: they are entered in the order of the sheet, which is a safe one."""
        told = []
        for text in lines:
            text = clean(text).strip()
            if not text or text.startswith("#"):
                continue
            one = numbered(text)
            if one is None or one.number not in self.by_number:
                why = "it begins with no line number" if one is None else f"the sheet has no line {one.number}"
                self.kept.lost.append((text, why))
            else:
                told.append(one)
        waiting = sorted(told, key=lambda one: one.number)
        while waiting:
            try:
                got = self.keep(self.by_number[waiting[0].number], waiting[0].value)
            except JobError:
                self.kept.lost += [(f"{one.number} {one.value}", "not reached") for one in waiting]
                raise
            if not got.entries:
                self.kept.barred = self.kept.barred or bool(got.barred)
                text = f"{waiting[0].number} {waiting[0].value}"
                self.kept.lost.append((text, _why(got)))
            del waiting[0]

    def walk(self, screen: Screen, prompt: Prompt) -> None:
        """Ask line by line, in the order of the sheet; `7 ok` goes to line 7 at once."""
        screen.line("Enter skips a line, ok is what a healthy amp shows, stop ends; '7 ok' goes to line 7 at once.")
        lines = list(self.sheet.lines)
        place = 0
        while place < len(lines):
            line = lines[place]
            keys = [option.key for option in line.options]
            wanted = f" [{'/'.join(keys)}]" if keys else f" [{line.unit}]" if line.unit else ""
            try:
                hold = "HOLD: " if line.kind == "hold" else ""
                typed = prompt.ask(f"{line.number}. {hold}{line.ask}{wanted}", [*keys, "ok", "stop"])
                if typed.lower() == "stop":
                    return
                if typed:
                    chosen, value = self._meant(line, typed)
                    place = lines.index(chosen)
                    if not self._kept(screen, prompt, chosen, value):
                        continue
            except Ended:
                return
            place += 1

    def _meant(self, line: Line, typed: str) -> tuple[Line, str]:
        """The line that was meant: the one asked, unless what was typed is no value of it and begins with a number."""
        got = self.tried(line, typed)
        one = numbered(typed)
        if got.entries or got.barred or one is None or one.number not in self.by_number:
            return line, typed
        return self.by_number[one.number], one.value

    def _kept(self, screen: Screen, prompt: Prompt, line: Line, value: str) -> bool:
        """Whether the line was kept, or given up by the person; False asks it again."""
        got = self.tried(line, value)
        really = self.tried(line, f"{value}!")
        if got.wrong and (really.entries or really.barred):
            screen.line(_plain(got.wrong), indent=2)
            if not prompt.yes("Does the meter really say so?"):
                return False
            got, value = really, f"{value}!"
        holds: list[str] = []
        while got.barred:
            hold = got.barred
            if any(one.startswith(f"{hold.hold}=") for one in holds):
                break
            screen.line(f"Before this comes a hold: {hold.text}", indent=2)
            said = _asked(self.session.base, hold, prompt)
            answer = f"{hold.hold}={said}"
            if not said:
                self.kept.barred = True
                self.kept.lost.append((f"{line.number} {value}", f"the hold '{hold.hold}' is open"))
                return True
            holds.append(answer)
            got = self.tried(line, value, holds)
        if not got.entries:
            screen.line(_why(got), indent=2)
            return False
        self.keep(line, value, holds)
        return True


def _plain(wrong: Sequence[Wrong]) -> str:
    """What is wrong with a line, without the id of its check: the line has a number."""
    return "; ".join(one.text for one in wrong)


def _why(got: Taken) -> str:
    """Why a line was not entered, and what to type."""
    if got.barred:
        return barred_by(got.barred)
    doubted = any(one.doubted for one in got.wrong)
    return _plain(got.wrong) + (" If the meter really says so, put an exclamation mark after it." if doubted else "")


def _with(one: Words, extra: Sequence[str]) -> Words:
    return Words(one.values, (*one.holds, *extra), believe=one.believe)


def say_kept(screen: Screen, kept: Kept) -> None:
    """The lines that were not entered, so that none is lost."""
    if kept.lost:
        screen.heading("Not entered; type these again:")
        for text, why in kept.lost:
            screen.line(text, "bold", indent=2)
            screen.line(why, indent=4)
