"""The rules: what they say, why one has spoken on a job or has not, and what a new one would change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from ..jobs.shop import trial as trying
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..knowledge.conditions import Situation
from ..reasoning.rule_sentences import conclusion
from ..reasoning.rule_verdict import Judged, judged
from ..reasoning.session import Standing
from ..reference.errors import Problem
from ..report import Report
from .knowledge import ProblemFound, problems_found


class RulesCheck(Report):
    """rules: how many there are, examples: how many situations they were tried on."""

    shape: Literal["chopstick rules check 1"] = "chopstick rules check 1"
    errors: int
    warnings: int
    problems: tuple[ProblemFound, ...]
    rules: int
    examples: int


class RuleTold(Report):
    """when, then: in plain sentences, `when` a line a condition, indented by what it belongs to. spoken: whether it
    has spoken on the job that was named; rests_on: what it then rests on."""

    rule: str
    where: str
    when: tuple[str, ...]
    then: tuple[str, ...]
    because: str
    spoken: bool | None
    rests_on: tuple[str, ...]


class RulesTold(Report):
    shape: Literal["chopstick rules 1"] = "chopstick rules 1"
    rules: tuple[RuleTold, ...]


class MissingCondition(Report):
    """One plain condition that stands in the way. now: what is known instead."""

    condition: str
    verdict: Literal["not met", "open"]
    now: str


class WhyNot(Report):
    shape: Literal["chopstick why not 1"] = "chopstick why not 1"
    rule: str
    job: int
    spoken: bool
    missing: tuple[MissingCondition, ...]


class MovedCause(Report):
    cause: str
    before: float
    after: float
    true: bool


class TriedJob(Report):
    """One job of a trial. verdict: better or worse against what the amp really had, changed where nobody knows."""

    job: str
    verdict: trying.Verdict
    better: tuple[str, ...]
    worse: tuple[str, ...]
    moved: tuple[MovedCause, ...]
    minutes_before: float
    minutes_after: float
    checks_before: tuple[str, ...]
    checks_after: tuple[str, ...]
    holds_before: tuple[str, ...]
    holds_after: tuple[str, ...]
    trouble: str


class Trial(Report):
    shape: Literal["chopstick trial 1"] = "chopstick trial 1"
    counts: dict[str, int]
    jobs: tuple[TriedJob, ...]


def rules_check(problems: Sequence[Problem], rules: Sequence[model.Rule]) -> RulesCheck:
    """What is wrong with the rules in force."""
    errors = sum(one.severity == "error" for one in problems)
    tried = sum(len(one.examples.speaks) + len(one.examples.silent) for one in rules if one.examples)
    return RulesCheck(
        errors=errors, warnings=len(problems) - errors, problems=problems_found(problems), rules=len(rules),
        examples=tried,
    )  # fmt: skip


def rule_told(base: KnowledgeBase, rule: model.Rule, now: Standing | None) -> RuleTold:
    """A rule in plain sentences; now: of a job that it is to be told of."""
    spoken = now.deduction.spoken.get(rule.id) if now else None
    return RuleTold(
        rule=rule.id,
        where=str(rule.where),
        when=tuple(_indented(judged(base, rule.when, Situation()))),
        then=tuple(conclusion(base, one) for one in rule.then),
        because=rule.because,
        spoken=None if now is None else spoken is not None,
        rests_on=spoken.because if spoken else (),
    )


def _indented(told: Judged, depth: int = 0) -> list[str]:
    lines = [" " * depth + told.text + (":" if told.parts else "")]
    return lines + [line for part in told.parts for line in _indented(part, depth + 2)]


def why_not(rule: model.Rule, job: int, spoken: bool, result: Judged) -> WhyNot:
    """What keeps a rule silent on a job."""
    failing = () if spoken else tuple(MissingCondition.made_of(one, condition=one.text) for one in result.failing())
    return WhyNot(rule=rule.id, job=job, spoken=spoken, missing=failing)


def trial(done: Iterable[trying.TriedTwice]) -> Trial:
    """What changed on every job that was tried."""
    jobs = tuple(map(_tried, done))
    counts: dict[str, int] = {verdict: sum(one.verdict == verdict for one in jobs) for verdict in trying.VERDICTS}
    return Trial(counts=counts, jobs=jobs)


def _tried(one: trying.TriedTwice) -> TriedJob:
    truth = one.case.file.truth
    return TriedJob.made_of(
        one,
        job=one.case.name,
        moved=tuple(MovedCause(cause=id_, before=was, after=now, true=id_ in truth) for id_, was, now in one.moved),
        minutes_before=one.before.minutes,
        minutes_after=one.after.minutes,
        checks_before=one.before.checks,
        checks_after=one.after.checks,
        holds_before=one.before.holds,
        holds_after=one.after.holds,
        trouble=one.after.trouble,
    )
