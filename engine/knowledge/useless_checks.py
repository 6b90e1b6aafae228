"""Checks that are never worth doing: whatever they settle, other checks settle at least as early and as quickly."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from . import model
from .base import KnowledgeBase


@dataclass(frozen=True)
class Idle:
    """A check, and those that settle all it settles, no later and in no more minutes."""

    check: str
    instead: tuple[str, ...]


def idle(base: KnowledgeBase) -> Iterator[Idle]:
    """Every check that the plan would have no reason to choose, in the order of the files.

    A check of readings is left alone: rules and figures may ask for its numbers. So is one that a rule puts first or
    that proves a repair.
    """
    wanted = {proof.check for repair in base.repairs.values() for proof in repair.proof}
    wanted |= {one.check_first for rule in base.rules.values() for one in rule.then if one.check_first}
    wanted |= {leaf.answer for rule in base.rules.values() for leaf in rule.when.leaves() if leaf.answer}
    for check in base.written.values():
        if check.readings or check.id in wanted:
            continue
        instead = [_sooner(base, check, finding) for finding in check.findings()]
        if instead and all(instead):
            yield Idle(check.id, tuple(dict.fromkeys(instead)))


def _sooner(base: KnowledgeBase, check: model.Check, finding: str) -> str:
    """A check that settles a finding no later than another check does, on every amp where that one can be done."""
    ours = _rank(check)
    others = (base.checks[id_] for id_ in base.checks_settling[finding] if id_ != check.id)
    fit = [other for other in others if _rank(other) < ours and other.minutes <= check.minutes and _wider(other, check)]
    return min(fit, key=_rank).id if fit else ""


def _rank(check: model.Check) -> tuple[int, float, str]:
    return model.STAGES.index(check.stage), check.minutes, check.id


def _wider(other: model.Check, check: model.Check) -> bool:
    """Whether a check can be done on every amp on which another can."""
    return all(check.needs.get(fact) == wanted for fact, wanted in other.needs.items())
