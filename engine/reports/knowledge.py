"""The knowledge base: its problems, its entries, its layers, and what one entry rests on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import BeforeValidator

from ..knowledge.base import KnowledgeBase
from ..knowledge.entry import Cited, Entry
from ..knowledge.layers import Layer
from ..knowledge.model import plain
from ..late import late
from ..reference.errors import Problem
from ..report import Report

with late():
    from ..knowledge import part_use
    from ..knowledge.lint import references as lint_references

Place = Annotated[str, BeforeValidator(str)]  # file:line:column


class ProblemFound(Report):
    file: str
    line: int
    column: int
    entry: str
    severity: Literal["error", "warning"]
    message: str
    hint: str
    lint: str


class KnowledgeCheck(Report):
    """counts: entries by section."""

    shape: Literal["chopstick knowledge check 1"] = "chopstick knowledge check 1"
    errors: int
    warnings: int
    problems: tuple[ProblemFound, ...]
    counts: dict[str, int]


class LintManual(Report):
    shape: Literal["chopstick lint 1"] = "chopstick lint 1"
    lint: str
    severity: str
    manual: str


class EntryListed(Report):
    """An entry of the knowledge base. where: file:line:column. uses, prices: of a part, how many entries name it, and
    what it costs, in words."""

    section: str
    id: str
    name: str
    area: str
    where: Place
    uses: int = 0
    prices: tuple[str, ...] = ()


class EntriesListed(Report):
    shape: Literal["chopstick entries 1"] = "chopstick entries 1"
    entries: tuple[EntryListed, ...]


class ValueOrigin(Report):
    """Where one value of an entry stands. layer: which layer of one's own it is from, '' for the base."""

    field: str
    where: Place
    layer: str


class SourceBehind(Report):
    """A source behind an entry. own: the entry names it itself; else its area names it for all that name none. seen:
    the text was read."""

    source: str
    title: str
    publisher: str
    seen: bool
    note: str
    own: bool


class WholeEntry(Report):
    """The entry as the file has it, and the ids of the entries that refer to it. more: others of that id, or called by
    that word. rests_on: the sources behind it."""

    shape: Literal["chopstick entry 1"] = "chopstick entry 1"
    section: str
    id: str
    where: Place
    entry: dict[str, object]
    used_by: tuple[str, ...]
    origins: tuple[ValueOrigin, ...]
    more: tuple[WholeEntry, ...] = ()
    rests_on: tuple[SourceBehind, ...] = ()


class LayerInForce(Report):
    kind: str
    name: str
    path: Place
    version: str
    about: str


class Layers(Report):
    """Every layer, in the order in which they lie over the shipped base; later ones win."""

    shape: Literal["chopstick layers 1"] = "chopstick layers 1"
    layers: tuple[LayerInForce, ...]


class EntryDifference(Report):
    kind: Literal["added", "changed", "gone"]
    section: str
    id: str
    lines: tuple[str, ...]


class Differences(Report):
    """What a pack would change in the knowledge in force."""

    shape: Literal["chopstick differences 1"] = "chopstick differences 1"
    name: str
    version: str
    differences: tuple[EntryDifference, ...]


class ValueInForce(ValueOrigin):
    section: str


class Origins(Report):
    """Every value of an entry that is in force."""

    shape: Literal["chopstick origins 1"] = "chopstick origins 1"
    id: str
    values: tuple[ValueInForce, ...]


def problems_found(problems: Sequence[Problem]) -> tuple[ProblemFound, ...]:
    """Each problem with its place."""
    return tuple(
        ProblemFound.made_of(one, file=one.where.file, line=one.where.line, column=one.where.column) for one in problems
    )


def knowledge_check(problems: Sequence[Problem], counts: dict[str, int]) -> KnowledgeCheck:
    """What is wrong with the knowledge base."""
    errors = sum(one.severity == "error" for one in problems)
    return KnowledgeCheck(
        errors=errors, warnings=len(problems) - errors, problems=problems_found(problems), counts=counts
    )


def whole_entry(base: KnowledgeBase, section: str, entry: Entry, origins: Sequence[object]) -> WholeEntry:
    """One entry with all that is known of it. origins: of its values."""
    told = {key: value for key, value in plain(entry).items() if value not in (None, [], {}, "", False)}
    return WholeEntry(
        section=section,
        id=entry.id,
        where=entry.where,  # type: ignore[arg-type]
        entry=told,
        used_by=_users(base, section, entry.id),
        origins=origins,  # type: ignore[arg-type]
        rests_on=_sources(base, section, entry),
    )


def _sources(base: KnowledgeBase, section: str, entry: Entry) -> tuple[SourceBehind, ...]:
    area = next((one for one in base.areas.values() if entry.id in getattr(one, section, ())), None)
    own = isinstance(entry, Cited) and bool(entry.sources)
    found = [(id_, base.reference.source(id_)) for id_ in base.rests_on(area, entry)] if area else []
    return tuple(SourceBehind.made_of(one, source=id_, note=one.note or "", own=own) for id_, one in found)


def _users(base: KnowledgeBase, section: str, id_: str) -> tuple[str, ...]:
    """Ids of the entries that name another."""
    if section == "parts":
        return (*part_use.users(base)[id_], *(part.id for part in base.parts.values() if part.kind_of == id_))
    if section == "terms":
        return tuple(term.id for term in base.terms.values() if id_ in term.see)
    named = {
        entry.id: {name for _, _, name in lint_references.references(entry)}
        for _, entry in base.entries()
        if entry.id != id_
    }
    return tuple(user for user, names in named.items() if id_ in names)


def layers_in_force(layers: Sequence[Layer]) -> Layers:
    """The layers, in their order."""

    def told(layer: Layer) -> LayerInForce:
        manifest = layer.manifest
        about, version = (manifest.about, manifest.version) if manifest else ("", "")
        return LayerInForce.made_of(layer, version=version, about=about)

    return Layers(layers=tuple(map(told, layers)))
