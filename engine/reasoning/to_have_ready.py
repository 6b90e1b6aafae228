"""What to have at hand before the work begins: tools, and parts for the causes that are likely enough."""

from __future__ import annotations

from dataclasses import dataclass

from .parts_needed import PartNeeded
from .plan import worthwhile
from .session import Standing

LIKELY_ENOUGH = 0.1  # parts for causes below this need not be at hand


class PartForACause(PartNeeded):
    """A part that a repair of this cause takes."""

    cause: str


@dataclass(frozen=True)
class Ready:
    """What to have at hand: tools, and parts with the cause each is for."""

    tools: tuple[str, ...]
    parts: tuple[PartForACause, ...]


def to_have_ready(now: Standing) -> Ready:
    """Tools for the checks that come first or are worth doing, and parts for the causes likely enough."""
    checks = [*now.plan.safety_checks(), *(now.base.checks[one.check] for one in worthwhile(now.worths))]
    tools = dict.fromkeys(tool for check in checks for tool in check.tools)
    parts: list[PartForACause] = []
    for candidate in now.leading:
        if candidate.probability >= LIKELY_ENOUGH:
            repair = now.base.repairs[now.deduction.repairs(now.base.causes[candidate.cause])[0]]
            parts.extend(PartForACause.needed(now.base, part, cause=candidate.cause) for part in repair.parts)
    return Ready(tuple(tools), tuple(parts))
