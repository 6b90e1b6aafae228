"""What a lint is made of."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from ...reference.errors import Problem
from ...reference.text import Document, Place
from ..base import KnowledgeBase
from ..model import Entry
from ..overlay import Merged
from ..term import TERMS


@dataclass(frozen=True)
class Look:
    """What a lint looks at: the base, and the documents it came from, one an area, for exact places. root: the base's
    folder. below: the shipped base, and over: what layers did to it, when there are any. glossary: its files, when its
    words are to be looked at too."""

    base: KnowledgeBase
    documents: Mapping[str, Document]
    root: Path
    below: KnowledgeBase | None = None
    over: Merged | None = None
    glossary: Merged | None = None

    def problem(
        self, section: str, entry: Entry, inside: Place, message: str, hint: str = "", key: bool = False
    ) -> Problem:
        """A problem at a place inside an entry."""
        place: Place = (section, entry.id, *inside)
        documents = self.glossary.areas if section == TERMS and self.glossary else self.documents
        here = (entry.where.file, entry.where.line, entry.where.column)
        document = next((one for one in documents.values() if one.keys.get(place[:2]) == here), None)
        where = document.where(place, key) if document else entry.where
        return Problem(where, ".".join(map(str, place)), message, hint)

    def entry_of(self, problem: Problem) -> Entry | None:
        section, _, rest = problem.entry.partition(".")
        entries: Mapping[str, Entry] = getattr(self.base, section, {})
        return entries.get(rest.partition(".")[0])


@dataclass(frozen=True)
class Lint:
    """id: its name. severity: 'error' or 'warning'. manual: what it looks for, why, and what to do. always: it can't be
    kept quiet. orphans: with layers, it is only a warning for an entry that no layer touched, since a layer that
    retires one thing may leave another without use. between_layers: what one layer says of safety is checked against
    those above it too, not only the shipped base against all layers."""

    id: str
    severity: str
    manual: str
    _find: Callable[[Look], Iterator[Problem]]
    always: bool = False
    orphans: bool = False
    between_layers: bool = False

    def run(self, look: Look) -> Iterator[Problem]:
        for problem in self._find(look):
            entry = look.entry_of(problem)
            if entry is None or self.always or self.id not in entry.quiet:
                yield replace(problem, lint=self.id, severity=self._severity(look, problem))

    def _severity(self, look: Look, problem: Problem) -> str:
        if self.orphans and look.over is not None:
            section, _, rest = problem.entry.partition(".")
            if not look.over.changed(section, rest.partition(".")[0]):
                return "warning"
        return self.severity


def lint(
    severity: str, always: bool = False, orphans: bool = False, between_layers: bool = False
) -> Callable[[Callable[[Look], Iterator[Problem]]], Lint]:
    """Marks a function as a lint. Its id is its name with hyphens; its docstring is the manual."""

    def mark(find: Callable[[Look], Iterator[Problem]]) -> Lint:
        manual = (find.__doc__ or "").strip()
        return Lint(find.__name__.replace("_", "-"), severity, manual, find, always, orphans, between_layers)

    return mark
