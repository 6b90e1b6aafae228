"""Whether the next step may be offered, told from the log and the knowledge base alone, without asking the plan.

`unsafe` names what is wrong with a step: a hold that bars it and does not stand cleared, or a look or cold check that
bears on safety and is still due before work under power. `Watching` is a session that judges every step it ever offers.
"""

from __future__ import annotations

from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase, holds_true
from chopstick.engine.reasoning.log import NOT_THIS_AMP, Answer, HoldAnswered, Log, Reading, RepairDone, Undone
from chopstick.engine.reasoning.session import Session, Standing
from chopstick.engine.reasoning.steps import Step


def stage_of(base: KnowledgeBase, step: Step) -> model.Stage:
    """The stage of work that a step is done in. A repair is cold work."""
    return "cold" if step.kind == "repair" else base.checks[step.id].stage


def unsafe(standing: Standing, log: Log) -> list[str]:
    """Every reason for which the next step should not have been offered; none for a hold, or the end of the job."""
    step, base = standing.next, standing.base
    if step.kind not in ("check", "proof", "repair"):
        return []
    stage, cleared = stage_of(base, step), holds_cleared(base, log)
    missing = _holds_before(standing, stage) - cleared
    reasons = [f"{step.kind} {step.id} offered while {hold} is not cleared" for hold in sorted(missing)]
    if stage in model.POWERED:
        due = _due_before_power(standing) - set(standing.facts.done)
        reasons += [f"{step.kind} {step.id} offered before {check}" for check in sorted(due)]
    return reasons


def holds_cleared(base: KnowledgeBase, log: Log) -> set[str]:
    """The holds that stand cleared: a standing one lapses when the amp has been under power (for work that is cold), or
    worked on (for power)."""
    gone = {entry.number for entry in log if isinstance(entry, Undone)}
    cleared: set[str] = set()
    for number, entry in enumerate(log, start=1):
        if number in gone:
            continue
        if isinstance(entry, HoldAnswered):
            cleared = cleared | {entry.hold} if entry.cleared else cleared - {entry.hold}
            continue
        stage = ""
        if isinstance(entry, RepairDone) and entry.repair in base.repairs:
            stage = "cold"
        elif (
            isinstance(entry, Answer | Reading)
            and entry.check in base.checks
            and not (isinstance(entry, Answer) and entry.answer == NOT_THIS_AMP)
        ):
            stage = base.checks[entry.check].stage
        standing = {hold.id for hold in base.holds.values() if hold.standing}
        if stage in model.POWERED:
            cleared -= {id_ for id_ in standing if base.holds[id_].blocks == "cold"}
        elif stage == "cold":
            cleared -= {id_ for id_ in standing if base.holds[id_].blocks in model.POWERED}
    return cleared


def _holds_before(standing: Standing, stage: model.Stage) -> set[str]:
    """The holds that must stand cleared before work of a stage: those that the rules raised, and the standing ones of
    its kind of work, cold or under power."""
    base, reach = standing.base, model.STAGES.index(stage)
    barring = {hold.id for hold in base.holds.values() if model.STAGES.index(hold.blocks) <= reach}
    raised = set(standing.deduction.holds)
    of_its_kind = {
        hold.id for hold in base.holds.values() if hold.standing and (hold.blocks == "cold") == (stage == "cold")
    }
    return barring & (raised | of_its_kind)


def _due_before_power(standing: Standing) -> set[str]:
    base, amp, done = standing.base, standing.facts.amp, set(standing.facts.done)
    known = set(standing.facts.latest())
    return {
        one.id
        for one in base.checks.values()
        if one.safety
        and one.stage not in model.POWERED
        and not known.issuperset(one.findings())  # a look over the whole list has settled it
        and holds_true(one.needs, amp) is not False
        and not ({"kit-built"} & set(one.needs) - set(amp))  # a rare kind, and not known to be one
        and all(before in done or holds_true(base.checks[before].needs, amp) is False for before in one.after)
    }


class Watching(Session):
    """A session that keeps what was unsafe of the steps it offered, each at the moment it was offered."""

    def __init__(self, base: KnowledgeBase) -> None:
        super().__init__(base)
        self.offered = 0
        self.wrong: list[str] = []

    def read(self, log: Log) -> Standing:
        standing = super().read(log)
        self.offered += standing.next.kind in ("check", "proof", "repair")
        self.wrong += unsafe(standing, log)
        return standing
