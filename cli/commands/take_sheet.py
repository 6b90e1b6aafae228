"""`take --sheet`: where the typed lines come from, and what is said when they are in."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from ...engine.folders import plain_bytes
from ...engine.jobs.store.errors import JobError
from ...engine.jobs.store.job import Job
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.session import Session
from ...engine.reports.standing import standing_of
from .. import exits
from ..desk import job_of, sheet_session
from ..screen.prompts import Ended, Prompt
from ..screen.screen import Screen, clean
from ..sitting import filled_sheet
from .show import changed

MOST_BYTES = 1_000_000  # a filled sheet has a few thousand
_CODE = re.compile(r"sheet\s+\S+", re.IGNORECASE)


def sheet_taken(number: int, lines: Path | None, as_json: bool, jobs: Path | None, kb: Path | None) -> int:
    """Type a sheet back: from a file, a pipe, or a person. Raises JobError, AnswerError, KnowledgeError."""
    job = job_of(jobs, number)
    session = sheet_session(kb, job)
    before = session.read(job.log)
    started = len(job.log)
    screen = Screen(sys.stderr) if as_json else Screen()
    typing = _from_lines(session, job, lines) if lines or not sys.stdin.isatty() else _from_person(session, job, screen)
    after = session.read(job.log)
    if as_json:
        Screen().json(standing_of(after, job.log, job.number))
    elif len(job.log) > started:
        changed(screen, before, after, job, len(job.log) - started)
    else:
        screen.line("Nothing was entered.")
    filled_sheet.say_kept(Screen(sys.stderr), typing.kept)
    if typing.kept.barred or after.next.kind == "held":
        return exits.HELD
    return exits.INPUT if typing.kept.lost else exits.DONE


def _from_lines(session: Session, job: Job, file: Path | None) -> filled_sheet.Typing:
    try:
        told = plain_bytes(file, MOST_BYTES) if file else sys.stdin.buffer.read(MOST_BYTES + 1)
    except OSError as error:
        raise AnswerError(f"{file} can't be read: {error.strerror}") from error
    if len(told) > MOST_BYTES:
        raise AnswerError(f"these are more than {MOST_BYTES:,} bytes, and no sheet is so long")
    text = told.decode("utf-8", errors="replace")
    lines = [clean(line) for line in text.splitlines()]
    code = next((line.split()[1] for line in lines if _CODE.fullmatch(line.strip())), "")
    if not code:  # without it the lines of an older sheet would be taken for those of today's
        raise AnswerError("the lines must say which sheet they are from, by the code at its top: sheet 12-7-1a2b")
    typing = filled_sheet.Typing(session, job, filled_sheet.sheet_of(session, job.log, job.number, code))
    try:
        typing.file(line for line in lines if not _CODE.fullmatch(line.strip()))
    except JobError:
        filled_sheet.say_kept(Screen(sys.stderr), typing.kept)
        raise
    return typing


def _from_person(session: Session, job: Job, screen: Screen) -> filled_sheet.Typing:
    prompt = Prompt(screen)
    current = filled_sheet.sheet_of(session, job.log, job.number)
    while True:
        try:
            code = prompt.ask(f"The sheet's code, from its top (Enter for {current.head.sheet}, as it would print now)")
            typing = filled_sheet.Typing(session, job, filled_sheet.sheet_of(session, job.log, job.number, code))
            break
        except AnswerError as error:
            screen.line(str(error))
        except Ended:
            return filled_sheet.Typing(session, job, current)
    typing.walk(screen, prompt)
    return typing
