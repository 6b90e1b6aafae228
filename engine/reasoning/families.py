"""Complaints made in general words ('it hums'), narrowed down to the kinds that were told since."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..knowledge.base import KnowledgeBase

Complained = tuple[str, str, int]  # symptom, the player's words, entry


def narrowed(base: KnowledgeBase, complaints: Sequence[Complained], now: Mapping[str, bool]) -> list[Complained]:
    """The complaints, a family among them replaced by those of its kinds that are there, each once. now: the last word
    on each finding. A family of which no kind is known stays."""
    found: dict[str, Complained] = {}
    for complained in complaints:
        for one in _kinds(base, complained, now):
            found.setdefault(one[0], one)
    return list(found.values()) if any(symptom in base.kinds for symptom, _, _ in complaints) else list(complaints)


def said_by_kinds(base: KnowledgeBase, now: Mapping[str, bool]) -> frozenset[str]:
    """The families that are there and one of whose kinds is: the kind says it, and says it once."""
    there = {family for family in base.kinds if now.get(family)}
    return frozenset(family for family in there if any(now.get(kind) for kind in base.kinds[family]))


def unparted(base: KnowledgeBase, complaints: Sequence[Complained]) -> tuple[str, ...]:
    """The checks that ask which kind of a family a complaint is."""
    return tuple(base.parting[symptom].id for symptom, _, _ in complaints if symptom in base.parting)


def _kinds(base: KnowledgeBase, complained: Complained, now: Mapping[str, bool]) -> list[Complained]:
    symptom, words, entry = complained
    family = base.symptoms[symptom].kinds
    there = [kind for kind in family.symptoms if now.get(kind)] if family else []
    if not there:
        return [complained]
    return [one for kind in there for one in _kinds(base, (kind, words, entry), now)]
