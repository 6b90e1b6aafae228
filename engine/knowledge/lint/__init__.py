"""Lints: each a function with an id, a severity and a one-paragraph manual (its docstring).

A lint is any function marked with `@lint` in a module of this folder; nothing is registered by hand.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Iterator, Mapping
from importlib import import_module

from ...reference.errors import Problem
from ...reference.text import Document
from ..base import KnowledgeBase
from ..overlay import Merged
from .frame import Lint, Look


def lints() -> tuple[Lint, ...]:
    """Every lint, by id."""
    found: dict[str, Lint] = {}
    for module in pkgutil.iter_modules(__path__):
        for value in vars(import_module(f"{__name__}.{module.name}")).values():
            if isinstance(value, Lint):
                found[value.id] = value
    return tuple(found[id_] for id_ in sorted(found))


def run(
    base: KnowledgeBase,
    documents: Mapping[str, Document],
    thorough: bool,
    below: KnowledgeBase | None = None,
    over: Merged | None = None,
    glossary: Merged | None = None,
) -> Iterator[Problem]:
    """Every problem in the base. Warnings are looked for only when `thorough`; they cost time.

    below: the shipped base, and over: what layers did to it, when there are any. glossary: the files of the glossary;
    its words are looked at only when they are given.
    """
    for lint in lints():
        if thorough or lint.severity == "error":
            yield from lint.run(Look(base, documents, below, over, glossary))


def run_safety(
    base: KnowledgeBase, documents: Mapping[str, Document], below: KnowledgeBase | None, over: Merged
) -> Iterator[Problem]:
    """What the layers above `below` lower of its safety matters, and nothing else. over: what these layers did."""
    look = Look(base, documents, below, over)
    for lint in lints():
        if lint.between_layers:
            yield from lint.run(look)


__all__ = ["Lint", "Look", "lints", "run", "run_safety"]
