"""What stands before a piece of work: the holds that rules raise, the moves that bring the amp into its set-up, the
dangers that were found, and what had to be told before power and was not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from ..knowledge import model
from ..knowledge.base import KnowledgeBase, holds_true
from .deduce import Deduction
from .facts import Facts, Repaired, Said
from .log import CANT_TELL
from .ranking import Ranking

RULED_OUT = 0.02  # a cause less probable than this is ruled out
ALSO_LIKELY = 0.3  # another cause this probable may be behind a finding as well
ACCOUNTS = 0.5  # how often a repaired cause must show a thing to account for it
HoldKind = Literal["raised", "standing", "danger", "untold"]
HAZARD = {"shock": "can give a shock", "fire": "can start a fire", "damage": "can ruin parts", "none": "can do harm"}


@dataclass(frozen=True)
class HoldState:
    """A hold that concerns this job, by its id: one that a rule raised, a standing one, a danger that was found
    (danger/FINDING), or a check that was left untold though it bears on safety (untold/CHECK). answered: true clears
    it, false leaves it open, None: not asked yet. rule: what raised it, because: its sentence. blocks: the stage of
    work from which on nothing is offered; tubes: only what needs the power tubes in. against: what was measured, and
    must be measured anew before a yes counts.
    """

    hold: str
    text: str
    ask: str
    blocks: model.Stage
    answered: bool | None
    rule: str = ""
    because: str = ""
    kind: HoldKind = "standing"
    tubes: bool = False
    against: str = ""

    @classmethod
    def of(
        cls, hold: model.Hold, answered: bool | None, rule: str = "", because: str = "", against: str = ""
    ) -> HoldState:
        answered = None if against else answered
        kind: HoldKind = "raised" if rule else "standing"
        return cls(hold.id, hold.text, hold.ask, hold.blocks, answered, rule, because, kind, against=against)

    @property
    def open(self) -> bool:
        """Whether it was answered no, or stands on this job and is not cleared."""
        return self.answered is False or (self.kind != "standing" and self.answered is None)

    @property
    def to_be_asked(self) -> bool:
        """Whether a plain yes can clear it, and it was not asked yet."""
        return self.answered is None and self.kind in ("raised", "standing") and not self.against

    def bars(self, work: model.Work) -> bool:
        """Whether it stands before a check or repair, while it is open."""
        if self.tubes and work.setup.get("power-tubes") == "out":
            return False
        return reach(self.blocks) <= reach(work.stage)


def reach(stage: model.Stage) -> int:
    """How far along the stages of work a stage is."""
    return model.STAGES.index(stage)


def holds_of(base: KnowledgeBase, facts: Facts, deduction: Deduction, ranking: Ranking) -> tuple[HoldState, ...]:
    """Every hold of the job: raised ones, dangers and what was left untold first, then the standing ones, each by the
    stage of work that it bars."""
    said = {one.finding: one for one in (*deduction.findings, *facts.latest().values())}
    raised = [
        HoldState.of(
            base.holds[id_], facts.holds.get(id_), rule, base.rules[rule].because, _measured(base, said, rule)
        )
        for id_, rule in deduction.holds.items()
    ]
    raised += dangers(base, facts, deduction, ranking)
    raised += untold(base, facts)
    standing = [HoldState.of(hold, facts.holds.get(hold.id)) for hold in base.holds.values() if hold.standing]

    def by_stage(hold: HoldState) -> tuple[int, bool, str]:
        return reach(hold.blocks), hold.kind != "raised", hold.hold

    return (*sorted(raised, key=by_stage), *sorted(standing, key=by_stage))


def _measured(base: KnowledgeBase, said: Mapping[str, Said], rule: str, seen: frozenset[str] = frozenset()) -> str:
    """What was measured and makes a rule raise its hold, by itself or by what other rules conclude, as far as it still
    stands; '' when nothing was. said: the last word on each finding, the concluded ones with their rule."""
    for leaf in base.rules[rule].when.leaves():
        one = said.get(leaf.finding or "")
        if one is None or not one.present:
            continue
        if one.by in base.checks and base.checks[one.by].readings:
            return one.how
        if one.by in base.rules and one.by not in seen and (how := _measured(base, said, one.by, seen | {rule})):
            return how
    return ""


def dangers(base: KnowledgeBase, facts: Facts, deduction: Deduction, ranking: Ranking) -> Iterator[HoldState]:
    """A danger for each finding that stands and that a dangerous cause is likely behind, until that cause is ruled out,
    or repaired and proven without power."""
    latest = {said.finding: said for said in (*deduction.findings, *facts.latest().values())}
    for finding, forbids in base.forbidding.items():
        said = latest.get(finding)
        if said is None or not said.present:
            continue
        open_ = [id_ for id_ in forbids.causes if _may_be_behind(base, facts, ranking, said, id_)]
        if not open_ or _mended(base, facts, ranking, said):
            continue
        open_.sort(key=lambda id_: (-ranking.probability.get(id_, 0.0), id_))
        id_ = f"danger/{finding}"
        names = "; ".join(f"{base.causes[one].name} ({HAZARD[base.causes[one].hazard]})" for one in open_[:3])
        blocks: model.Stage = "play" if forbids.bars == "play" else "first power"
        yield HoldState(
            id_, f"{base.findings[finding].text} Behind it may be: {names}.",
            "Is it repaired and proven, or ruled out by a check?", blocks, facts.holds.get(id_), kind="danger",
            because=said.how, tubes=forbids.bars == "power tubes",
        )  # fmt: skip


def _may_be_behind(base: KnowledgeBase, facts: Facts, ranking: Ranking, said: Said, cause: str) -> bool:
    """Whether a dangerous cause is neither ruled out nor dealt with since the finding. A repair whose proof failed
    makes its cause less probable, and not less dangerous."""
    of_it = [one for one in facts.repairs if one.cause == cause]
    since = [one for one in of_it if one.entry > said.entry or one.proven is False]
    if since:
        return not _holds_good(base, since[-1])
    return ranking.probability.get(cause, 0.0) >= RULED_OUT


def _mended(base: KnowledgeBase, facts: Facts, ranking: Ranking, said: Said) -> bool:
    """Whether the cause behind a finding has been repaired since, and no other is likely to be behind it too."""
    done = [
        one
        for one in facts.repairs
        if one.entry > said.entry
        and one.cause in base.causes
        and base.how_often(base.causes[one.cause].shows.get(said.finding, "never")) >= ACCOUNTS
        and _holds_good(base, one)
    ]
    mended = {one.cause for one in facts.repairs}
    return bool(done) and not any(
        ranking.probability.get(id_, 0.0) >= ALSO_LIKELY
        for id_ in base.causes_showing.get(said.finding, ())
        if id_ not in mended
    )


def _holds_good(base: KnowledgeBase, repaired: Repaired) -> bool:
    """Whether a repair lets power on: proven, or its proof can only be had under power."""
    if repaired.proven is not None:
        return repaired.proven
    proof = base.repairs[repaired.repair].proof_for(base.causes.get(repaired.cause))
    return base.checks[proof.check].stage in model.POWERED


def untold(base: KnowledgeBase, facts: Facts) -> Iterator[HoldState]:
    """Each check that must be told before power and was answered `can't tell`."""
    known = frozenset(facts.latest())
    way_up = {id_: move.blocks for move in base.moves.values() for id_ in move.through}
    for id_, done in facts.done.items():
        check = base.written.get(id_)
        if check is None or done != CANT_TELL or (id_ not in way_up and known.issuperset(check.findings())):
            continue
        if (check.safety and check.stage not in model.POWERED) or id_ in way_up:
            if holds_true(check.needs, facts.amp) is False:
                continue
            hold = f"untold/{id_}"
            yield HoldState(
                hold, f"Not told yet, and it must be before power: {check.name}. {check.do}",
                check.ask or f"{check.name}: what does it read?", way_up.get(id_, "first power"),
                facts.holds.get(hold), kind="untold", because="it was answered can't tell",
            )  # fmt: skip
