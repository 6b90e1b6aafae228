"""A document as a model: what does not fit is told as problems, each at its line and column."""

from __future__ import annotations

from collections.abc import Container
from types import UnionType
from typing import Any, TypeVar, Union

from pydantic import BaseModel, ValidationError

from ..reference.errors import Problem, did_you_mean
from ..reference.text import Document, Place
from . import model
from .term import TERMS

M = TypeVar("M", bound=BaseModel)
MOST_TOLD = 100  # of what is wrong with one file: nobody fixes more at a sitting


def validate(document: Document, kind: type[M], problems: list[Problem], drop: bool = False) -> M | None:
    """A document as a model; what does not fit is added to `problems`, each with its line and column.

    drop: leave out the entries that do not fit and go on with the rest, so that one wrong entry does not
    hide what is wrong elsewhere.
    """
    try:
        return kind.model_validate(document.value)
    except ValidationError as error:
        found = error.errors(include_url=False)
        above = {detail["loc"][:depth] for detail in found for depth in range(len(detail["loc"]))}
        details = [detail for detail in found if not _follows(detail, above)]
        problems.extend(_problem(document, detail, kind) for detail in details[:MOST_TOLD])
        if len(details) > MOST_TOLD:
            message = f"{len(details) - MOST_TOLD:,} more problems in this file; those above come first"
            problems.append(Problem(document.where(()), "", message))
        if drop and isinstance(document.value, dict):
            broken = {tuple(detail["loc"][:2]) for detail in found}
            rest = {
                section: {key: entry for key, entry in entries.items() if (section, key) not in broken}
                if section in (*model.SECTIONS, TERMS) and isinstance(entries, dict)
                else entries
                for section, entries in document.value.items()
                if section in kind.model_fields
            }
            try:
                return kind.model_validate(rest)
            except ValidationError:
                return None
        return None


def _follows(detail: Any, above: Container[Place]) -> bool:
    """Whether a list is called too short only because what stands in it does not fit. above: the places in which
    something else does not."""
    return detail["type"] == "too_short" and detail["loc"] in above


def _problem(document: Document, detail: Any, kind: type[BaseModel]) -> Problem:
    loc: Place = tuple(part for part in detail["loc"] if part != "[key]")
    place = loc
    while place and place not in document.values and place not in document.keys:
        place = place[:-1]
    entry = ".".join(str(part) for part in loc)
    if detail["type"] == "extra_forbidden":
        known = _known_keys(kind, loc[:-1])
        hint = did_you_mean(str(loc[-1]), known) or (f"Known here: {', '.join(known)}." if known else "")
        return Problem(document.where(place, key=True), entry, f"unknown key '{loc[-1]}'.", hint, "unknown-key")
    if detail["type"] == "missing":
        return Problem(document.where(place), entry, f"'{loc[-1]}' is missing", lint="missing-key")
    if detail["type"] == "too_long" and isinstance(detail["input"], (list, dict)):
        most, there = detail["ctx"]["max_length"], len(detail["input"])
        return Problem(document.where(place), entry, f"at most {most} may stand here; there are {there}")
    message = str(detail["msg"]).removeprefix("Value error, ")
    given = detail.get("input")
    if detail["type"] != "value_error" and isinstance(given, (str, int, float)):
        message += f" (it says {given!r})"
    return Problem(document.where(place), entry, message[0].lower() + message[1:])


def _known_keys(kind: type[BaseModel], place: Place) -> list[str]:
    """The keys a model knows at a place inside it, through mappings and sequences of models."""
    current: Any = kind
    for part in place:
        if _is_model(current):
            fields = {field.alias or name: field.annotation for name, field in current.model_fields.items()}
            current = fields.get(str(part))
        else:
            inside: tuple[Any, ...] = getattr(current, "__args__", ())
            current = inside[-1] if getattr(current, "__origin__", None) is dict else next(iter(inside), None)
        if _is_union(current):
            current = next((one for one in current.__args__ if _is_model(one)), None)
    if not _is_model(current):
        return []
    return [field.alias or name for name, field in current.model_fields.items() if name not in ("id", "where")]


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def _is_union(annotation: Any) -> bool:
    return isinstance(annotation, UnionType) or getattr(annotation, "__origin__", None) is Union
