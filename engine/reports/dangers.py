"""The dangers of the knowledge base: what each cause with a hazard bars, and the findings by which it does."""

from __future__ import annotations

from typing import Literal

from ..knowledge.base import KnowledgeBase
from ..knowledge.hazards import bars_of, betrayed_by
from ..knowledge.model import Bars
from ..report import Report
from .knowledge import Place


class BarringFinding(Report):
    """bars: what it forbids while it stands, which is at least as much as the cause does."""

    finding: str
    text: str
    bars: Bars


class Danger(Report):
    """A cause that can do harm. bars: what its danger forbids; by: the findings that it shows usually and that forbid
    it, none where it bars nothing."""

    cause: str
    name: str
    area: str
    where: Place
    hazard: Literal["damage", "fire", "shock"]
    bars: Bars
    by: tuple[BarringFinding, ...]


class Dangers(Report):
    shape: Literal["chopstick dangers 1"] = "chopstick dangers 1"
    dangers: tuple[Danger, ...]


def dangers(base: KnowledgeBase) -> Dangers:
    """Every cause with a hazard, in the order of the knowledge base."""
    return Dangers(
        dangers=tuple(
            Danger.made_of(
                cause,
                cause=cause.id,
                area=base.area_of(cause.id),
                bars=bars_of(cause),
                by=tuple(
                    BarringFinding(finding=id_, text=base.findings[id_].text, bars=bars)
                    for id_, bars in betrayed_by(base, cause).items()
                ),
            )
            for cause in base.causes.values()
            if cause.hazard != "none"
        )
    )
