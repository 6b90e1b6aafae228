"""A whole job told in short: move by move, and in each round a line a check, with what it found and proved."""

from __future__ import annotations

from ...engine.late import late
from ...engine.reasoning import wording
from ...engine.reasoning.log import Answer, HoldAnswered, Log, LogEntry, Reading, RepairDone
from ...engine.reasoning.minutes_spent import minutes_spent
from ...engine.reasoning.outcomes import MOVES_WORTH_NAMING
from ...engine.reasoning.script import Run
from ...engine.reasoning.session import Session, Standing
from . import report, views
from .screen import Screen
from .story import SKIPPED, opening

with late():
    from ...engine.reports import repairs

LIKELY = 0.5  # a cause that a check brings to this share is told


def rounds(screen: Screen, session: Session, run: Run) -> None:
    """Every step of a run, in its round."""
    count = len(run.log) - sum(len(one.entries) for one in run.happened)
    before = session.read(run.log[:count])
    opening(screen, before)
    moves = 0
    for one in run.happened:
        count += len(one.entries)
        after = session.read(run.log[:count])
        for entry in one.entries:
            if isinstance(entry, HoldAnswered):
                moves += one.step.kind == "move"
                _move(screen, after, entry, moves if one.step.kind == "move" else 0)
            elif isinstance(entry, RepairDone):
                _repair(screen, after, entry)
            elif isinstance(entry, Answer | Reading):
                _check(screen, before, after, entry, count, proof=one.step.kind == "proof")
        if not one.entries:
            screen.line(f"{wording.step_name(after.base, one.step)[0]}: {one.remark}", indent=2)
        before = after


def _move(screen: Screen, now: Standing, entry: HoldAnswered, number: int) -> None:
    said = wording.said_of(now.base, [entry])
    if number:
        screen.heading(f"MOVE {number}: {now.base.moves[entry.hold].name} -> {said}")
    else:
        screen.line(f"HOLD: {wording.hold_asks(now.base, entry.hold)[0]} -> {said}", "bold", indent=2)


def _repair(screen: Screen, now: Standing, entry: RepairDone) -> None:
    told = repairs.repair_of(now, entry.repair, entry.cause, "done")
    screen.line(f"REPAIR: {told.name}, for: {told.cause_name}", "bold", indent=2)
    for part in told.parts:
        screen.line(f"part: {part.counted(part.specification)}", indent=4)


def _check(screen: Screen, before: Standing, after: Standing, entry: LogEntry, number: int, proof: bool) -> None:
    assert isinstance(entry, Answer | Reading)
    check = after.base.checks[entry.check]
    said = wording.said_of(after.base, [entry])
    if isinstance(entry, Answer) and entry.answer not in SKIPPED:
        said = check.answers[entry.answer].text or said
    screen.line(f"{'PROOF: ' if proof else ''}{check.name} -> {said}", indent=2)
    for name in check.figures:
        value = after.facts.values.get(f"{check.id}/{name}")
        if isinstance(entry, Reading) and value is not None and value.figure is not None:
            meaning = next((band for band in _words(after, check.id, name)), value.figure.verdict or "")
            screen.line(f"{value.figure}{f': {meaning}' if meaning else ''}", indent=4)
    for told in after.facts.said:
        if told.entry == number and told.present and after.base.causes_showing.get(told.finding):
            screen.line(f"found: {after.base.text(told.finding)}", indent=4)
    views.proofs(screen, before, after)
    if not proof:
        _shift(screen, before, after)


def _shift(screen: Screen, before: Standing, after: Standing) -> None:
    """The cause that a check made likely, if it did."""
    was = before.ranking.probability
    risen = [(p - was.get(id_, 0.0), id_, p) for id_, p in after.ranking.probability.items() if p >= LIKELY]
    gained, cause, p = max(risen, default=(0.0, "", 0.0))
    if gained >= MOVES_WORTH_NAMING:
        name = after.base.causes[cause].name
        screen.line(f"{name}: {wording.percent(was.get(cause, 0.0))} -> {wording.percent(p)}", indent=4)


def _words(now: Standing, check: str, quantity: str) -> list[str]:
    """The words of the band that a figure lies in; none when it settled nothing."""
    told = [said.meaning for said in now.facts.said if (said.by, said.quantity) == (check, quantity)]
    return [meaning for meaning in told if meaning][-1:]


def ending(screen: Screen, now: Standing, log: Log) -> None:
    """How each complaint ends, and what it took."""
    screen.heading("How each complaint ends")
    report.complaints(screen, now)
    screen.line()
    screen.line(f"Bench minutes: {minutes_spent(now, log):.0f} spent.")
    screen.line()
    views.caution(screen)
