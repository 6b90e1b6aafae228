"""What comes next: holds, proofs, checks and repairs, in an order that is safe."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from ..knowledge import model
from ..knowledge.base import KnowledgeBase, holds_true
from ..late import late
from .bands import Doubt
from .deduce import Deduction
from .facts import Facts, Repaired
from .families import unparted
from .plan import Outlook, Worth, repair_order, worths, worthwhile
from .ranking import Ranking

if TYPE_CHECKING:
    from .voltages import Voltages

with late():
    from . import point_worth

ACCOUNTS = 0.5  # how often a mended cause must show a complaint to account for it without its being tried again
USUAL = 0.1  # a safety check is due unless fewer amps than this share would need it
ALSO_LIKELY = 0.3  # another cause this probable keeps the complaint open
Kind = Literal["hold", "check", "proof", "repair", "held", "done"]


@dataclass(frozen=True)
class Step:
    """The next thing to do. id: of the hold, check or repair; cause: what a repair or proof is for; why: a sentence.
    worth: of a check chosen for what it tells."""

    kind: Kind
    id: str = ""
    cause: str = ""
    why: str = ""
    worth: Worth | None = None


@dataclass(frozen=True)
class HoldState:
    """A hold that concerns this job, by its id. answered: true clears it, false leaves it open, None: not asked yet.
    rule: what raised it, '' for one that stands on every job. blocks: the stage of work from which on nothing is
    offered."""

    hold: str
    text: str
    ask: str
    blocks: model.Stage
    answered: bool | None
    rule: str = ""
    because: str = ""

    @classmethod
    def of(cls, hold: model.Hold, answered: bool | None, rule: str = "", because: str = "") -> HoldState:
        return cls(hold.id, hold.text, hold.ask, hold.blocks, answered, rule, because)

    @property
    def open(self) -> bool:
        """Whether it was answered no, or was raised on this job and is not cleared."""
        return self.answered is False or (bool(self.rule) and self.answered is None)


def holds_of(base: KnowledgeBase, facts: Facts, deduction: Deduction) -> tuple[HoldState, ...]:
    """Every hold of the job: raised ones first, then the standing ones, each by the stage of work that it bars."""
    raised = [
        HoldState.of(base.holds[id_], facts.holds.get(id_), rule, base.rules[rule].because)
        for id_, rule in deduction.holds.items()
    ]
    standing = [HoldState.of(hold, facts.holds.get(hold.id)) for hold in base.holds.values() if hold.standing]

    def by_stage(hold: HoldState) -> tuple[int, str]:
        return reach(hold.blocks), hold.hold

    return (*sorted(raised, key=by_stage), *sorted(standing, key=by_stage))


def reach(stage: model.Stage) -> int:
    """How far along the stages of work a stage is."""
    return model.STAGES.index(stage)


@dataclass(frozen=True)
class Plan:
    """Chooses the next step. Everything it needs is given."""

    base: KnowledgeBase
    facts: Facts
    deduction: Deduction
    ahead: Outlook
    holds: tuple[HoldState, ...]
    voltages: Voltages | None = None

    def open_holds(self) -> tuple[HoldState, ...]:
        return tuple(hold for hold in self.holds if hold.answered is not True)

    def blocked_by(self, stage: model.Stage) -> HoldState | None:
        """The first open hold that stands before a stage of work. A standing hold of cold work (discharged?) has no
        say in work under power, where the capacitors are charged again."""
        for hold in self.open_holds():
            only_cold = not hold.rule and hold.blocks not in model.POWERED and stage in model.POWERED
            if reach(hold.blocks) <= reach(stage) and not only_cold:
                return hold
        return None

    def applicable(self, check: model.Check) -> bool:
        return holds_true(check.needs, self.facts.amp) is not False

    def open_checks(self) -> list[model.Check]:
        """Checks that can still be asked on this amp, whatever their stage: not done, their forerunners done, and
        not left out by a rule. Each with the minutes that the rules give it."""
        return list(self._open_checks)

    @cached_property
    def _open_checks(self) -> list[model.Check]:
        done = self.facts.done
        open_ = [
            check
            for check in self.base.written.values()
            if check.id not in done
            and self.applicable(check)
            and not self.skipped(check)
            and all(one in done or not self._to_be_done(self.base.checks[one]) for one in check.after)
        ]
        if not self.deduction.changes:
            return open_
        return [check.model_copy(update={"minutes": self.deduction.check_minutes(check)}) for check in open_]

    def skipped(self, check: model.Check) -> bool:
        """Whether a rule leaves a check out. One that bears on safety never is, whatever a rule says."""
        return check.id in self.deduction.skip and not check.safety

    def _to_be_done(self, check: model.Check) -> bool:
        return self.applicable(check) and not self.skipped(check)

    def safety_checks(self) -> list[model.Check]:
        """Look and cold checks that bear on safety and are still to do: by stage of work, the quick ones first. One
        that only an unusual kind of amp needs is due when the amp is known to be of that kind; one is not due when all
        it settles is known already."""
        known = frozenset(self.facts.latest())
        due = [
            check
            for check in self.open_checks()
            if check.safety
            and check.stage not in model.POWERED
            and not known.issuperset(check.findings())
            and self.base.share(check.needs, self.facts.amp) >= USUAL
        ]
        return sorted(due, key=lambda check: (reach(check.stage), check.minutes, check.id))

    def moves(self) -> dict[str, float]:
        """Minutes to move the work to each stage from where it is."""
        change = self.base.scale.change_of_stage_minutes
        return {stage: 0.0 if stage == self.facts.stage else change.get(stage, 0.0) for stage in model.STAGES}

    def worths(self) -> list[Worth]:
        """Every open check that could tell something, with its worth, best first."""
        checks, moves = self.open_checks(), self.moves()
        found = worths(self.ahead, checks, self.facts.latest(), moves)
        if self.voltages is None:
            return found

        both = [*found, *point_worth.point_worths(self.ahead, self.voltages, checks, moves)]
        best = {worth.check: worth for worth in sorted(both, key=lambda worth: worth.saves)}  # the last one stands
        return sorted(best.values(), key=lambda worth: (-worth.rate, worth.check))

    def next(self, found: Callable[[], list[Worth]]) -> Step:
        """The next step. found: the worths of the open checks, asked for only when no other step comes first."""
        raised = next((hold for hold in self.holds if hold.rule and hold.answered is None), None)
        if raised:
            return Step("hold", raised.hold, why=raised.because)
        for step in self._wanted(found):
            allowed = self._allowed(step)
            if allowed is not None:
                return allowed
        still = [hold for hold in self.holds if hold.answered is False]
        if still:
            return Step("held", still[0].hold, why="this must be put right before the work can go on")
        return Step("done", why="nothing further is worth doing")

    def _wanted(self, found: Callable[[], list[Worth]]) -> Iterator[Step]:
        """What one would do next, best first, holds aside."""
        yield from self._which_kind()
        yield from self.proofs()
        yield from self._asked_again()
        for check in self.safety_checks():
            if check.stage == "look":
                yield Step("check", check.id, why="bears on safety; it comes before anything under power")
        yield from self._checks(worthwhile(found()))
        yield from self.repairs()
        yield from self.repairs_with_help()

    def _which_kind(self) -> Iterator[Step]:
        """The questions that part complaints made in general words; they cost a minute and no screw."""
        for check in unparted(self.base, self.facts.complaints):
            if check not in self.facts.done:
                yield Step("check", check, why="tells which kind of complaint it is, before anything is unscrewed")

    def proofs(self) -> Iterator[Step]:
        """Proofs still to be tried. One that was tried and could not be told waits for what `unproven` names."""
        for repaired in self.facts.repairs:
            if repaired.proven is None and not self._tried(repaired):
                name = self.base.causes[repaired.cause].name
                yield Step("proof", self._proof(repaired).check, repaired.cause, f"proves the repair of: {name}")

    def unproven(self, cause: str) -> Doubt | None:
        """Why the proof of a cause's repair was tried and could not be told; None when it was not tried, or told, or
        the technician could not tell."""
        for repaired in self.facts.repairs:
            if repaired.cause == cause and repaired.proven is None and self._tried(repaired):
                proof = self._proof(repaired)
                wanted = proof.gone or proof.found
                for doubt in self.facts.doubts:
                    if doubt.check == proof.check and wanted in doubt.findings:
                        return doubt
        return None

    def _checks(self, found: list[Worth]) -> Iterator[Step]:
        """Checks worth doing, best first; what a rule puts first goes to the front of its stage of work, so it waits
        only for checks of an earlier stage."""
        first = [check for check in self.open_checks() if check.id in self.deduction.check_first]
        first.sort(key=lambda check: (reach(check.stage), check.id))
        for worth in found:
            while first and reach(first[0].stage) <= reach(self.base.checks[worth.check].stage):
                yield self._put_first(first.pop(0))
            yield Step("check", worth.check, why=self._saving(worth), worth=worth)
        yield from map(self._put_first, first)

    def _put_first(self, check: model.Check) -> Step:
        return Step("check", check.id, why=self.base.rules[self.deduction.check_first[check.id]].because)

    def _saving(self, worth: Worth) -> str:
        return f"expected to save {worth.saves:.0f} bench minutes for {worth.minutes:.0f} spent"

    def _proof(self, repaired: Repaired) -> model.Proof:
        """What proves a repair."""
        return self.base.repairs[repaired.repair].proof_for(self.base.causes.get(repaired.cause))

    def _asked_again(self) -> Iterator[Step]:
        """Complaints to ask about again: a repair that should have cured them is done, the check that proves it says
        nothing of them, and no other repair that should cure them is due."""
        due = {symptom for step in self.repairs() for symptom in self._cured(step.cause)}
        latest = self.facts.latest()
        for repaired in self.facts.repairs:
            settled = self.base.checks[self._proof(repaired).check].findings()
            for symptom in self._cured(repaired.cause):
                again = self.base.again.get(symptom)
                if (
                    again is not None
                    and symptom not in due
                    and symptom not in settled
                    and latest[symptom].present
                    and latest[symptom].entry < repaired.entry
                    and self.facts.done_at.get(again.id, 0) < repaired.entry
                ):
                    why = f"tells whether the complaint went with: {self.base.causes[repaired.cause].name}"
                    yield Step("proof", again.id, repaired.cause, why)

    def _cured(self, cause: str) -> tuple[str, ...]:
        """The complaints of this job that should go when a cause is mended."""
        shows = self.base.causes[cause].shows if cause in self.base.causes else {}
        said = dict.fromkeys(symptom for symptom, _, _ in self.facts.complaints)
        return tuple(one for one in said if one in shows and self.base.how_often(shows[one]) >= ACCOUNTS)

    def _tried(self, repaired: Repaired) -> bool:
        """Whether the check that proves a repair was done, or left out, since."""
        return self.facts.done_at.get(self._proof(repaired).check, 0) > repaired.entry

    def repairs(self) -> Iterator[Step]:
        """Repairs to do now: of causes that are sure enough, in the order of probability over cost."""
        yield from self._repairs(self.base.scale.sure, None, "further checks would cost more than they save")

    def repairs_with_help(self) -> Iterator[Step]:
        """Repairs of causes that are sure enough for others, but not at this level of experience. They come when no
        check is worth doing any more: nothing here will make them surer."""
        scale = self.base.scale
        yield from self._repairs(
            scale.least_sure, scale.sure, "no check here makes it surer; have somebody senior look at it first"
        )

    def _repairs(self, least: float, below: float | None, why: str) -> Iterator[Step]:
        base, ranking = self.base, self.ahead.ranking
        repaired = {one.cause for one in self.facts.repairs}
        likely = {
            id_: p
            for id_, p in ranking.probability.items()
            if p >= least and (below is None or p < below) and id_ not in repaired
        }
        minutes = dict(zip(ranking.causes.ids, self.ahead.costs.repair.tolist(), strict=True))
        for id_ in repair_order(likely, minutes):
            said = f"{base.causes[id_].name}: {likely[id_]:.0%}; {why}"
            yield Step("repair", self.deduction.repairs(base.causes[id_])[0], id_, said)

    def _allowed(self, step: Step) -> Step | None:
        """The step itself; or what must come before it for safety; None when a hold that was answered no bars it."""
        stage: model.Stage = "cold" if step.kind == "repair" else self.base.checks[step.id].stage
        if stage in model.POWERED:
            due = self.safety_checks()
            if due:
                why = "bears on safety; nothing under power is offered before it is done"
                return self._allowed(Step("check", due[0].id, why=why))
        hold = self.blocked_by(stage)
        if hold is None:
            return step
        if hold.answered is None:
            before = self.base.checks[step.id].name if step.kind != "repair" else self.base.repairs[step.id].name
            return Step("hold", hold.hold, why=f"stands before: {before}")
        return None


def explained(base: KnowledgeBase, facts: Facts, ranking: Ranking) -> Mapping[str, str]:
    """Findings and symptoms that are dealt with, each with the cause that was behind it: gone after a repair (of a
    cause that shows it, if one was repaired); or shown by a cause that is sure, whose repair is proven, and not met
    again since."""
    dealt: dict[str, str] = {}
    latest = facts.latest()
    present = {said.finding: said for said in facts.said if said.present}
    for finding, said in present.items():
        last = latest[finding]
        since = [one for one in facts.repairs if said.entry < one.entry < last.entry]
        showing = [one for one in since if finding in base.causes[one.cause].shows]
        if not last.present and since:
            dealt[finding] = (showing or since)[-1].cause
        elif last.present:
            sure = [
                one.cause
                for one in facts.repairs
                if one.proven
                and last.entry < one.entry
                and ranking.probability.get(one.cause, 0.0) >= base.scale.least_sure
                and base.how_often(base.causes[one.cause].shows.get(finding, "never")) >= ACCOUNTS
            ]
            if sure and not _also_likely(base, facts, ranking, finding):
                dealt[finding] = sure[-1]
    return dealt


def _also_likely(base: KnowledgeBase, facts: Facts, ranking: Ranking, finding: str) -> bool:
    """Whether a cause that is not mended yet may well be behind a finding too."""
    repaired = {one.cause for one in facts.repairs}
    return any(
        ranking.probability.get(id_, 0.0) >= ALSO_LIKELY
        for id_ in base.causes_showing.get(finding, ())
        if id_ not in repaired
    )
