"""Where a job stands: a pure function of its log, the knowledge base and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any, Literal

from ..circuit.collection import Circuits, UnknownCircuit
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..knowledge.model import AmpValue
from ..late import late
from ..reference.errors import KnowledgeError
from . import conflict
from .circuit_checks import AREA, FITS_NOT, Chart
from .deduce import Deducer, Deduction
from .expected_readings import WIDE, Expectation, WouldRead, expected
from .facts import Facts, gather
from .holds import HoldState, holds_of
from .log import CANT_TELL, Log, LogEntry, chosen_circuit
from .plan import Outlook, Worth, outlook, worths, worthwhile
from .ranking import Causes, Experience, Ranking, causes_of, rank
from .steps import Plan, Step, explained

if TYPE_CHECKING:  # what solves circuits takes a tenth of the time to the first question, and most jobs never need it
    from ..circuit.netlist import Circuit
    from .voltages import KnownCircuit, Voltages

with late():
    from ..circuit import dictionary
    from . import voltages as reasoning_voltages

Verdict = Literal["proven", "repaired", "repair", "checks", "not separable", "not explained"]
WHY_NOT = "a reading may be wrong, or the amp is not built to this circuit; what the volts say counts for little"
WORTH_NAMING = 0.1  # a candidate below this is not named for a complaint
MOST_SEPARATED = 6  # complaints for which a check that would tell their causes apart is looked for


FACTS_TO_BE_LIKE = 2  # amp facts that must be known before a circuit is called the nearest
LIKE_ENOUGH = 0.5  # and the share of them that must agree


@dataclass(frozen=True)
class Like:
    """The circuit nearest to an amp, how much of what is known of the amp agrees, and what it should read."""

    name: str
    share: float
    circuit: Circuit
    chart: Chart


@dataclass(frozen=True)
class RankedCause:
    """A cause and how probable it is. prior: before anything was said of this amp."""

    cause: str
    name: str
    probability: float
    prior: float


@dataclass(frozen=True)
class ComplaintStanding:
    """A complaint and how it stands. name: of its symptom; says: the player's words.

    verdict: proven (repaired, and the proof held), repaired (its proof is still to come), repair (do `repair` for
    `cause` now), checks (those named are worth doing, best first), not separable (`separating` names the check that
    would tell the candidates apart, if the shop could do it, '' when none is known, or beyond MOST_SEPARATED), not
    explained (by anything known).
    candidates: the causes that could show it, most probable first. unexplained: how probable it is that nothing known
    explains it.
    """

    symptom: str
    name: str
    says: str
    verdict: Verdict
    candidates: tuple[RankedCause, ...]
    unexplained: float
    checks: tuple[str, ...] = ()
    separating: str = ""
    repair: str = ""
    cause: str = ""


@dataclass(frozen=True)
class Standing:
    """The whole standing of a job. Costly parts are worked out when first asked for.

    base: with the checks of the chosen circuit, if one is. voltages: what the volts read on it say. trouble: why the
    chosen circuit can't be used. like: finds the circuit nearest to the amp, when none is chosen. learned: the
    fingerprint of the experience that weighed in, '' for none.
    """

    base: KnowledgeBase
    facts: Facts
    deduction: Deduction
    ranking: Ranking
    ahead: Outlook
    holds: tuple[HoldState, ...]
    learned: str = ""
    voltages: Voltages | None = None
    trouble: str = ""
    like: Callable[[], Like | None] = field(default=lambda: None, repr=False, compare=False)

    @cached_property
    def plan(self) -> Plan:
        return Plan(self.base, self.facts, self.deduction, self.ahead, self.holds, self.voltages)

    @cached_property
    def worths(self) -> list[Worth]:
        return self.plan.worths()

    @cached_property
    def next(self) -> Step:
        return self.plan.next(lambda: self.worths)

    def next_but(self, later: Collection[str]) -> Step:
        """The next step, past the repairs of causes that were put off."""
        return self.plan.next(lambda: self.worths, later) if later else self.next

    @cached_property
    def conflicts(self) -> tuple[conflict.Conflict, ...]:
        found = conflict.conflicts(self.base, self.facts, self.deduction, self.ranking)
        if self.voltages is not None and not self.voltages.explained:
            found = (*found, conflict.Conflict(FITS_NOT, FITS_NOT, WHY_NOT))
        text = self.base.text
        return tuple(replace(one, one_text=text(one.one), other_text=text(one.other)) for one in found)

    def expected(self, check: model.Check) -> Expectation:
        """What a check's DC readings should be, by the circuit chosen or the one nearest to the amp. The checks made
        from a circuit say it themselves."""
        if self.voltages is not None:
            known = self.voltages.known
            if check.id in self.base.areas[AREA].checks:
                return Expectation(known.name)
            return Expectation(known.name, points=expected(known.circuit, known.chart, check))
        if not any(reading.dc for reading in check.readings.values()):
            return Expectation()
        like = self.like()
        if like is None:
            return Expectation()
        return Expectation(like.name, False, like.share, expected(like.circuit, like.chart, check, WIDE))

    def would_read(self, check: model.Check) -> tuple[WouldRead, ...]:
        """What a check of one test point would read with the most probable causes that move it."""
        return self.voltages.would_read(check, self.ranking.probability) if self.voltages else ()

    @cached_property
    def complaints(self) -> tuple[ComplaintStanding, ...]:
        """Each complaint, in the order in which it was made."""
        words = {symptom: says for symptom, says, _ in self.facts.complaints}
        found: list[ComplaintStanding] = []
        for symptom, says in words.items():
            looked_for = sum(one.verdict == "not separable" for one in found)
            found.append(self._standing(symptom, says, looked_for < MOST_SEPARATED))
        return tuple(found)

    @cached_property
    def likely(self) -> tuple[RankedCause, ...]:
        """Every cause that can exist in this amp, most probable first."""
        prior = self.ranking.causes.network.prior.tolist()
        found = [
            RankedCause(id_, self.base.causes[id_].name, p, prior[self.ranking.causes.column[id_]])
            for id_, p in self.ranking.probability.items()
        ]
        return tuple(sorted(found, key=lambda one: (-one.probability, one.cause)))

    @cached_property
    def found(self) -> tuple[RankedCause, ...]:
        """Every cause that is sure enough to act on, most probable first."""
        return tuple(one for one in self.likely if one.probability >= self.base.scale.sure)

    @cached_property
    def leading(self) -> tuple[RankedCause, ...]:
        """Causes that stand out from what they were beforehand, most probable first."""
        return tuple(one for one in self.likely if one.probability > max(0.02, 1.5 * one.prior))

    def _standing(self, symptom: str, words: str, separating: bool) -> ComplaintStanding:
        last = self.facts.latest().get(symptom)
        dealt = explained(self.base, self.facts, self.ranking)
        candidates = self._candidates(symptom)
        text = self.base.text(symptom)

        def stands(verdict: Verdict, unexplained: float = 0.0, **more: Any) -> ComplaintStanding:
            return ComplaintStanding(symptom, text, words, verdict, candidates, unexplained, **more)

        if symptom in dealt:
            cause = dealt[symptom]
            repair = next(one.repair for one in self.facts.repairs if one.cause == cause)
            return stands("proven", repair=repair, cause=cause)
        if last is None or not last.present:
            return stands("not explained", 1.0)
        repaired = {one.cause for one in self.facts.repairs}
        ours = next((e for e in self.ranking.evidence if e.finding == symptom and e.present), None)
        unexplained = self.ranking.unexplained(ours) if ours else 1.0
        leading = next((one for one in candidates if one.cause not in repaired), None)
        if leading and leading.probability >= self.base.scale.sure:
            return self._to_repair(stands, unexplained, leading.cause)
        done = [one for one in self.facts.repairs if symptom in self.base.causes[one.cause].shows]
        unproven = [one for one in done if one.proven is None]
        if unproven:
            return stands("repaired", unexplained, repair=unproven[-1].repair, cause=unproven[-1].cause)
        checks = self._bearing_checks(symptom)
        if checks:
            return stands("checks", unexplained, checks=checks)
        if leading and leading.probability >= self.base.scale.least_sure:
            return self._to_repair(stands, unexplained, leading.cause)
        if unexplained >= 0.5:
            return stands("not explained", unexplained)
        if leading:
            return stands("not separable", unexplained, separating=self._separating(symptom) if separating else "")
        if done:
            mended = max(done, key=lambda one: self.ranking.probability.get(one.cause, 0.0))
            return stands("repaired", unexplained, repair=mended.repair, cause=mended.cause)
        return stands("not explained", unexplained)

    def _to_repair(self, stands: Callable[..., ComplaintStanding], unexplained: float, cause: str) -> ComplaintStanding:
        repair = self.deduction.repairs(self.base.causes[cause])[0]
        return stands("repair", unexplained=unexplained, repair=repair, cause=cause)

    def _candidates(self, symptom: str) -> tuple[RankedCause, ...]:
        shows = set(self.base.causes_showing.get(symptom, ()))
        return tuple(one for one in self.likely if one.cause in shows and one.probability >= WORTH_NAMING)

    def _bearing_checks(self, symptom: str) -> tuple[str, ...]:
        """Checks worth doing that bear on the causes of a symptom, best first."""
        showing = set(self.base.causes_showing.get(symptom, ()))
        return tuple(worth.check for worth in worthwhile(self.worths) if self._bears(worth.check, showing))[:3]

    def _bears(self, check: str, causes: set[str]) -> bool:
        found = self.base.checks[check]
        if self.voltages and not causes.isdisjoint(self.voltages.moved_at(found)):
            return True
        return any(causes.intersection(self.base.causes_showing.get(finding, ())) for finding in found.findings())

    def _separating(self, symptom: str) -> str:
        """The check that would best tell a symptom's candidates apart, though it could not be done or told nothing."""
        alone = outlook(self.ranking, self.ahead.repaired, deduction=self.deduction)
        only = tuple(target for target in alone.targets if target.said.finding == symptom)
        known = self.facts.latest()
        doubtful = {doubt.check for doubt in self.facts.doubts}
        checks = [
            check
            for check in self.base.written.values()
            if self.plan.applicable(check)
            and not self.plan.skipped(check)
            and (self.facts.done.get(check.id, CANT_TELL) == CANT_TELL or check.id in doubtful)
        ]
        found = worths(Outlook(self.ranking, only, self.ahead.costs, self.ahead.repaired), checks, known, {})
        best = max(found, key=lambda worth: worth.saves, default=None)
        return best.check if best and best.saves > 0.5 else ""


class Session:
    """Reads logs against one knowledge base, and the circuits that a job may choose. Keeps what is costly to make; its
    answers depend only on the log.

    level: of the experience at the bench (junior, senior), by which more or less proof is asked before a repair.
    experience: what closed jobs taught.
    """

    def __init__(
        self,
        base: KnowledgeBase,
        level: str = "",
        experience: Experience | None = None,
        circuits: Circuits | None = None,
    ) -> None:
        base = base.at_level(level)
        self.base = base
        self.experience = experience
        self.circuits = circuits or Circuits()
        self._known: dict[str, KnownCircuit | str] = {}
        self._charts: dict[str, tuple[Circuit, Chart]] = {}
        self._deducer = Deducer(base)
        self._causes: dict[tuple[int, str], Causes] = {}
        self._last: tuple[list[LogEntry], Standing] | None = None

    def read(self, log: Log) -> Standing:
        """Where a job stands after this log. What was read last is kept: at the bench it is asked for several times."""
        if self._last is None or self._last[0] != list(log):
            self._last = (list(log), self._stands(log))
        return self._last[1]

    def _stands(self, log: Log) -> Standing:
        known = self.known(chosen_circuit(log))
        if isinstance(known, str):
            return self._read(log, self.base, trouble=known)
        return self._read(log, known.base, known)

    def _read(self, log: Log, base: KnowledgeBase, known: KnownCircuit | None = None, trouble: str = "") -> Standing:
        facts = gather(base, log)
        deduction = self._deducer.deduce(facts)
        causes = self._causes_of(base, facts.came)
        voltages = None
        if known is not None:
            voltages = reasoning_voltages.listen(known, facts, causes)
            causes = replace(causes, volts=voltages.volts)
        ranking = rank(causes, facts, deduction, voltages.said if voltages else ())
        repaired = [one.cause for one in facts.repairs]
        dealt = [*explained(base, facts, ranking), *(voltages.dealt_with(facts, causes) if voltages else ())]
        ahead = outlook(ranking, repaired, dealt, deduction)
        holds = holds_of(base, facts, deduction, ranking)
        learned = self.experience.fingerprint if self.experience else ""
        like = partial(self.like, facts.amp)
        return Standing(base, facts, deduction, ranking, ahead, holds, learned, voltages, trouble, like)

    def like(self, amp: Mapping[str, AmpValue]) -> Like | None:
        """The circuit nearest to an amp, with its chart; None while too little of the amp is known."""
        if len(amp) < FACTS_TO_BE_LIKE or not self.circuits.names():
            return None

        name, share = self.circuits.nearest(amp)[0]
        if name not in self._charts:
            circuit = self.circuits.find(name).circuit
            try:
                self._charts[name] = (circuit, dictionary.sound_chart(circuit))
            except ArithmeticError:
                return None
        return Like(name, share, *self._charts[name]) if share >= LIKE_ENOUGH else None

    def known(self, name: str) -> KnownCircuit | str:
        """A circuit as a job knows it, by its name; or why it can't be used, '' for no name."""
        if not name:
            return ""
        if name not in self._known:
            try:
                self._known[name] = reasoning_voltages.KnownCircuit(self.circuits.find(name), self.base)
            except (UnknownCircuit, ArithmeticError) as error:
                self._known[name] = str(error)
            except KnowledgeError as error:
                self._known[name] = f"the circuit '{name}' is broken: {error.problems[0]}"
        return self._known[name]

    def _causes_of(self, base: KnowledgeBase, amp: Mapping[str, AmpValue]) -> Causes:
        key = (id(base), repr(sorted(amp.items())))
        if key not in self._causes:
            self._causes = {key: causes_of(base, amp, self.experience)}
        return self._causes[key]
