"""Answers that do not fit together are named, not averaged away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..knowledge.base import KnowledgeBase
from .deduce import Deduction
from .facts import Facts
from .ranking import Ranking

SURPRISING = 0.02  # a statement less probable than this, given the rest, is looked into
MOST_PAIRS = 400  # looked into at one time, of the most surprising statements
MENDED = 5.0  # leaving the other statement out must make it this many times more probable


@dataclass(frozen=True)
class Conflict:
    """Two findings that do not fit together (the same one twice, when it was said both ways), and why."""

    one: str
    other: str
    why: str
    one_text: str = ""
    other_text: str = ""


def conflicts(base: KnowledgeBase, facts: Facts, deduction: Deduction, ranking: Ranking) -> tuple[Conflict, ...]:
    """Every conflict, the certain ones first: findings declared to exclude each other, a rule against an answer,
    the same thing answered both ways, and statements that make each other very improbable."""
    found = [*_declared(base, facts, deduction), *_rules(base, deduction), *_both_ways(facts)]
    named = {frozenset((one.one, one.other)) for one in found}
    for conflict in _improbable(ranking):
        if frozenset((conflict.one, conflict.other)) not in named:
            named.add(frozenset((conflict.one, conflict.other)))
            found.append(conflict)
    return tuple(found)


def _declared(base: KnowledgeBase, facts: Facts, deduction: Deduction) -> list[Conflict]:
    true = {said.finding for said in (*facts.latest().values(), *deduction.findings) if said.present}
    pairs = {
        tuple(sorted((finding.id, other)))
        for finding in base.findings.values()
        for other in finding.against
        if finding.id in true and other in true
    }
    return [Conflict(one, other, "these can't both be true") for one, other in sorted(pairs)]


def _rules(base: KnowledgeBase, deduction: Deduction) -> list[Conflict]:
    return [
        Conflict(finding, finding, f"answered no, yet a rule says it is so: {base.rules[rule].because}")
        for finding, rule in deduction.clashes
    ]


def _both_ways(facts: Facts) -> list[Conflict]:
    """The same finding said present by one check and absent by another, with no repair in between. (Answering the same
    check again is a correction.)"""
    found = []
    for finding, last in facts.latest().items():
        each = {said.by: said for said in facts.said if said.finding == finding}
        against = [said for said in each.values() if said.present != last.present and said.repaired == last.repaired]
        if against:
            latest = max(against, key=lambda said: said.entry)
            why = f"said both ways: '{latest.how}', and '{last.how}'"
            found.append(Conflict(finding, finding, why))
    return found


def _improbable(ranking: Ranking) -> list[Conflict]:
    """None where the ranking is an estimate: what is so improbable in it may be the estimate's doing."""
    if ranking.posterior.bound > 0:
        return []
    evidence, links = ranking.evidence, [ranking.causes.link(said.finding) > 0 for said in ranking.evidence]
    expected = ranking.expected()
    # With no cause in common, neither can argue against the other.
    pairs = [
        (one, other)
        for one in np.flatnonzero(expected < SURPRISING).tolist()
        for other, said in enumerate(evidence)
        if said.finding != evidence[one].finding and (links[one] & links[other]).any()
    ]
    pairs = sorted(pairs, key=lambda pair: (float(expected[pair[0]]), pair))[:MOST_PAIRS]
    if not pairs:
        return []
    # How probable a statement was given all the others but one, against how probable it is with that one.
    chances = np.exp(ranking.without[[other for _, other in pairs]] - ranking.leaving_out(pairs))
    best: dict[int, tuple[float, int]] = {}
    for (one, other), chance in zip(pairs, chances.tolist(), strict=True):
        gain = chance / float(expected[one])
        if gain > best.get(one, (MENDED, 0))[0]:
            best[one] = (gain, other)
    found = []
    for one, (_, other) in best.items():
        why = f"with one of them true, the other would be met in only {expected[one]:.1%} of such amps"
        first, second = sorted((evidence[one].finding, evidence[other].finding))
        found.append(Conflict(first, second, why))
    return found
