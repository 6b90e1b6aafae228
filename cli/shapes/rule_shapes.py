"""The documented JSON of `chopstick rules` and `chopstick packs`, under the same promise as shapes.py."""

from __future__ import annotations

from typing import Literal

from .shapes import ProblemShape, Shape


class RulesCheckShape(Shape):
    """`rules check`. rules: how many there are, examples: how many situations they were tried on."""

    shape: Literal["chopstick rules check 1"] = "chopstick rules check 1"
    errors: int
    warnings: int
    problems: tuple[ProblemShape, ...]
    rules: int
    examples: int


class RuleShape(Shape):
    """`rules explain`. when, then: in plain sentences, `when` a line a condition, indented by what it belongs to.
    spoken: whether it has spoken on the job that was named; rests_on: what it then rests on."""

    rule: str
    where: str
    when: tuple[str, ...]
    then: tuple[str, ...]
    because: str
    spoken: bool | None
    rests_on: tuple[str, ...]


class RulesShape(Shape):
    shape: Literal["chopstick rules 1"] = "chopstick rules 1"
    rules: tuple[RuleShape, ...]


class ConditionShape(Shape):
    """One plain condition that stands in the way. now: what is known instead."""

    condition: str
    verdict: Literal["not met", "open"]
    now: str


class WhyNotShape(Shape):
    shape: Literal["chopstick why not 1"] = "chopstick why not 1"
    rule: str
    job: int
    spoken: bool
    missing: tuple[ConditionShape, ...]


class MoveShape(Shape):
    cause: str
    before: float
    after: float
    true: bool


class TrialJobShape(Shape):
    """One job of a trial. verdict: better or worse against what the amp really had, changed where nobody knows."""

    job: str
    verdict: Literal["better", "worse", "changed", "same"]
    better: tuple[str, ...]
    worse: tuple[str, ...]
    moved: tuple[MoveShape, ...]
    minutes_before: float
    minutes_after: float
    checks_before: tuple[str, ...]
    checks_after: tuple[str, ...]
    holds_before: tuple[str, ...]
    holds_after: tuple[str, ...]
    trouble: str


class TrialShape(Shape):
    shape: Literal["chopstick trial 1"] = "chopstick trial 1"
    counts: dict[str, int]
    jobs: tuple[TrialJobShape, ...]


class LayerShape(Shape):
    kind: str
    name: str
    path: str
    version: str
    about: str


class LayersShape(Shape):
    """`packs list`: every layer, in the order in which they lie over the shipped base; later ones win."""

    shape: Literal["chopstick layers 1"] = "chopstick layers 1"
    layers: tuple[LayerShape, ...]


class DifferenceShape(Shape):
    kind: Literal["added", "changed", "gone"]
    section: str
    id: str
    lines: tuple[str, ...]


class DifferencesShape(Shape):
    """`packs diff` and `packs add`: what would change in the knowledge in force."""

    shape: Literal["chopstick differences 1"] = "chopstick differences 1"
    name: str
    version: str
    differences: tuple[DifferenceShape, ...]


class OriginShape(Shape):
    """Where one value of an entry stands. layer: which layer of one's own it is from, '' for the base."""

    section: str
    field: str
    where: str
    layer: str


class OriginsShape(Shape):
    """`packs origin`: every value of an entry that is in force."""

    shape: Literal["chopstick origins 1"] = "chopstick origins 1"
    id: str
    values: tuple[OriginShape, ...]
