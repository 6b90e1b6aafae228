"""YAML text to plain values, each with its place in the file. The only reader of YAML here.

Values are read by the YAML 1.2 core rules, so that ``yes`` and ``no`` stay words, as a bench sheet means
them. Anchors, aliases, tags and several documents in one file are refused: knowledge has no use for them
and hostile files do. Reading is iterative and bounded in size, depth and count.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..late import late
from .errors import KnowledgeError, Problem, Where
from .errors import Mark as Mark
from .errors import Place as Place

with late():
    from . import nodes as reference_nodes

MOST_CHARACTERS = 4_000_000


@dataclass(frozen=True)
class Document:
    """One file's content: plain dicts, lists, strings, numbers, booleans and None.

    values, keys: where each value, and each mapping key, stands; a place is the tuple of keys and
    indices that leads to it, as in ``("causes", "pot-track-dirty", "shows")``.
    """

    file: str
    value: Any
    values: Mapping[Place, Mark]
    keys: Mapping[Place, Mark]

    def where(self, place: Place, key: bool = False) -> Where:
        """The position of a place, or of the nearest enclosing one that the file really has."""
        marks = self.keys if key else self.values
        while place and place not in marks:
            place = place[:-1]
            marks = self.values
        mark = marks.get(place)
        return Where(*mark) if mark else Where(self.file)


def read_file(path: Path, name: str | None = None) -> Document:
    """Read one file. `name` is what problems call it (default: the path as given).

    Raises KnowledgeError for anything but a readable, well-formed, bounded UTF-8 file.
    """
    file = name or str(path)
    try:
        text = _bounded(path, file).decode("utf-8")
    except UnicodeDecodeError as error:
        raise KnowledgeError([Problem(Where(file), "", f"not UTF-8 text (byte {error.start})")]) from error
    except OSError as error:
        raise KnowledgeError([Problem(Where(file), "", f"can't be read: {error.strerror}")]) from error
    return read(text, file)


def read(text: str, file: str) -> Document:
    """Read YAML text. Raises KnowledgeError naming every duplicate key, or the first malformation."""
    if len(text) > MOST_CHARACTERS:
        raise KnowledgeError([Problem(Where(file), "", _too_big())])

    return Document(file, *reference_nodes.nodes(text, file))


def _bounded(path: Path, file: str) -> bytes:
    """The content of a plain file, never more of it than MOST_CHARACTERS. A pipe or device is not waited for."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    with open(handle, "rb") as stream:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            raise KnowledgeError([Problem(Where(file), "", "not a plain file")])
        content = stream.read(MOST_CHARACTERS + 1)
    if len(content) > MOST_CHARACTERS:
        raise KnowledgeError([Problem(Where(file), "", _too_big())])
    return content


def _too_big() -> str:
    return f"larger than {MOST_CHARACTERS:,} characters; split it by subject"
