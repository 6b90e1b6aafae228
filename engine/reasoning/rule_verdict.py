"""A rule in plain sentences, and condition by condition why it has spoken on a job or has not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from ..bench.notation import show
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..knowledge.conditions import Situation, count_wanted, met
from .deduce import Deduction, situation
from .facts import Facts

Verdict = Literal["met", "not met", "open"]


@dataclass(frozen=True)
class Judged:
    """A condition with what it comes to. text: a sentence; now: what is known instead; parts: what it combines."""

    text: str
    verdict: Verdict
    now: str = ""
    parts: tuple[Judged, ...] = ()

    def failing(self) -> Iterator[Judged]:
        """The plain conditions that stand in the way."""
        if self.verdict == "met":
            return
        if not self.parts:
            yield self
        for part in self.parts:
            yield from part.failing()


def after(facts: Facts, deduction: Deduction) -> Situation:
    """The facts of a log as conditions are judged on once the rules have spoken."""
    before = situation(facts)
    concluded = {said.finding: True for said in deduction.findings}
    return replace(before, known={**concluded, **before.known}, spoken=frozenset(deduction.spoken))


def judged(base: KnowledgeBase, condition: model.Condition, now: Situation, wanted: bool = True) -> Judged:
    """A condition, and all that it combines, judged in a situation."""
    if condition.negated is not None:
        return judged(base, condition.negated, now, not wanted)
    against = "not met" if met(condition, now, not wanted) else "open"
    verdict: Verdict = "met" if met(condition, now, wanted) else against  # type: ignore[assignment]
    if parts := condition.parts():
        least, part_wanted = count_wanted(condition, len(parts), wanted)
        title = "all of these" if least == len(parts) else f"at least {least} of these"
        return Judged(title, verdict, parts=tuple(judged(base, part, now, part_wanted) for part in parts))
    return Judged(_sentence(base, condition, wanted), verdict, "" if verdict == "met" else _known(base, condition, now))


def _sentence(base: KnowledgeBase, leaf: model.Condition, wanted: bool) -> str:
    no = "" if wanted else "not so: "
    if leaf.finding is not None:
        return f"{no}{base.text(leaf.finding)}"
    if leaf.denied is not None:
        return f"{'answered no' if wanted else 'so'}: {base.text(leaf.denied)}"
    if leaf.unknown is not None:
        return f"{'nothing' if wanted else 'something'} is known of: {base.text(leaf.unknown)}"
    if leaf.complaint is not None:
        return f"{no}the player complains of: {base.text(leaf.complaint)}"
    if leaf.spoken is not None:
        return f"the rule '{leaf.spoken}' has {'' if wanted else 'not '}spoken"
    if leaf.answer is not None:
        keys = leaf.is_ if isinstance(leaf.is_, tuple) else (leaf.is_ or "",)
        return f"{base.checks[leaf.answer].name}: {'' if wanted else 'not '}answered {' or '.join(keys)}"
    if leaf.amp is not None:
        told = "; ".join(f"{fact} is {_listed(value)}" for fact, value in leaf.amp.items())
        return f"{no}{told}"
    bounds = [
        f"{word} {_bound(base, leaf, bound)}"
        for word, bound in (("above", leaf.above), ("below", leaf.below))
        if bound is not None
    ]
    if leaf.since is not None:
        return f"{no}minutes since {leaf.since.replace('/', ' ')}: {' and '.join(bounds)}"
    return f"{no}{_quantity(base, leaf.value or '')}: {' and '.join(bounds)}"


def _bound(base: KnowledgeBase, leaf: model.Condition, bound: float | model.Other) -> str:
    if not isinstance(bound, model.Other):
        return f"{bound:g}" if leaf.since is not None else _shown(base, leaf.value or "", bound)
    times = "" if bound.times == 1 else f"{bound.times:g} times "
    more = "plus" if bound.plus > 0 else "less"
    plus = "" if bound.plus == 0 else f" {more} {_shown(base, bound.value, abs(bound.plus))}"
    return f"{times}({_quantity(base, bound.value)}){plus}"


def _quantity(base: KnowledgeBase, name: str) -> str:
    check_id, _, quantity = name.partition("/")
    check = base.checks.get(check_id)
    if check is None:
        return name
    if quantity in check.readings:
        return check.readings[quantity].ask
    figure = check.figures.get(quantity)
    return figure.text or f"{quantity.replace('-', ' ')} of: {check.name}" if figure else name


def _shown(base: KnowledgeBase, name: str, value: float) -> str:
    check_id, _, quantity = name.partition("/")
    check = base.checks.get(check_id)
    if check is not None and quantity in check.readings:
        return show(value, check.readings[quantity].unit)
    unit = check.figures[quantity].unit if check is not None and quantity in check.figures else None
    return show(value, unit) if unit else f"{value:g}"


def _known(base: KnowledgeBase, leaf: model.Condition, now: Situation) -> str:
    """What is known of the matter of a condition that is not met."""
    named = leaf.finding or leaf.denied or leaf.unknown
    if named is not None:
        return {None: "nothing is known of it yet", True: "it is so", False: "it was answered no"}[now.known.get(named)]
    if leaf.complaint is not None:
        return "the player does" if leaf.complaint in now.complaints else "the player does not"
    if leaf.spoken is not None:
        return "it has spoken" if leaf.spoken in now.spoken else "it has not spoken"
    if leaf.answer is not None:
        return f"it was answered {now.answers[leaf.answer]}" if leaf.answer in now.answers else "it is not answered yet"
    if leaf.amp is not None:
        told = [f"{fact} is {now.amp[fact]}" if fact in now.amp else f"{fact} is not known" for fact in leaf.amp]
        return "; ".join(told)
    if leaf.since is not None:
        minutes = now.since.get(leaf.since)
        return "there is no such entry yet" if minutes is None else f"it is {minutes:.0f} minutes"
    names = [leaf.value or "", *(one.value for one in (leaf.above, leaf.below) if isinstance(one, model.Other))]
    return "; ".join(
        f"{_quantity(base, name)} is {_shown(base, name, now.values[name])}" if name in now.values
        else f"{_quantity(base, name)} is not measured yet"
        for name in names
    )  # fmt: skip


def conclusion(base: KnowledgeBase, one: model.Conclusion) -> str:
    """A conclusion as a sentence."""
    about = one.about
    change = f"times {one.times:g}" if one.times is not None else "" if one.add is None else f"{one.add:+g}"
    match one.form:
        case "conclude":
            return f"it is so: {base.text(about)}"
        case "raise" | "lower":
            return f"{base.causes[about].name}: {one.by} {'more' if one.form == 'raise' else 'less'} likely"
        case "rule_out":
            return f"{base.causes[about].name}: ruled out"
        case "check_first":
            return f"check this first: {base.checks[about].name}"
        case "skip":
            return f"leave out: {base.checks[about].name}"
        case "hold":
            return f"HOLD: {base.holds[about].text}"
        case "prefer":
            return f"the repair to prefer: {base.repairs[about].name}"
        case "forbid":
            return f"a repair not to do: {base.repairs[about].name}"
        case "check_minutes":
            return f"minutes {change}: {base.checks[about].name}"
        case "repair_minutes":
            return f"minutes {change}: {base.repairs[about].name}"
        case "price":
            return f"price of the parts {change}: {base.repairs[about].name}"
    return f"advice: {about}"


def _listed(value: object) -> str:
    return " or ".join(map(str, value)) if isinstance(value, tuple) else str(value)
