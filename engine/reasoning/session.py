"""Where a job stands: a pure function of its log, the knowledge base and nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from ..knowledge.base import KnowledgeBase
from . import conflict
from .deduce import Deducer, Deduction
from .facts import Facts, Said, gather
from .log import CANT_TELL, Log, LogEntry
from .plan import Outlook, Worth, outlook, worths, worthwhile
from .ranking import Causes, Experience, Ranking, causes_of, rank
from .steps import Hold, Plan, Step, explained, holds_of

Verdict = Literal["proven", "repaired", "repair", "checks", "not separable", "not explained"]
WORTH_NAMING = 0.1  # a candidate below this is not named for a complaint


@dataclass(frozen=True)
class Candidate:
    cause: str
    probability: float


@dataclass(frozen=True)
class Explaining:
    """How a complaint, or a finding, stands.

    candidates: the causes that could show it, most probable first. checks: worth doing for it, best first.
    separating: for 'not separable', the check that would tell the candidates apart, if the shop could do it.
    repair, cause: for 'repair', 'repaired' (its proof outstanding) and 'proven'. unexplained: how probable it is
    that nothing known explains it.
    """

    said: Said
    words: str
    verdict: Verdict
    candidates: tuple[Candidate, ...]
    unexplained: float
    checks: tuple[str, ...] = ()
    separating: str = ""
    repair: str = ""
    cause: str = ""


@dataclass(frozen=True)
class Standing:
    """The whole standing of a job. Costly parts are worked out when first asked for. learned: the fingerprint of the
    experience that weighed in, '' for none."""

    base: KnowledgeBase
    facts: Facts
    deduction: Deduction
    ranking: Ranking
    ahead: Outlook
    holds: tuple[Hold, ...]
    learned: str = ""

    @cached_property
    def plan(self) -> Plan:
        return Plan(self.base, self.facts, self.deduction, self.ahead, self.holds)

    @cached_property
    def worths(self) -> list[Worth]:
        return self.plan.worths()

    @cached_property
    def next(self) -> Step:
        return self.plan.next(self.worths)

    @cached_property
    def conflicts(self) -> tuple[conflict.Conflict, ...]:
        return conflict.conflicts(self.base, self.facts, self.deduction, self.ranking)

    @cached_property
    def complaints(self) -> tuple[Explaining, ...]:
        """Each complaint, in the order in which it was made."""
        words = {symptom: says for symptom, says, _ in self.facts.complaints}
        return tuple(self._explaining(symptom, says) for symptom, says in words.items())

    @cached_property
    def found(self) -> tuple[Candidate, ...]:
        """Every cause that is sure enough to act on, most probable first."""
        sure = [Candidate(id_, p) for id_, p in self.ranking.probability.items() if p >= self.base.scale.sure]
        return tuple(sorted(sure, key=lambda one: (-one.probability, one.cause)))

    @cached_property
    def leading(self) -> tuple[Candidate, ...]:
        """Causes that stand out from what they were beforehand, most probable first."""
        prior = dict(zip(self.ranking.causes.ids, self.ranking.causes.network.prior.tolist(), strict=True))
        risen = [Candidate(id_, p) for id_, p in self.ranking.probability.items() if p > max(0.02, 1.5 * prior[id_])]
        return tuple(sorted(risen, key=lambda one: (-one.probability, one.cause)))

    def _explaining(self, symptom: str, words: str) -> Explaining:
        said = next(one for one in self.facts.said if one.finding == symptom)
        last = self.facts.latest()[symptom]
        dealt = explained(self.base, self.facts, self.ranking)
        candidates = self._candidates(symptom)
        if symptom in dealt:
            cause = dealt[symptom]
            repair = next(one.repair for one in self.facts.repairs if one.cause == cause)
            return Explaining(said, words, "proven", candidates, 0.0, repair=repair, cause=cause)
        if not last.present:
            return Explaining(said, words, "not explained", candidates, 1.0)
        repaired = {one.cause for one in self.facts.repairs}
        ours = next((e for e in self.ranking.evidence if e.finding == symptom and e.present), None)
        unexplained = self.ranking.unexplained(ours) if ours else 1.0
        open_ = [one for one in candidates if one.cause not in repaired]
        if open_ and open_[0].probability >= self.base.scale.sure:
            top = open_[0].cause
            repair = self.deduction.repairs(self.base.causes[top])[0]
            return Explaining(said, words, "repair", candidates, unexplained, repair=repair, cause=top)
        done = [one for one in self.facts.repairs if symptom in self.base.causes[one.cause].shows]
        unproven = [one for one in done if one.proven is None]
        if unproven:
            last_one = unproven[-1]
            return Explaining(
                said, words, "repaired", candidates, unexplained, repair=last_one.repair, cause=last_one.cause
            )
        checks = self._bearing_checks(symptom)
        if checks:
            return Explaining(said, words, "checks", candidates, unexplained, checks=checks)
        if unexplained >= 0.5 or not open_:
            return Explaining(said, words, "not explained", candidates, unexplained)
        return Explaining(
            said, words, "not separable", candidates, unexplained, separating=self._separating(symptom)
        )

    def _candidates(self, symptom: str) -> tuple[Candidate, ...]:
        causes = self.ranking.causes
        shows = [id_ for id_ in self.base.causes_showing.get(symptom, ()) if id_ in causes.column]
        listed = [Candidate(id_, self.ranking.probability[id_]) for id_ in shows]
        named = [one for one in listed if one.probability >= WORTH_NAMING]
        return tuple(sorted(named, key=lambda one: (-one.probability, one.cause)))

    def _bearing_checks(self, symptom: str) -> tuple[str, ...]:
        """Checks worth doing that bear on the causes of a symptom, best first."""
        showing = set(self.base.causes_showing.get(symptom, ()))
        return tuple(
            worth.check
            for worth in worthwhile(self.worths)
            if self._bears(worth.check, showing)
        )[:3]

    def _bears(self, check: str, causes: set[str]) -> bool:
        return any(
            causes.intersection(self.base.causes_showing.get(finding, ()))
            for finding in self.base.checks[check].findings()
        )

    def _separating(self, symptom: str) -> str:
        """The check that would best tell a symptom's candidates apart, though it could not be done or told nothing."""
        alone = outlook(self.ranking, self.ahead.repaired, deduction=self.deduction)
        only = tuple(target for target in alone.targets if target.said.finding == symptom)
        known = self.facts.latest()
        doubtful = {doubt.check for doubt in self.facts.doubts}
        checks = [
            check
            for check in self.base.checks.values()
            if self.plan.applicable(check)
            and not self.plan.skipped(check)
            and (self.facts.done.get(check.id, CANT_TELL) == CANT_TELL or check.id in doubtful)
        ]
        found = worths(Outlook(self.ranking, only, self.ahead.costs, self.ahead.repaired), checks, known, {})
        best = max(found, key=lambda worth: worth.saves, default=None)
        return best.check if best and best.saves > 0.5 else ""


class Session:
    """Reads logs against one knowledge base. Keeps what is costly to make; its answers depend only on the log.

    level: of the experience at the bench (junior, senior), by which more or less proof is asked before a repair.
    experience: what closed jobs taught.
    """

    def __init__(self, base: KnowledgeBase, level: str = "", experience: Experience | None = None) -> None:
        base = base.at_level(level)
        self.base = base
        self.experience = experience
        self._deducer = Deducer(base)
        self._causes: dict[str, Causes] = {}
        self._last: tuple[list[LogEntry], Standing] | None = None

    def read(self, log: Log) -> Standing:
        """Where a job stands after this log. What was read last is kept: at the bench it is asked for several times."""
        if self._last is None or self._last[0] != list(log):
            self._last = (list(log), self._read(log))
        return self._last[1]

    def _read(self, log: Log) -> Standing:
        facts = gather(self.base, log)
        deduction = self._deducer.deduce(facts)
        ranking = rank(self._causes_of(facts.amp), facts, deduction)
        repaired = [one.cause for one in facts.repairs]
        ahead = outlook(ranking, repaired, explained(self.base, facts, ranking), deduction)
        learned = self.experience.fingerprint if self.experience else ""
        return Standing(self.base, facts, deduction, ranking, ahead, holds_of(self.base, facts, deduction), learned)

    def _causes_of(self, amp: Mapping[str, object]) -> Causes:
        key = repr(sorted(amp.items()))
        if key not in self._causes:
            self._causes = {key: causes_of(self.base, amp, self.experience)}  # type: ignore[arg-type]
        return self._causes[key]
