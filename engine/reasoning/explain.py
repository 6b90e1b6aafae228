"""Why the ranking is as it is, what would change it, and what lies ahead: small pure functions over a standing."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from .bands import bands_of
from .facts import Said
from .log import CANT_TELL, NOT_THIS_AMP, Answer, Log, LogEntry, Reading, RepairDone, standing
from .plan import worthwhile
from .session import Standing

SMALLEST = 1e-12  # probabilities are kept this far from 0 and 1 before odds are taken
MOVES_WORTH_NAMING = 0.05  # a change of probability below this is not named
LIKELY_ENOUGH = 0.1  # parts for causes below this need not be at hand


@dataclass(frozen=True)
class Weight:
    """What one statement does to a cause: log_odds with it less log_odds without it; above zero speaks for it."""

    said: Said
    text: str
    log_odds: float


@dataclass(frozen=True)
class RuleWeight:
    """What a rule does to a cause's odds. log_odds is minus infinity when it rules the cause out."""

    rule: str
    because: str
    log_odds: float


@dataclass(frozen=True)
class Turn:
    """A check that would move a cause: its probability after the outcome best and worst for it."""

    check: str
    lowest: float
    highest: float


@dataclass(frozen=True)
class Reasons:
    """Why a cause stands where it does. weights: the strongest first; turns: the checks that could move it most."""

    cause: str
    probability: float
    prior: float
    weights: tuple[Weight, ...]
    rules: tuple[RuleWeight, ...]
    turns: tuple[Turn, ...]


@dataclass(frozen=True)
class Move:
    """A cause whose probability an outcome would change."""

    cause: str
    before: float
    after: float


@dataclass(frozen=True)
class Meaning:
    """What one outcome of a check would mean. key: the answer or, for readings, the quantity; chance: how probable
    it is now, among this question's outcomes; moves: what it would change most, as far as tables tell."""

    key: str
    text: str
    findings: tuple[str, ...]
    chance: float
    moves: tuple[Move, ...]
    above: float | str | None = None  # bounds of the band, for readings
    below: float | str | None = None


@dataclass(frozen=True)
class Ready:
    """What to have at hand: tools, and parts with the cause each is for."""

    tools: tuple[str, ...]
    parts: tuple[tuple[model.Part, str], ...]


def log_odds(probability: float) -> float:
    kept = min(max(probability, SMALLEST), 1 - SMALLEST)
    return math.log(kept / (1 - kept))


def reasons(now: Standing, cause: str) -> Reasons:
    """Everything that speaks for or against a cause, by leaving out one statement at a time, and what could move it.

    Raises KeyError when the cause is not known, or can't exist in this amp.
    """
    ranking = now.ranking
    probability = ranking.probability[cause]
    mine = set(now.base.causes[cause].shows)
    weights = []
    for one in ranking.evidence:
        rest = tuple(other for other in ranking.evidence if other is not one)
        change = log_odds(probability) - log_odds(ranking.again(rest).probability[cause])
        if abs(change) > 1e-6 or one.finding in mine:
            weights.append(Weight(one, now.base.text(one.finding), change))
    weights.sort(key=lambda weight: (-abs(weight.log_odds), weight.said.entry))
    return Reasons(
        cause,
        probability,
        float(ranking.causes.network.prior[ranking.causes.column[cause]]),
        tuple(weights),
        tuple(_rules_on(now, cause)),
        _turns(now, cause),
    )


def _rules_on(now: Standing, cause: str) -> Iterator[RuleWeight]:
    for id_, spoken in now.deduction.spoken.items():
        for conclusion in spoken.rule.then:
            factor = now.base.scale.factor.get(conclusion.by or "", 1.0)
            if conclusion.rule_out == cause:
                yield RuleWeight(id_, spoken.rule.because, -math.inf)
            elif conclusion.raises == cause:
                yield RuleWeight(id_, spoken.rule.because, math.log(factor))
            elif conclusion.lowers == cause:
                yield RuleWeight(id_, spoken.rule.because, -math.log(factor))


def _turns(now: Standing, cause: str, most: int = 4) -> tuple[Turn, ...]:
    """The open checks that could move a cause most: those on what it shows, or on what its rivals for the same
    present findings show."""
    base = now.base
    shared = [said.finding for said in now.ranking.present if said.finding in base.causes[cause].shows]
    rivals = {cause, *(id_ for finding in shared for id_ in base.causes_showing.get(finding, ()))}
    shows = {finding for id_ in rivals for finding in base.causes[id_].shows}
    found = []
    for check in now.plan.open_checks():
        if not shows.intersection(check.findings()):
            continue
        after = [
            next((move.after for move in meaning.moves if move.cause == cause), now.ranking.probability[cause])
            for meaning in meanings(now, check.id, about=cause)
        ]
        if after and max(after) - min(after) >= MOVES_WORTH_NAMING:
            found.append(Turn(check.id, min(after), max(after)))
    return tuple(sorted(found, key=lambda turn: (turn.lowest - turn.highest, turn.check))[:most])


def meanings(now: Standing, check_id: str, about: str = "", most: int = 2) -> tuple[Meaning, ...]:
    """What each outcome of a check would mean; nothing for what is settled already. about: only this cause's moves."""
    check = now.base.checks[check_id]
    known = {said.finding for said in now.ranking.evidence}
    told: list[Meaning] = []
    for question in _outcomes(check):
        if known.issuperset(finding for one in question for finding in one.present):
            continue
        rankings = [now.ranking.again(_with(now, one.present, one.absent)) for one in question]
        logs = [float(one.posterior.log_evidence[0]) for one in rankings]
        total = sum(math.exp(log - max(logs)) for log in logs)
        for one, ranking, log in zip(question, rankings, logs, strict=True):
            before = now.ranking.probability
            moved = [
                Move(id_, before[id_], after)
                for id_, after in ranking.probability.items()
                if (not about or id_ == about) and abs(after - before[id_]) >= MOVES_WORTH_NAMING
            ]
            moved.sort(key=lambda move: (-abs(move.after - move.before), move.cause))
            chance = math.exp(log - max(logs)) / total
            told.append(Meaning(one.key, one.text, one.present, chance, tuple(moved[:most]), one.above, one.below))
    return tuple(told)


@dataclass(frozen=True)
class _Outcome:
    """One outcome of a question: the findings it makes true and those it makes false."""

    key: str
    text: str
    present: tuple[str, ...]
    absent: tuple[str, ...]
    above: float | str | None = None
    below: float | str | None = None


def _outcomes(check: model.Check) -> list[list[_Outcome]]:
    """The outcomes of each question a check puts: its answers, or the bands of each quantity it measures."""
    if check.answers:
        return [
            [
                _Outcome(key, answer.text or key, answer.findings, check.absent(key))
                for key, answer in check.answers.items()
            ]
        ]
    questions = []
    for quantity, bands in bands_of(check).items():
        told = tuple(dict.fromkeys(finding for band in bands for finding in band.findings))
        questions.append(
            [
                _Outcome(quantity, b.text, b.findings, tuple(f for f in told if f not in b.findings), b.above, b.below)
                for b in bands
            ]
        )
    return questions


def _with(now: Standing, present: Sequence[str], absent: Sequence[str]) -> tuple[Said, ...]:
    """The evidence with an outcome added. What is known already stays as it is."""
    known = {said.finding for said in now.ranking.evidence}
    repaired = frozenset(one.cause for one in now.facts.repairs)
    said = [(finding, True) for finding in present] + [(finding, False) for finding in absent]
    added = [Said(finding, there, 0, "", repaired) for finding, there in said if finding not in known]
    return (*now.ranking.evidence, *added)


def minutes_spent(now: Standing, log: Log) -> float:
    """Bench minutes that the checks and repairs of a log take, with moving from stage to stage."""
    base, deduction = now.base, now.deduction
    spent, stage = 0.0, "look"
    last: LogEntry | None = None
    for _, entry in standing(log):
        going_on = _same_check(last, entry)
        last = entry
        if going_on:
            continue
        if isinstance(entry, Answer | Reading) and entry.check in base.checks:
            if isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP):
                continue
            check = base.checks[entry.check]
            at, minutes = check.stage, deduction.check_minutes(check)
        elif isinstance(entry, RepairDone) and entry.repair in base.repairs:
            at, minutes = "cold", deduction.repair_minutes(base.repairs[entry.repair])
        else:
            continue
        if at != stage:
            spent += base.scale.change_of_stage_minutes.get(at, 0.0)
        spent, stage = spent + minutes, at
    return spent


def _same_check(last: LogEntry | None, entry: LogEntry) -> bool:
    """Whether an entry is a further reading of the check that the last one belongs to: entered one by one, they took
    the check's minutes once."""
    return (
        isinstance(last, Reading)
        and isinstance(entry, Reading)
        and last.check == entry.check
        and not last.values.keys() & entry.values.keys()
    )


def to_have_ready(now: Standing) -> Ready:
    """Tools for the checks that come first or are worth doing, and parts for the causes likely enough."""
    checks = [*now.plan.safety_checks(), *(now.base.checks[one.check] for one in worthwhile(now.worths))]
    tools = dict.fromkeys(tool for check in checks for tool in check.tools)
    parts: list[tuple[model.Part, str]] = []
    for candidate in now.leading:
        if candidate.probability >= LIKELY_ENOUGH:
            repair = now.base.repairs[now.deduction.repairs(now.base.causes[candidate.cause])[0]]
            parts.extend((part, candidate.cause) for part in repair.parts)
    return Ready(tuple(tools), tuple(parts))


def likely_areas(now: Standing) -> tuple[tuple[str, float], ...]:
    """The areas that the complaints point to, each with how many faults are to be expected there, most first."""
    bearing = {now.ranking.causes.ids[column] for column in now.ahead.bearing}
    expected = {
        area.area: sum(now.ranking.probability[id_] for id_ in area.causes if id_ in bearing)
        for area in now.base.areas.values()
    }
    return tuple(sorted(((a, e) for a, e in expected.items() if e >= MOVES_WORTH_NAMING), key=lambda one: -one[1]))


def facts_that_matter(base: KnowledgeBase, symptoms: Iterable[str], most: int = 10) -> tuple[str, ...]:
    """The amp facts worth asking for some complaints, in the order of the file.

    Those that any hold depends on come with every complaint; then those that the causes of the symptoms, or the checks
    on their findings, heed most.
    """
    causes = [base.causes[id_] for id_ in dict.fromkeys(c for s in symptoms for c in base.causes_showing.get(s, ()))]
    findings = {finding for cause in causes for finding in cause.shows}
    heeded: Counter[str] = Counter()
    for cause in causes:
        heeded.update({*cause.needs, *(fact for shift in (*cause.more, *cause.less) for fact in shift.when)})
    for check in base.checks.values():
        if findings.intersection(check.findings()):
            heeded.update({*check.needs, *_facts_given(check)})
    always = {
        fact
        for rule in base.rules.values()
        if any(conclusion.hold or conclusion.conclude for conclusion in rule.then)
        for fact in _facts_of(rule.when)
        if any(base.symptoms.get(f) and base.symptoms[f].safety for f in _findings_of(rule.when))
    }
    most_heeded = sorted(heeded, key=lambda fact: (-heeded[fact], fact))
    wanted = always | {*most_heeded[: max(0, most - len(always))]}
    return tuple(fact for fact in base.amp_facts if fact in wanted)


def _facts_given(check: model.Check) -> Iterator[str]:
    for figure in check.figures.values():
        for source in figure.given.values():
            kind, dot, key = source.partition(".") if isinstance(source, str) else ("", "", "")
            if dot and kind == "amp":
                yield key
            elif dot and kind in ("tube", "rectifier"):
                yield {"tube": "power-tube", "rectifier": "rectifier"}[kind]


def _facts_of(condition: model.Condition) -> Iterator[str]:
    for part in condition.leaves():
        yield from part.amp or ()


def _findings_of(condition: model.Condition) -> Iterator[str]:
    for part in condition.leaves():
        if part.finding:
            yield part.finding
