"""What ways of meeting a condition can't be, and which of them come with others."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from .. import model
from ..base import NOT, KnowledgeBase
from ..conditions import Way, comparisons
from ..entry import AmpValue

Comparisons = Mapping[str, tuple[model.Condition, bool]]  # by atom: the plain condition, and which way it must go


def comparisons_of(condition: model.Condition) -> Comparisons:
    return {atom: (leaf, wanted) for atom, leaf, wanted in comparisons(condition)}


@dataclass(frozen=True)
class Span:
    """A range of numbers; an end that is `in_` counts as inside."""

    low: float = -math.inf
    low_in: bool = False
    high: float = math.inf
    high_in: bool = False

    def both(self, other: Span) -> Span:
        low, low_in = max((self.low, not self.low_in), (other.low, not other.low_in))
        high, high_in = min((self.high, self.high_in), (other.high, other.high_in))
        return Span(low, not low_in, high, high_in)

    @property
    def empty(self) -> bool:
        return self.low > self.high or (self.low == self.high and not (self.low_in and self.high_in))

    def within(self, other: Span) -> bool:
        return self.both(other) == self


def span_of(leaf: model.Condition, wanted: bool) -> Span | None:
    """The range a comparison with numbers asks for; None for one that is no single range of numbers."""
    if isinstance(leaf.above, model.Other) or isinstance(leaf.below, model.Other):
        return None
    if wanted:
        low = -math.inf if leaf.above is None else leaf.above
        high = math.inf if leaf.below is None else leaf.below
        return Span(low, False, high, False)
    if leaf.above is not None and leaf.below is not None:
        return None
    return Span(high=leaf.above, high_in=True) if leaf.above is not None else Span(low=leaf.below or 0.0, low_in=True)


def impossible(base: KnowledgeBase, way: Way, compared: Comparisons, settled: Collection[str]) -> str:
    """Why a way of meeting a condition can never come about; '' when it can."""
    for atom in sorted(way.present):
        kind, _, id_ = atom.partition(":")
        if kind == "finding" and f"denied:{id_}" in way.present:
            return f"'{id_}' can't be true and answered no at once"
        if kind == "complaint" and f"complaint:not {id_}" in way.present:
            return f"the player can't complain of '{id_}' and not complain of it"
        if atom in way.absent or (kind == "spoken" and f"spoken:{id_}" in way.absent):
            return f"'{id_}' can't be known and unknown at once"
        if kind in ("finding", "denied") and id_ not in settled:
            return f"nothing ever settles '{id_}'"
    return next(_out_of_range(base, [compared[atom] for atom in sorted(way.present) if atom in compared]), "")


def _out_of_range(base: KnowledgeBase, tests: list[tuple[model.Condition, bool]]) -> Iterator[str]:
    spans: dict[str, Span] = {}
    allowed: dict[str, set[AmpValue]] = {}
    answers: dict[str, set[str]] = {}
    for leaf, wanted in tests:
        name = leaf.value or leaf.since
        if name is not None and (span := span_of(leaf, wanted)) is not None:
            spans[name] = spans.get(name, Span()).both(span)
            if spans[name].empty:
                yield f"'{name}' can't be in two ranges that do not meet"
        if leaf.amp is not None and wanted:
            for fact, value in leaf.amp.items():
                values = set(value) if isinstance(value, tuple) else {value}
                if any(str(one).startswith(NOT) for one in values):
                    continue
                allowed[fact] = allowed.get(fact, values) & values
                if not allowed[fact]:
                    yield f"the amp fact '{fact}' can't have two values at once"
        if leaf.answer is not None and leaf.answer in base.checks:
            keys = {leaf.is_} if isinstance(leaf.is_, str) else set(leaf.is_ or ())
            every = set(base.checks[leaf.answer].answers)
            answers[leaf.answer] = answers.get(leaf.answer, every) & (keys if wanted else every - keys)
            if not answers[leaf.answer]:
                yield f"'{leaf.answer}' can't be answered so"


def comes_with(way: Way, compared: Comparisons, other: Way, others: Comparisons) -> bool:
    """Whether meeting a condition this way always meets another condition that other way."""
    if not other.absent <= way.absent:
        return False
    return all(
        atom in way.present
        or any(_narrower(compared[mine], others[atom]) for mine in way.present if mine in compared and atom in others)
        for atom in other.present
    )


def _narrower(one: tuple[model.Condition, bool], other: tuple[model.Condition, bool]) -> bool:
    """Whether a comparison can only come out if the other one does."""
    (leaf, wanted), (wide, wide_wanted) = one, other
    if (name := leaf.value or leaf.since) is not None:
        span, wider = span_of(leaf, wanted), span_of(wide, wide_wanted)
        return name == (wide.value or wide.since) and span is not None and wider is not None and span.within(wider)
    if leaf.amp is not None and wide.amp is not None and wanted and wide_wanted:
        return all(fact in leaf.amp and _listed(leaf.amp[fact]) <= _listed(value) for fact, value in wide.amp.items())
    if leaf.answer is not None and leaf.answer == wide.answer and wanted and wide_wanted:
        return _listed(leaf.is_ or ()) <= _listed(wide.is_ or ())
    return False


def _listed(value: object) -> set[object]:
    return set(value) if isinstance(value, tuple) else {value}
