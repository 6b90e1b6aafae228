"""What comes next: holds, proofs, checks and repairs, in an order that is safe."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from ..knowledge import model
from ..knowledge.base import KnowledgeBase, holds_true
from ..late import late
from .bands import Doubt
from .deduce import Deduction
from .facts import Facts, Repaired
from .families import unparted
from .holds import ACCOUNTS, ALSO_LIKELY, HoldState, reach
from .plan import Outlook, Worth, repair_order, worths, worthwhile
from .ranking import Ranking
from .set_up import hands_inside, prepared_first

if TYPE_CHECKING:
    from .voltages import Voltages

with late():
    from . import point_worth

CERTAIN = 0.97  # a cause this probable is repaired before anything else is hunted
MOST_CLIPS = 3  # checks for which leads are clipped on before one power-up
USUAL = 0.1  # a safety check is due unless fewer amps than this share would need it
Kind = Literal["hold", "move", "check", "proof", "repair", "held", "done"]


@dataclass(frozen=True)
class Step:
    """The next thing to do. id: of the hold, move, check or repair; cause: what a repair or proof is for; why: a
    sentence. worth: of a check chosen for what it tells. prepared: the checks and repairs for which hands go in before
    a move to power."""

    kind: Kind
    id: str = ""
    cause: str = ""
    why: str = ""
    worth: Worth | None = None
    prepared: tuple[str, ...] = ()


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

    def blocked_by(self, work: model.Work) -> HoldState | None:
        """The first thing that stands before a check or repair: an open hold, a danger, or the move that brings the amp
        into its set-up."""
        barred = (hold for hold in self.open_holds() if hold.kind != "standing" and hold.bars(work))
        return next(barred, None) or self.move_before(work)

    def move_before(self, work: model.Work) -> HoldState | None:
        """The next move, or plain standing hold, between how the amp stands and how it must stand for this work. Hands
        that go in before power need the amp bled first, and the move to power names what they did."""
        if work.hands == "none":
            return None
        standing = [hold for hold in self.holds if hold.kind == "standing"]
        unpowered = [hold for hold in standing if hold.blocks not in model.POWERED]
        bled = next((hold for hold in unpowered if hold.blocks == "cold" and hold.answered is not True), None)
        if work.stage not in model.POWERED:
            if work.stage == "cold" or hands_inside(work):
                return bled
            unplugged = next((hold for hold in unpowered if hold.blocks == "look" and hold.answered is not True), None)
            return unplugged if self.facts.set_up.stage != "cold" else None
        if prepared_first(work) and work.id not in self.facts.set_up.prepared and self.base.moves and bled:
            return bled
        if prepared_first(work) and work.id not in self.facts.set_up.prepared and not self.facts.set_up.live:
            return next((hold for hold in standing if self._leads_to(hold, work.stage)), None)
        wanted = (hold for hold in standing if self._leads_to(hold, work.stage) and hold.answered is not True)
        return next(wanted, None)

    def _leads_to(self, hold: HoldState, stage: model.Stage) -> bool:
        """Whether a standing hold is asked before power of a stage. Of the moves only the one that leads there is; of
        plain holds all that stand on the way."""
        if hold.blocks not in model.POWERED:
            return False
        if hold.hold in self.base.moves:
            return (hold.blocks == "first power") == (stage == "first power")
        return reach(hold.blocks) <= reach(stage)

    def way_up(self) -> list[model.Check]:
        """The checks by which power is brought up in steps, as far as they are still to be done before full mains."""
        due: list[model.Check] = []
        for move in self.base.moves.values():
            anew = [
                one.entry
                for one in self.facts.repairs
                if one.cause in self.base.causes and self.base.area_of(one.cause) in move.anew_after
            ]
            since = max(anew, default=0)
            due += [
                self.base.checks[id_]
                for id_ in move.through
                if id_ in self.base.checks
                and self.applicable(self.base.checks[id_])
                and (id_ not in self.facts.done or self.facts.done_at.get(id_, 0) < since)
            ]
        return due

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

    def moves(self) -> Mapping[str, float]:
        """For each open check, the minutes to bring the amp into its set-up from how it stands."""
        return {check.id: self.move_minutes(check) for check in self.open_checks()}

    def move_minutes(self, work: model.Work) -> float:
        """Minutes to bring the amp into the set-up of a check or repair from how it stands."""
        change, here = self.base.scale.change_of_stage_minutes, self.facts.stage
        anew = bool(self.base.moves) and prepared_first(work) and work.id not in self.facts.set_up.prepared
        first = change.get("cold", 0.0) if anew and here != "cold" else 0.0
        if not anew and (work.stage == here or (self.base.moves and self.move_before(work) is None)):
            return 0.0
        return first + change.get(work.stage, 0.0)

    def worths(self) -> list[Worth]:
        """Every open check that could tell something, with its worth, best first."""
        checks, moves = self.open_checks(), self.moves()
        found = worths(self.ahead, checks, self.facts.latest(), moves)
        if self.voltages is None:
            return found

        both = [*found, *point_worth.point_worths(self.ahead, self.voltages, checks, moves)]
        best = {worth.check: worth for worth in sorted(both, key=lambda worth: worth.saves)}  # the last one stands
        return sorted(best.values(), key=lambda worth: (-worth.rate, worth.check))

    def next(self, found: Callable[[], list[Worth]], later: Collection[str] = ()) -> Step:
        """The next step. found: the worths of the open checks, asked for only when no other step comes first; later:
        causes whose repair was put off."""
        raised = next((hold for hold in self.holds if hold.kind == "raised" and hold.to_be_asked), None)
        if raised:
            return Step("hold", raised.hold, why=raised.because)
        for step in self.in_rounds(found):
            if step.kind == "repair" and step.cause in later:
                continue
            allowed = self.allowed(step)
            if allowed is not None:
                return allowed if allowed.kind != "move" else self._with_prepared(allowed, step, found)
        still = [hold for hold in self.holds if hold.open]
        if still:
            return Step(
                "held", still[0].hold, why=still[0].against or "this must be taken care of before the work can go on"
            )
        return Step("done", why="nothing further is worth doing")

    def in_rounds(self, found: Callable[[], list[Worth]]) -> Iterator[Step]:
        """What one would do next, best first, holds aside: all that is worth doing as the amp stands, then what it must
        be moved for. Repairs come before further checks, so that all that are sure are done in one cold round, and what
        proves them comes together once the amp is under power again."""
        yield from self._which_kind()
        proofs = [*self.proofs(), *self._asked_again()]
        looks = [
            Step("check", check.id, why="bears on safety; it comes before anything under power")
            for check in self.safety_checks()
            if check.stage == "look"
        ]
        sure = list(self.repairs())
        if not self.base.moves:
            yield from (*proofs, *looks)
            yield from self._checks(worthwhile(found()))
            yield from sure
        else:
            yield from self._taken_again()
            yield from filter(self.here, (*proofs, *looks))
            cold = [
                Step("check", check.id, why="bears on safety; it comes before anything under power")
                for check in self.safety_checks()
            ]
            certain = [step for step in sure if self._certain(step)]
            yield from filter(self.here, (*cold, *certain))
            yield from looks
            checks = list(self._checks(worthwhile(found())))
            yield from filter(self.here, (*checks, *sure))
            yield from sure
            first = [step for step in checks if step.worth is None]  # by a rule: at its stage before proofs
            due = (*first, *proofs, *self._read_again())
            yield from sorted(due, key=lambda step: reach(self.work(step).stage))
            yield from checks
        yield from self.repairs_with_help()
        yield from sorted(self._last(), key=lambda step: not self.here(step))

    def _taken_again(self) -> Iterator[Step]:
        """Checks whose finding forbids power and does not fit with another: taken again, once, before anything rests on
        them."""
        latest, findings = self.facts.latest(), self.base.findings
        for hold in self.holds:
            said = latest.get(hold.hold.removeprefix("danger/")) if hold.kind == "danger" else None
            if said is None or said.by not in self.base.checks or said.finding not in findings:
                continue
            other = next(
                (
                    one
                    for one, its in latest.items()
                    if its.present
                    and one in findings
                    and (said.finding in findings[one].against or one in findings[said.finding].against)
                ),
                None,
            )
            if other and sum(one.finding == said.finding and one.by == said.by for one in self.facts.said) < 2:
                yield Step("check", said.by, why=f"does not fit with: {findings[other].text} Take it again")

    def _read_again(self) -> Iterator[Step]:
        """Readings that keep a hold open and were taken before a repair: a yes counts when they are taken again."""
        latest, repaired = self.facts.latest(), max((one.entry for one in self.facts.repairs), default=0)
        for hold in self.holds:
            leaves = self.base.rules[hold.rule].when.leaves() if hold.against else ()
            for said in (latest.get(leaf.finding or "") for leaf in leaves):
                if said and said.present and said.entry < repaired and said.by in self.base.checks:
                    yield Step("check", said.by, why=f"keeps a hold open, and was read before the repair: {said.how}")

    def _certain(self, step: Step) -> bool:
        """Whether no check could make the cause of a repair surer."""
        return self.ahead.ranking.probability.get(step.cause, 0.0) >= CERTAIN

    def here(self, step: Step) -> bool:
        """Whether a step can be taken as the amp stands."""
        work = self.work(step)
        return self.move_before(work) is None and not (work.stage in ("live", "play") and self.way_up())

    def name(self, step: Step) -> str:
        """The name of the check or repair of a step."""
        return self.base.repairs[step.id].name if step.kind == "repair" else self.base.checks[step.id].name

    def work(self, step: Step) -> model.Work:
        """The check or repair of a step."""
        return self.base.repairs[step.id] if step.kind == "repair" else self.base.checks[step.id]

    def _with_prepared(self, move: Step, wanted: Step, found: Callable[[], list[Worth]]) -> Step:
        """A move to power with all that hands do in the chassis before it: for the step that is wanted, and for what is
        worth reading in the same round. What changes the amp is done by itself, so that nothing else is read of it."""
        if self.base.holds[move.id].blocks not in model.POWERED or self.facts.set_up.stage != "cold":
            return replace(move, prepared=())
        checks = list(self._checks(worthwhile(found())))
        steps = [wanted, *(step for step in checks if step.worth is None and self._in_one_round(wanted, step))]
        steps += [*(Step("check", check.id) for check in self.way_up()), *self.proofs(), *checks]
        steps += self._last()
        works = {step.id: self.work(step) for step in steps}
        if any(works[id_].hands != "clip-on" for id_ in move.prepared if id_ in works):
            return move
        clips = [id_ for id_, work in works.items() if prepared_first(work) and work.hands == "clip-on"]
        chosen = dict.fromkeys((*move.prepared, *(id_ for id_ in clips if not self._barred(works[id_]))))
        return replace(move, prepared=tuple(chosen)[:MOST_CLIPS])

    def _in_one_round(self, one: Step, other: Step) -> bool:
        return self.work(one).stage == self.work(other).stage

    def _barred(self, work: model.Work) -> bool:
        return any(hold.kind != "standing" and hold.bars(work) for hold in self.open_holds())

    def _last(self) -> Iterator[Step]:
        """What the finished amp must pass before it goes back."""
        due = self.last_checks()
        waiting = {check.id for check in due}
        for check in due:
            if waiting.intersection(check.after):
                continue
            yield Step("check", check.id, why="the finished amp must pass it before it goes back")

    def last_checks(self) -> list[model.Check]:
        """The checks that an amp which was repaired, or was under power, must still pass before it goes back."""
        if not (self.facts.repairs or self.facts.set_up.powered):
            return []
        due = []
        for check in self.base.written.values():
            if check.last is None or not self.applicable(check):
                continue
            areas = check.last.areas
            repaired = [
                one.entry
                for one in self.facts.repairs
                if not areas or (one.cause in self.base.causes and self.base.area_of(one.cause) in areas)
            ]
            known_so = bool(check.last.amp) and holds_true(check.last.amp, self.facts.amp) is True
            wanted = not areas or repaired or known_so
            if wanted and self.facts.done_at.get(check.id, 0) <= max(repaired, default=0):
                due.append(check)
        return sorted(due, key=lambda check: (reach(check.stage), check.id))

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
        first = [
            check
            for check in self.open_checks()
            if check.id in self.deduction.check_first and self._still_asked(self.deduction.check_first[check.id])
        ]
        first.sort(key=lambda check: (reach(check.stage), check.id))
        for worth in found:
            while first and reach(first[0].stage) <= reach(self.base.checks[worth.check].stage):
                yield self._put_first(first.pop(0))
            yield Step("check", worth.check, why=self._saving(worth), worth=worth)
        yield from map(self._put_first, first)

    def _still_asked(self, rule: str) -> bool:
        """Whether what made a rule put a check first is still to be explained, where it rests on a finding."""
        leaves = self.base.rules[rule].when.leaves()
        latest = self.facts.latest()
        named = {id_ for leaf in leaves for id_ in (leaf.finding, leaf.complaint) if id_ and id_ in latest}
        there = {id_ for id_ in named if latest[id_].present}
        return not there or any(target.said.finding in there for target in self.ahead.targets)

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
                    and symptom in latest
                    and latest[symptom].present
                    and latest[symptom].entry < repaired.entry
                    and self.facts.done_at.get(again.id, 0) < repaired.entry
                ):
                    why = f"tells whether the complaint went with: {self.base.causes[repaired.cause].name}"
                    yield Step("proof", again.id, repaired.cause, why)

    def _cured(self, cause: str) -> tuple[str, ...]:
        """The complaints of this job that should go when a cause is repaired."""
        shows = self.base.causes[cause].shows if cause in self.base.causes else {}
        said = dict.fromkeys(symptom for symptom, _, _ in self.facts.complaints)
        return tuple(
            one
            for one in said
            if one in shows
            and (
                self.base.how_often(shows[one]) >= ACCOUNTS
                or not _also_likely(self.base, self.facts, self.ahead.ranking, one)
            )
        )

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
            scale.least_sure, scale.sure, "no check here makes it surer; have someone senior look at it first"
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

    def allowed(self, step: Step) -> Step | None:
        """The step itself; or what must come before it for safety; None when something bars it that can't be asked
        away."""
        work = self.work(step)
        if work.stage in model.POWERED:
            due = self.safety_checks()
            if due:
                why = "bears on safety; nothing under power is offered before it is done"
                return self.allowed(Step("check", due[0].id, why=why))
        hold = self.blocked_by(work)
        name = self.name(step)
        if hold is not None and hold.kind != "standing":
            return Step("hold", hold.hold, why=f"comes before: {name}") if hold.to_be_asked else None
        if work.stage in ("live", "play"):
            for check in self.way_up():
                if check.id != step.id:
                    return self.allowed(Step("check", check.id, why="power comes in steps: this one before full mains"))
        if hold is None:
            return step
        if hold.hold in self.base.moves and (hold.answered is None or self._too_high(hold)):
            ready = (work.id,) if prepared_first(work) and not self.facts.set_up.live else ()
            return Step("move", hold.hold, why=f"for: {name}", prepared=ready)
        return Step("hold", hold.hold, why=f"comes before: {name}") if hold.answered is None else None

    def _too_high(self, hold: HoldState) -> bool:
        """Whether a move was answered no for its volts alone, so that it is to be tried again."""
        move = self.base.moves[hold.hold]
        return move.volts is not None and any(abs(v) >= move.volts.below for v in self.facts.set_up.volts.values())


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
    """Whether a cause that is not repaired yet may well be behind a finding too."""
    repaired = {one.cause for one in facts.repairs}
    return any(
        ranking.probability.get(id_, 0.0) >= ALSO_LIKELY
        for id_ in base.causes_showing.get(finding, ())
        if id_ not in repaired
    )
