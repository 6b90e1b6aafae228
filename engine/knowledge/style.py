"""The house style: words that no text of the knowledge base uses, and what is said instead (kb/style.yaml)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from pydantic import Field

from ..reference.errors import KnowledgeError, Problem
from ..reference.text import read_file
from .entry import Line, Strict
from .folder import called
from .validate import validate

FILE = "style.yaml"


class StyleFile(Strict):
    """kb/style.yaml."""

    instead: dict[Line, Line] = Field(description="A word or phrase that is not used, and what is said instead.")


@dataclass(frozen=True)
class Style:
    """The words that are not used, each with what is said instead."""

    instead: Mapping[str, str]

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        words = "|".join(re.escape(word) for word in sorted(self.instead, key=len, reverse=True))
        return re.compile(rf"(?<![\w-])(?:{words})(?![\w-])", re.IGNORECASE)

    def slips(self, text: str) -> Iterator[tuple[str, str]]:
        """Each word of a text that is not used, with what is said instead."""
        if self.instead:
            for found in self._pattern.findall(text):
                yield found, self.instead[found.lower()]


def read(root: Path) -> Style:
    """The house style of a base; one without the file has none. Raises KnowledgeError."""
    path = root / FILE
    if not path.exists():
        return Style({})
    problems: list[Problem] = []
    file = validate(read_file(path, called(path, root)), StyleFile, problems)
    if file is None:
        raise KnowledgeError(problems)
    return Style(file.instead)
