"""Lints: each a function with an id, a severity and a one-paragraph manual (its docstring).

A lint is any function marked with `@lint` in a module of this folder; nothing is registered by hand.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Iterator
from importlib import import_module

from ...reference.errors import Problem
from .frame import Lint, Look


def lints() -> tuple[Lint, ...]:
    """Every lint, by id."""
    found: dict[str, Lint] = {}
    for module in pkgutil.iter_modules(__path__):
        for value in vars(import_module(f"{__name__}.{module.name}")).values():
            if isinstance(value, Lint):
                found[value.id] = value
    return tuple(found[id_] for id_ in sorted(found))


def run(look: Look, thorough: bool) -> Iterator[Problem]:
    """Every problem in the base. Warnings are looked for only when `thorough`; they cost time."""
    for lint in lints():
        if thorough or lint.severity == "error":
            yield from lint.run(look)


def run_safety(look: Look) -> Iterator[Problem]:
    """What the layers above `below` lower of its safety matters, and nothing else."""
    for lint in lints():
        if lint.between_layers:
            yield from lint.run(look)


__all__ = ["Lint", "Look", "lints", "run", "run_safety"]
