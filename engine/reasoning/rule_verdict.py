"""A rule in plain sentences, and condition by condition why it has spoken on a job or has not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..knowledge.conditions import Situation, count_wanted, met
from .deduce import Deduction, situation
from .facts import Facts
from .rule_sentences import quantity_named, quantity_shown, sentence

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
    return Judged(sentence(base, condition, wanted), verdict, "" if verdict == "met" else _known(base, condition, now))


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
        f"{quantity_named(base, name)} is {quantity_shown(base, name, now.values[name])}" if name in now.values
        else f"{quantity_named(base, name)} is not measured yet"
        for name in names
    )  # fmt: skip
