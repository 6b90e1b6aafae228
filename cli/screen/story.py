"""A run told step by step, and what each entry of a log changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...engine.knowledge.base import KnowledgeBase
from ...engine.late import late
from ...engine.reasoning import wording
from ...engine.reasoning.log import Answer, HoldAnswered, LogEntry, Reading, RepairDone
from ...engine.reasoning.session import Session, Standing
from . import report, views, volts
from .screen import Screen

if TYPE_CHECKING:
    from ...engine.reasoning.script import Run

with late():
    from ...engine.reports import repairs

SKIPPED = ("can't tell", "not this amp")


def steps(screen: Screen, session: Session, run: Run) -> None:
    """Each step with its question, what came of it, worked figures, and how the ranking moved."""
    count = len(run.log) - sum(len(one.entries) for one in run.happened)
    before = session.read(run.log[:count])
    base = before.base
    opening(screen, before)
    skipped: list[str] = []
    stage = ""
    for number, one in enumerate(run.happened, start=1):
        count += len(one.entries)
        name, at = wording.step_name(base, one.step)
        if not one.entries:
            kind = "repair proposed" if one.step.kind == "repair" else one.step.kind
            screen.line(f"{number}. {kind}, {one.remark}: {name}", "bold")
            continue
        entry = one.entries[0]
        if isinstance(entry, Answer) and entry.answer in SKIPPED and not one.remark:
            skipped.append(name)
            continue
        _tell_skipped(screen, skipped)
        if at != stage and one.step.kind in ("check", "proof"):
            stage = at
            screen.heading(f"Stage of work: {views.STAGE[at]}")
        screen.line(f"{number}. {one.step.kind}: {name}", "bold")
        screen.line(one.remark or f"why: {one.step.why}", indent=2)
        screen.line(f"-> {_got(base, entry) or wording.said_of(base, one.entries)}", indent=2)
        after = session.read(run.log[:count])
        if isinstance(entry, RepairDone):
            screen.pairs(views.parts_and_proof(repairs.repair_of(after, entry.repair, entry.cause, "done")), indent=2)
        changes(screen, before, after, entry, count)
        before = after
    _tell_skipped(screen, skipped)


def opening(screen: Screen, first: Standing) -> None:
    screen.heading(f"Job: {first.facts.title}")
    if first.facts.amp:
        views.amp(screen, first)
    volts.circuit(screen, first)
    screen.line("The player says:")
    said = [f'"{one.says}" ({one.name})' for one in first.complaints]
    screen.bullets(said, indent=2)


def changes(screen: Screen, before: Standing, after: Standing, entry: LogEntry, number: int) -> None:
    """What an entry, of that number in the log, changed: figures, findings, advice, proofs, contradictions, ranking."""
    entry_changes(screen, after, entry, number)
    views.advice(screen, after, [text for text, _ in before.deduction.advice])
    views.rules(screen, before, after)
    views.proofs(screen, before, after)
    if isinstance(entry, Answer | Reading):  # nothing else can contradict what was said before
        known = {(one.one, one.other) for one in before.conflicts}
        report.conflicts(screen, [one for one in after.conflicts if (one.one, one.other) not in known])
    views.moves(screen, before, after)


def entry_changes(screen: Screen, after: Standing, entry: LogEntry, number: int) -> None:
    """What an entry by itself came to: figures and findings."""
    if isinstance(entry, Reading) and entry.check in after.base.checks:
        views.values(screen, after.facts, after.base.checks[entry.check])
    views.findings(screen, after, number)


def _got(base: KnowledgeBase, entry: LogEntry) -> str:
    if isinstance(entry, Answer) and entry.answer not in SKIPPED:
        text = base.checks[entry.check].answers[entry.answer].text
        return f"{entry.answer} ({text})" if text and text != entry.answer else entry.answer
    return "yes, cleared" if isinstance(entry, HoldAnswered) and entry.cleared else ""


def _tell_skipped(screen: Screen, skipped: list[str]) -> None:
    if skipped:
        screen.line(f"can't tell here: {'; '.join(skipped)}", "dim")
        skipped.clear()
