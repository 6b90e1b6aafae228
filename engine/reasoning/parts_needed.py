"""The parts that repairs need, as every report names them."""

from __future__ import annotations

from typing import Self

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..report import Report


class PartNeeded(Report):
    """A part: its value in trade notation or the rule that gives it, its rating, and how many."""

    part: str
    value: str
    rating: str
    quantity: int

    @classmethod
    def needed(cls, base: KnowledgeBase, part: model.Part, **more: object) -> Self:
        """A part of a repair, with what else a report tells of it."""
        named = {"part": base.parts_list.words(part), "value": part.value or "", "rating": part.rating or ""}
        return cls.made_of(part, **named, **more)

    @property
    def name(self) -> str:
        """What it is, with its value."""
        return _listed(self.part, self.value)

    @property
    def specification(self) -> str:
        """What to look for or to order: name, value and rating."""
        return _listed(self.part, self.value, self.rating)

    def counted(self, named: str) -> str:
        """A name of the part with how many are needed, where it is more than one."""
        return f"{self.quantity} x {named}" if self.quantity > 1 else named


def _listed(*texts: str) -> str:
    return ", ".join(filter(None, texts))
