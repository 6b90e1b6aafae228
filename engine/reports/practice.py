"""How a practice went."""

from __future__ import annotations

from typing import Literal

from ..knowledge.base import KnowledgeBase
from ..practice.amps import Amp
from ..practice.score import Done, Missed, Score, Unsafe
from ..reasoning.wording import said_of
from ..report import Report


class OrderedStep(Report):
    """One step of the plan's own order. kind: hold, check, proof or repair; got: what came of it."""

    kind: str
    id: str
    name: str
    stage: str
    got: str


class PracticeScore(Report):
    """How a practice went. amp: what the job was; points: 0 to 100; faults: what was wrong, by cause; minutes and
    checks: the learner's, and the plan's own on the same amp."""

    shape: Literal["chopstick practice 1"] = "chopstick practice 1"
    seed: int
    amp: str
    points: float
    faults: tuple[str, ...]
    found: tuple[str, ...]
    missed: tuple[Missed, ...]
    needless_repairs: tuple[str, ...]
    unsafe: tuple[Unsafe, ...]
    checks: int
    minutes: float
    plan_checks: int
    plan_minutes: float
    plan_order: tuple[OrderedStep, ...]


def practice_score(base: KnowledgeBase, amp: Amp, seed: int, score: Score) -> PracticeScore:
    """The score of a practice on an amp."""

    def ordered(one: Done) -> OrderedStep:
        return OrderedStep.made_of(one, got=said_of(base, one.got))

    return PracticeScore.made_of(
        score, seed=seed, amp=amp.file.job, faults=amp.file.truth, needless_repairs=score.needless,
        plan_order=tuple(map(ordered, score.order)),
    )  # fmt: skip
