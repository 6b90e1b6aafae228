"""Which entries name which parts, and where."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..reference.text import Place
from .base import KnowledgeBase
from .entry import Entry


def named(base: KnowledgeBase) -> Iterator[tuple[str, Entry, Place, str]]:
    """Every part that a cause, repair or price names, with its section, entry and place."""
    for cause in base.causes.values():
        for number, name in enumerate(cause.part):
            yield "causes", cause, at(cause.part, "part", number), name
    for repair in base.repairs.values():
        for line, part in enumerate(repair.parts):
            for number, name in enumerate(part.part):
                yield "repairs", repair, ("parts", line, *at(part.part, "part", number)), name
    for price in base.prices.values():
        if price.part is not None:
            yield "prices", price, ("part",), price.part


def users(base: KnowledgeBase) -> Mapping[str, tuple[str, ...]]:
    """For each part, the ids of the causes, repairs and prices that name it; its kinds count for themselves."""
    found: dict[str, dict[str, None]] = {id_: {} for id_ in base.parts}
    for _, entry, _, name in named(base):
        for kind in base.parts_list.meant((name,)):
            found[kind.id][entry.id] = None
    return {id_: tuple(entries) for id_, entries in found.items()}


def at(several: Sequence[str], field: str, number: int) -> Place:
    """Where one of several words stands; one alone is written without a list."""
    return (field, number) if len(several) > 1 else (field,)
