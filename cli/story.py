"""A finished run told step by step, and the ending that every job's report shares."""

from __future__ import annotations

from ..engine.knowledge.base import KnowledgeBase
from ..engine.reasoning.log import Answer, HoldAnswered, Log, LogEntry, Opened, Reading, RepairDone
from ..engine.reasoning.script import Run
from ..engine.reasoning.session import Session, Standing
from . import results, shapes, views
from .screen import Screen

SKIPPED = ("can't tell", "not this amp")


def steps(screen: Screen, session: Session, run: Run) -> None:
    """Each step with its question, what came of it, worked figures, and how the ranking moved."""
    base = session.base
    opened = run.log[0]
    screen.heading(f"Job: {opened.title if isinstance(opened, Opened) else ''}")
    first = session.read(run.log[: len(run.log) - sum(len(one.entries) for one in run.happened)])
    if first.facts.amp:
        views.amp(screen, first)
    screen.line("The player says:")
    screen.bullets([f"\"{one.words}\" ({base.text(one.said.finding)})" for one in first.complaints], indent=2)
    before, done, skipped, stage = first, len(first.facts.complaints), list[str](), ""
    count = len(run.log) - sum(len(one.entries) for one in run.happened)
    for done, one in enumerate(run.happened, start=1):
        count += len(one.entries)
        if not one.entries:
            screen.line(f"{done}. repair proposed, {one.remark}: {results.step_name(base, one.step)[0]}")
            continue
        entry = one.entries[0]
        if isinstance(entry, Answer) and entry.answer in SKIPPED and not one.remark:
            skipped.append(base.checks[entry.check].name)
            continue
        _tell_skipped(screen, skipped)
        name, at = results.step_name(base, one.step)
        if at != stage and one.step.kind in ("check", "proof"):
            stage = at
            screen.heading(f"Stage of work: {views.STAGE[at]}")
        screen.line(f"{done}. {one.step.kind}: {name}", "bold")
        screen.line(one.remark or f"why: {one.step.why}", indent=2)
        screen.line(f"-> {_got(base, entry) or results.said_of(base, one.entries)}", indent=2)
        after = session.read(run.log[:count])
        if isinstance(entry, RepairDone):
            _repaired(screen, results.repair_shape(after, entry.repair, entry.cause, "done"))
        if isinstance(entry, Reading):
            views.values(screen, after.facts, base.checks[entry.check])
        views.findings(screen, after, count)
        views.advice(screen, after, [text for text, _ in before.deduction.advice])
        views.proofs(screen, before, after)
        views.conflicts(screen, base, [c for c in after.conflicts if c not in before.conflicts])
        views.moves(screen, before, after)
        before = after
    _tell_skipped(screen, skipped)


def _repaired(screen: Screen, shape: shapes.RepairShape) -> None:
    parts = [("part", views.part(one)) for one in shape.parts]
    screen.pairs([*parts, ("keep", shape.keeps), ("proof", f"{shape.proof.name}. {shape.proof.wants}")], indent=2)


def _got(base: KnowledgeBase, entry: LogEntry) -> str:
    if isinstance(entry, Answer) and entry.answer not in SKIPPED:
        text = base.checks[entry.check].answers[entry.answer].text
        return f"{entry.answer} ({text})" if text and text != entry.answer else entry.answer
    return "yes, cleared" if isinstance(entry, HoldAnswered) and entry.cleared else ""


def _tell_skipped(screen: Screen, skipped: list[str]) -> None:
    if skipped:
        screen.line(f"can't tell here: {'; '.join(skipped)}", "dim")
        skipped.clear()


def ending(screen: Screen, now: Standing, log: Log, brief: bool = False) -> None:
    """How the job stands: complaints, repairs (brief: by name), ranking, holds, contradictions, minutes, caution."""
    from ..engine.reasoning.explain import minutes_spent

    shape = results.standing_shape(now, log)
    screen.heading("How each complaint ends")
    views.complaints(screen, now)
    if now.conflicts:
        screen.heading("What does not fit together")
        views.conflicts(screen, now.base, now.conflicts)
    proposed = [one for one in shape.repairs if one.state == "proposed"]
    done = [one for one in shape.repairs if one.state != "proposed"]
    if done:
        screen.heading("Repairs done")
        said = {"proven": "proven", "failed": "NOT proven: the fault is still there", "done": "proof still to come"}
        screen.bullets([f"{one.name}, for: {one.cause_name}: {said[one.state]}" for one in done], indent=2)
    if proposed:
        screen.heading("Repairs to do now, in this order")
        if brief:
            screen.numbered([f"{one.name}, for: {one.cause_name}" for one in proposed], indent=2)
        for one in proposed if not brief else []:
            views.repair(screen, one)
    screen.heading("The ranking")
    views.ranking(screen, now)
    open_ = [hold for hold in shape.holds if hold.answered is False or (hold.rule and hold.answered is None)]
    if open_:
        screen.heading("Open holds")
        views.holds(screen, open_)
    screen.line()
    spent = minutes_spent(now.base, log)
    screen.line(f"Bench minutes: {spent:.0f} spent, about {now.ahead.minutes:.0f} of repairs ahead.")
    screen.line()
    views.caution(screen)


