"""A rule must be able to speak, to be run, and to do what its own examples say."""

from __future__ import annotations

from collections.abc import Iterator

from ...reference.errors import Problem, did_you_mean
from .. import model
from ..base import KnowledgeBase
from ..conditions import Situation, TooWide, met, ways
from .frame import Look, lint
from .possible import comparisons_of, impossible


@lint("error")
def rule_too_wide(look: Look) -> Iterator[Problem]:
    """A condition that can be met in more than 64 ways, or asks for more than 16 things at once, is more than the
    chainer can take. Let another rule conclude a finding from part of it, and ask for that finding.
    """
    for rule in look.base.rules.values():
        try:
            ways(rule.when)
        except TooWide as error:
            yield look.problem("rules", rule, ("when",), str(error))


@lint("error")
def unknown_answer(look: Look) -> Iterator[Problem]:
    """A rule that waits for an answer its check does not have would wait forever. Name one of the check's answer
    keys.
    """
    for rule in look.base.rules.values():
        for leaf in rule.when.leaves():
            check = look.base.checks.get(leaf.answer or "")
            if check is None or leaf.is_ is None:
                continue
            for key in leaf.is_ if isinstance(leaf.is_, tuple) else (leaf.is_,):
                if key not in check.answers:
                    takes = f"It takes: {', '.join(check.answers) or 'readings'}."
                    hint = did_you_mean(key, list(check.answers)) or takes
                    yield look.problem("rules", rule, ("when",), f"'{check.id}' has no answer '{key}'.", hint)


@lint("error")
def rule_never_speaks(look: Look) -> Iterator[Problem]:
    """A condition that contradicts itself, or asks for a finding that no check, complaint or rule ever settles: the
    rule would never speak. Correct the condition.
    """
    base = look.base
    concluded = {c.conclude for rule in base.rules.values() for c in rule.then if c.conclude}
    settled = {*base.checks_settling, *base.symptoms, *concluded}
    for rule in base.rules.values():
        try:
            found = ways(rule.when)
        except TooWide:
            continue
        compared = comparisons_of(rule.when)
        reasons = [impossible(base, way, compared, settled) for way in found]
        if all(reasons):
            yield look.problem("rules", rule, ("when",), f"can never speak: {reasons[0]}")


@lint("error")
def rule_example(look: Look) -> Iterator[Problem]:
    """A rule is silent in a situation its `examples` say it speaks in, or the other way round. Either the condition
    or the example is not what was meant. Ids that an example names must exist.
    """
    for rule in look.base.rules.values():
        if rule.examples is None:
            continue
        for kind, wanted in (("speaks", True), ("silent", False)):
            for number, example in enumerate(getattr(rule.examples, kind)):
                place = ("examples", kind, number)
                if unknown := _unknown(look.base, example):
                    yield look.problem("rules", rule, place, f"names '{unknown}', which does not exist")
                elif met(rule.when, situation_of(example)) is not wanted:
                    does = "speaks in an example that it must be silent in" if not wanted else "is silent in an example"
                    yield look.problem("rules", rule, place, f"the rule {does}")


@lint("error")
def no_repair_left(look: Look) -> Iterator[Problem]:
    """Rules that together forbid every repair of a cause: whoever has that fault would be left with nothing. Leave
    one repair, or add another.
    """
    base = look.base
    forbidden = {c.forbid: (rule, n) for rule in base.rules.values() for n, c in enumerate(rule.then) if c.forbid}
    for cause in base.causes.values():
        if all(repair in forbidden for repair in cause.repairs):
            rule, number = forbidden[cause.repairs[0]]
            message = f"no repair of '{cause.id}' is left: its only ones are forbidden"
            yield look.problem("rules", rule, ("then", number), message)


def situation_of(example: model.Example) -> Situation:
    """An example as the situation a condition is judged in."""
    return Situation(
        amp=example.amp,
        complaints=frozenset(example.complaints),
        known={
            **dict.fromkeys(example.complaints, True), **dict.fromkeys(example.findings, True),
            **dict.fromkeys(example.denied, False),
        },
        answers=example.answers,
        values=example.values,
        since=example.minutes_since,
        spoken=frozenset(example.spoken),
    )  # fmt: skip


def _unknown(base: KnowledgeBase, example: model.Example) -> str:
    """The first id of an example that nothing has."""
    noted = (*example.complaints, *example.findings, *example.denied)
    wrong = [
        *(id_ for id_ in noted if id_ not in base.symptoms and id_ not in base.findings),
        *(id_ for id_ in example.complaints if id_ not in base.symptoms),
        *(fact for fact in example.amp if fact not in base.amp_facts),
        *(id_ for id_, key in example.answers.items() if id_ not in base.checks or key not in base.checks[id_].answers),
        *(name for name in example.values if not _has_value(base, name)),
        *(id_ for id_ in example.spoken if id_ not in base.rules),
    ]
    return wrong[0] if wrong else ""


def _has_value(base: KnowledgeBase, name: str) -> bool:
    check_id, _, quantity = name.partition("/")
    check = base.checks.get(check_id)
    return check is not None and (quantity in check.readings or quantity in check.figures)
