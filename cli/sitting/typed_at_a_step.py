"""What is typed at a check, turned into log entries; or said back, to be typed again."""

from __future__ import annotations

from ...engine.knowledge import model
from ...engine.late import late
from ...engine.reasoning import answers
from ...engine.reasoning.log import CANT_TELL, NOT_THIS_AMP, LogEntry
from ...engine.reasoning.session import Standing
from ...engine.reasoning.steps import Step
from .. import desk
from ..screen import views
from ..screen.page import Page
from . import several_readings, step_page
from .at_the_bench import AtTheBench

with late():
    from . import given_on_the_line


def skipped(check: model.Check, said: str) -> LogEntry:
    """The entry for a check that was left out: CANT_TELL or NOT_THIS_AMP."""
    return answers.entry(check, said, desk.now())


def entries(sitting: AtTheBench, now: Standing, step: Step, page: Page) -> tuple[LogEntry, ...]:
    """The entries of a check, asked until they can be taken. Several checks may come on one line."""
    check = now.base.checks[step.id]
    return _answer(sitting, now, step, page, check) if check.answers else _readings(sitting, now, step, page, check)


def _several_checks(sitting: AtTheBench, typed: str) -> tuple[LogEntry, ...]:
    """The entries of a line CHECK=VALUE CHECK=VALUE; () when it is no such line. Raises AnswerError."""
    words = several_readings.assigned(typed)
    if not words:
        return ()
    got = given_on_the_line.taken(sitting.session, sitting.job.log, given_on_the_line.Words(values=words))
    if got.barred:
        raise answers.AnswerError(f"Not entered: {given_on_the_line.stands_before(got.barred)}")
    if got.wrong:
        raise answers.AnswerError(" ".join(f"{one.about}: {one.text}" if one.about else one.text for one in got.wrong))
    return got.entries


def _answer(sitting: AtTheBench, now: Standing, step: Step, page: Page, check: model.Check) -> tuple[LogEntry, ...]:
    words = tuple(check.answers)
    page = page.asking(f"{check.ask} [{', '.join(words)}]", words)
    while True:
        typed = sitting.ask(now, step, page)
        try:
            return _several_checks(sitting, typed) or (answers.entry(check, typed, desk.now()),)
        except answers.AnswerError as error:
            sitting.face.say(str(error))


def _readings(sitting: AtTheBench, now: Standing, step: Step, page: Page, check: model.Check) -> tuple[LogEntry, ...]:
    """Its readings one by one, or several on a line; a reading skipped is left out, and with none taken the check
    is skipped."""
    values: dict[str, str] = {}
    believed = False
    waiting = list(check.readings)
    doubted: dict[str, str] = {}  # readings that were questioned: yes confirms them, anything else is read afresh
    while waiting:
        name = waiting[0]
        question = step_page.reading_question(check, name, views.reading_prompt(check.readings[name]))
        typed = sitting.ask(now, step, page.asking(question, ("yes",) if doubted else ()))
        if typed == NOT_THIS_AMP:
            return (skipped(check, NOT_THIS_AMP),)
        if typed == CANT_TELL:
            waiting.pop(0)
            doubted.clear()
            continue
        if doubted and typed.lower() in ("y", "yes"):
            values |= doubted
            believed = True
        else:
            try:
                if found := _several_checks(sitting, typed):
                    return found
                given = several_readings.readings(check, typed) or {name: typed}
            except answers.AnswerError as error:
                sitting.face.say(str(error))
                continue
            doubted = {}
            if not _taken(sitting, check, given, values, doubted):
                continue
        waiting = [one for one in waiting if one not in values]
        doubted = {}
    if not values:
        return (skipped(check, CANT_TELL),)
    return (answers.entry(check, dict(values), desk.now(), believed),)


def _taken(
    sitting: AtTheBench, check: model.Check, given: dict[str, str], values: dict[str, str], doubted: dict[str, str]
) -> bool:
    """Sort what was given into values and doubted ones; False when something has to be typed again."""
    for name, value in given.items():
        try:
            answers.entry(check, {name: value}, desk.now())
            values[name] = value
        except answers.Implausible as error:
            doubted[name] = value
            sitting.face.say(f"{error} Type it again; or yes, if the meter really says so.")
        except answers.AnswerError as error:
            sitting.face.say(str(error))
            return False
    return not doubted
