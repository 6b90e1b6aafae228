"""Find a calculation by name: ``find("bias.plate_dissipation_percent")``.

Convention only: a figure is a public function of a module in this package that takes keyword arguments alone and
whose return annotation is Figure. Nothing is registered, and nothing outside this package can be reached by name.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import get_type_hints

from ..late import late
from .figure import Figure
from .units import unit_of

with late():
    from rapidfuzz import fuzz, process

Calculation = Callable[..., Figure]
_NAME = re.compile(r"[a-z][a-z0-9_]*\.[a-z][A-Za-z0-9_]*")


class UnknownFigure(LookupError):
    """There is no such calculation; the text is for people and names the nearest ones."""


@dataclass(frozen=True)
class Parameter:
    """One thing a calculation takes. unit: a key of units.UNITS, '' for a word or plain ratio."""

    name: str
    unit: str
    required: bool
    word: bool
    default: float | str | None = None


def find(name: str) -> Calculation:
    """The calculation of that name. Raises UnknownFigure, naming the nearest, when there is none."""
    known = _all()
    if _NAME.fullmatch(name) and name in known:
        return known[name]

    near = process.extract(name, list(known), scorer=fuzz.WRatio, limit=3, score_cutoff=50)
    hint = f"nearest: {', '.join(match[0] for match in near)}" if near else f"subjects: {', '.join(subjects())}"
    raise UnknownFigure(f"there is no calculation called '{name}'; {hint}")


def names() -> tuple[str, ...]:
    """Every calculation as ``subject.function``, in order."""
    return tuple(_all())


def subjects() -> dict[str, str]:
    """Each subject with the first line of its module's docstring."""
    modules = {name.split(".")[0] for name in _all()}
    return {
        module: (inspect.getdoc(importlib.import_module(f"{__package__}.{module}")) or "").split("\n")[0]
        for module in sorted(modules)
    }


def unit(function: Calculation) -> str:
    """The unit a calculation answers in, from the end of its name."""
    return unit_of(function.__name__)


def parameters(function: Calculation) -> tuple[Parameter, ...]:
    """What a calculation takes, in order."""
    hints = get_type_hints(function)
    return tuple(
        Parameter(
            name=parameter.name,
            unit=unit_of(parameter.name),
            required=parameter.default is inspect.Parameter.empty,
            word="str" in str(hints[parameter.name]),
            default=None if parameter.default is inspect.Parameter.empty else parameter.default,
        )
        for parameter in inspect.signature(function).parameters.values()
    )


@cache
def _all() -> dict[str, Calculation]:
    package = importlib.import_module(__package__ or "")
    found: dict[str, Calculation] = {}
    for info in sorted(pkgutil.iter_modules(package.__path__), key=lambda info: info.name):
        module = importlib.import_module(f"{__package__}.{info.name}")
        for name, value in vars(module).items():
            if not name.startswith("_") and _is_figure(value, module.__name__):
                found[f"{info.name}.{name}"] = value
    return found


def _is_figure(value: object, module: str) -> bool:
    if not inspect.isfunction(value) or value.__module__ != module or get_type_hints(value).get("return") is not Figure:
        return False
    return all(one.kind is inspect.Parameter.KEYWORD_ONLY for one in inspect.signature(value).parameters.values())
