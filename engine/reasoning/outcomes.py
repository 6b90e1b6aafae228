"""What each outcome of a check would mean, and how far it would move the ranking."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..knowledge import model
from .bands import bands_of
from .facts import Said
from .session import Standing

MOVES_WORTH_NAMING = 0.05  # a change of probability below this is not named


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
