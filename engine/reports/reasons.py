"""Why a cause stands where it does, and what would move it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from ..jobs.shop.learned import Learned, RateChange
from ..reasoning.outcomes import MOVES_WORTH_NAMING, meanings
from ..reasoning.ranking import Experience
from ..reasoning.session import Standing
from ..report import Report

SMALLEST = 1e-12  # probabilities are kept this far from 0 and 1 before odds are taken


class Weight(Report):
    """What one statement does to the cause: log_odds (natural) with it less without it; above zero points to it."""

    finding: str
    text: str
    present: bool
    how: str
    entry: int
    log_odds: float


class RuleWeight(Report):
    """What a rule does to the cause's odds; log_odds is None when it rules the cause out."""

    rule: str
    because: str
    log_odds: float | None


class Turn(Report):
    """A check that could move the cause: its probability after the worst and the best outcome for it."""

    check: str
    name: str
    lowest: float
    highest: float


class VoltsReason(Report):
    """What the volts of a known circuit say of a cause. silent: no DC reading shows any of its faults. log_odds: what
    points away from it (0 for nothing); readings and predicted: volts by test point."""

    silent: bool
    log_odds: float
    readings: dict[str, float]
    predicted: dict[str, float]


class Reasons(Report):
    """Why a cause stands where it does. weights: the strongest first; turns: the checks that could move it most.
    taught: None where closed jobs have no say; volts: when no circuit is chosen, or the cause is no fault of it."""

    shape: Literal["chopstick reasons 1"] = "chopstick reasons 1"
    cause: str
    name: str
    probability: float
    prior: float
    weights: tuple[Weight, ...]
    rules: tuple[RuleWeight, ...]
    turns: tuple[Turn, ...]
    repairs: tuple[str, ...]
    taught: RateChange | None = None
    volts: VoltsReason | None = None


def log_odds(probability: float) -> float:
    kept = min(max(probability, SMALLEST), 1 - SMALLEST)
    return math.log(kept / (1 - kept))


def reasons(now: Standing, cause: str, experience: Experience | None = None) -> Reasons:
    """Everything that points to or away from a cause, by leaving out one statement at a time, and what could move it.
    experience: what closed jobs taught, when it had its say.

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
            weights.append(Weight.made_of(one, text=now.base.text(one.finding), log_odds=change))
    weights.sort(key=lambda weight: (-abs(weight.log_odds), weight.entry))
    return Reasons(
        cause=cause,
        name=now.base.causes[cause].name,
        probability=probability,
        prior=float(ranking.causes.network.prior[ranking.causes.column[cause]]),
        weights=tuple(weights),
        rules=tuple(_rules_on(now, cause)),
        turns=_turns(now, cause),
        repairs=now.base.causes[cause].repairs,
        taught=experience.change(cause, now.facts.amp) if isinstance(experience, Learned) else None,
        volts=_volts(now, cause),
    )


def _volts(now: Standing, cause: str) -> VoltsReason | None:
    voltages = now.voltages
    if voltages is None or cause not in voltages.known.shares:
        return None
    factor = voltages.factor(cause, now.ranking.causes)
    return VoltsReason(
        silent=cause in voltages.known.silent, log_odds=math.log(factor), readings=dict(voltages.readings),
        predicted=dict(voltages.predicted(cause)),
    )  # fmt: skip


def _rules_on(now: Standing, cause: str) -> Iterator[RuleWeight]:
    for id_, spoken in now.deduction.spoken.items():
        for conclusion in spoken.rule.then:
            factor = now.base.scale.factor.get(conclusion.by or "", 1.0)
            if conclusion.rule_out == cause:
                yield RuleWeight(rule=id_, because=spoken.rule.because, log_odds=None)
            elif conclusion.raises == cause:
                yield RuleWeight(rule=id_, because=spoken.rule.because, log_odds=math.log(factor))
            elif conclusion.lowers == cause:
                yield RuleWeight(rule=id_, because=spoken.rule.because, log_odds=-math.log(factor))


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
            found.append(Turn(check=check.id, name=check.name, lowest=min(after), highest=max(after)))
    return tuple(sorted(found, key=lambda turn: (turn.lowest - turn.highest, turn.check))[:most])
