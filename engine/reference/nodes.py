"""The events of the YAML parser to plain values and their places. Only text.py reads by it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import yaml

from .errors import KnowledgeError, Mark, Place, Problem, Where

MOST_NODES = 100_000  # about as many as the whole shipped base has
DEEPEST = 24

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_INTEGER = re.compile(r"[-+]?[0-9]+")
_NUMBER = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_CONSTANTS: Mapping[str, object] = MappingProxyType({"": None, "~": None, "null": None, "true": True, "false": False})


def nodes(text: str, file: str) -> tuple[Any, dict[Place, Mark], dict[Place, Mark]]:
    """What a text says, where each value stands, and where each key. Raises KnowledgeError."""
    builder = _Builder(file)
    try:
        for event in yaml.parse(text, Loader=_Loader):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        where = Where(file, mark.line + 1, mark.column + 1) if mark else Where(file)
        raise KnowledgeError([Problem(where, "", f"not well-formed YAML: {error.problem}")]) from error
    except yaml.YAMLError as error:
        raise KnowledgeError([Problem(Where(file), "", f"not well-formed YAML: {error}")]) from error
    if builder.problems:
        raise KnowledgeError(builder.problems)
    return builder.root, builder.values, builder.keys


class _Builder:
    """Builds plain values from parser events without recursion, so that depth can't exhaust the stack."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.root: Any = None
        self.values: dict[Place, Mark] = {}
        self.keys: dict[Place, Mark] = {}
        self.problems: list[Problem] = []
        self._open: list[tuple[Any, Place]] = []
        self._pending: list[Any] = []  # per open mapping: the key that waits for its value, or _NO_KEY
        self._nodes = 0
        self._documents = 0

    def take(self, event: Any) -> None:
        if isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                self._refuse(event, "a second document starts here; use one file per document")
        elif isinstance(event, yaml.AliasEvent):
            self._refuse(event, "aliases (*name) are not used here; write the value out")
        elif isinstance(event, yaml.ScalarEvent):
            self._scalar(event)
        elif isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
            self._start(event, {} if isinstance(event, yaml.MappingStartEvent) else [])
        elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            self._open.pop()
            self._pending.pop()

    def _scalar(self, event: Any) -> None:
        self._guard(event)
        value: Any = _plain(event.value) if event.implicit[0] else event.value
        if self._open and isinstance(self._open[-1][0], dict) and self._pending[-1] is _NO_KEY:
            self._key(event, event.value)
        else:
            self._place(event, value)

    def _start(self, event: Any, value: Any) -> None:
        self._guard(event)
        if len(self._open) >= DEEPEST:
            self._refuse(event, f"nested deeper than {DEEPEST} levels")
        if self._open and isinstance(self._open[-1][0], dict) and self._pending[-1] is _NO_KEY:
            self._refuse(event, "a key must be a plain word")
        place = self._place(event, value)
        self._open.append((value, place))
        self._pending.append(_NO_KEY)

    def _key(self, event: Any, key: str) -> None:
        mapping, place = self._open[-1]
        where = self._where(event)
        if key in mapping:
            first = self.keys[(*place, key)][1]
            message = f"the key '{key}' is there twice (first on line {first})"
            self.problems.append(Problem(Where(*where), ".".join(map(str, place)), message))
        else:
            self.keys[(*place, key)] = where
        self._pending[-1] = key

    def _place(self, event: Any, value: Any) -> Place:
        if not self._open:
            self.root = value
            place: Place = ()
        else:
            holder, above = self._open[-1]
            if isinstance(holder, dict):
                key = self._pending[-1]
                self._pending[-1] = _NO_KEY
                holder[key] = value
                place = (*above, key)
            else:
                place = (*above, len(holder))
                holder.append(value)
        self.values[place] = self._where(event)
        return place

    def _guard(self, event: Any) -> None:
        self._nodes += 1
        if self._nodes > MOST_NODES:
            self._refuse(event, f"more than {MOST_NODES:,} values; split the file by subject")
        if event.anchor is not None:
            self._refuse(event, "anchors (&name) are not used here")
        if event.tag is not None and event.tag != "!":
            self._refuse(event, f"tags ({event.tag}) are not used here")

    def _where(self, event: Any) -> Mark:
        mark = event.start_mark
        return self.file, mark.line + 1, mark.column + 1

    def _refuse(self, event: Any, message: str) -> None:
        raise KnowledgeError([*self.problems, Problem(Where(*self._where(event)), "", message)])


_NO_KEY = object()


def _plain(text: str) -> object:
    if text in _CONSTANTS:
        return _CONSTANTS[text]
    if _INTEGER.fullmatch(text) and len(text) < 19:
        return int(text)
    if _NUMBER.fullmatch(text):
        return float(text)
    return text
