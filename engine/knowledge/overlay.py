"""Layers merged over the shipped areas, entry by entry, before anything is validated.

An area file of a layer may add entries, as a shipped one does; `amend` entries, naming only the fields to change;
`retire` entries; and add to the `words` of symptoms. What comes out has the shape of area files, and each value in it
still knows the file, line and column it came from. In an amendment the mappings of names (shows, needs, answers,
readings, figures, faults; in circuits every mapping) are amended name by name, everything else is replaced whole, and
`null` takes a field away.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from ..reference.errors import Problem, Where, did_you_mean
from ..reference.text import Document, Mark, Place
from .entry import Id, Line, Prose, Strict
from .layers import Layer
from .model import SECTIONS, Shop
from .term import TERMS
from .validate import MOST_TOLD, validate

CIRCUITS = "circuits"
NAMED = frozenset({"shows", "needs", "answers", "readings", "figures", "faults"})
_Entries = dict[str, Any]
_Section = Literal[
    "symptoms",
    "findings",
    "checks",
    "causes",
    "repairs",
    "holds",
    "rules",
    "parts",
    "prices",
    "inseparable",
    "terms",
    "circuits",
]


class OverlayFile(Strict):
    """One file of a layer: entries to add, to amend and to retire. Entries are checked once all layers are merged."""

    area: Id = Field(description="The area that the added entries belong to: a shipped one, or a new one.")
    title: Line | None = Field(default=None, description="For a new area.")
    about: Prose | None = Field(default=None, description="For a new area.")
    source: Id | None = Field(
        default=None, description="For a new area: what its entries rest on that name no source of their own."
    )
    symptoms: _Entries = Field(default_factory=dict)
    findings: _Entries = Field(default_factory=dict)
    checks: _Entries = Field(default_factory=dict)
    causes: _Entries = Field(default_factory=dict)
    repairs: _Entries = Field(default_factory=dict)
    holds: _Entries = Field(default_factory=dict)
    rules: _Entries = Field(default_factory=dict)
    parts: _Entries = Field(default_factory=dict)
    prices: _Entries = Field(default_factory=dict)
    inseparable: _Entries = Field(default_factory=dict)
    shop: Shop = Field(default=Shop(), description="Terms of the shop; only those that are named change.")
    terms: _Entries = Field(
        default_factory=dict, description="Words of the glossary, as a file of kb/glossary has them."
    )
    circuits: _Entries = Field(default_factory=dict, description="Circuits, by name, each as a file of kb/amps has it.")
    amend: dict[_Section, dict[str, dict[str, Any]]] = Field(
        default_factory=dict,
        description="By section and id: the fields to change, and only those; null takes one away.",
    )
    retire: dict[_Section, tuple[str, ...]] = Field(
        default_factory=dict, description="By section: ids that are used no more."
    )
    words: dict[Id, tuple[Line, ...]] = Field(
        default_factory=dict, description="More of the players' words, by symptom."
    )


@dataclass(frozen=True)
class Change:
    """What a layer did to an entry, and where it says so."""

    layer: str
    kind: Literal["add", "amend", "retire", "words"]
    section: str
    id: str
    where: Where


@dataclass
class Merged:
    """The areas, by the file that began each, after all layers; and what the layers did, in their order.

    circuits: by name. shop: terms that were set.
    """

    areas: dict[str, Document] = field(default_factory=dict)
    circuits: dict[str, Document] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    shop: dict[str, Any] = field(default_factory=dict)
    _of_entry: dict[tuple[str, str], list[Change]] = field(default_factory=dict, init=False, repr=False, compare=False)
    _sorted: int = field(default=0, init=False, repr=False, compare=False)  # how many of the changes are in it

    def changed(self, section: str, id_: str) -> tuple[Change, ...]:
        for change in self.changes[self._sorted :]:
            self._of_entry.setdefault((change.section, change.id), []).append(change)
        self._sorted = len(self.changes)
        return tuple(self._of_entry.get((section, id_), ()))


@dataclass(frozen=True)
class Origin:
    """One effective value of an entry, and where it stands. layer: '' for the shipped base."""

    field: str
    value: Any
    where: Where
    layer: str = ""


def merge(
    areas: Mapping[str, Document],
    layers: Sequence[Layer],
    problems: list[Problem],
    circuits: Mapping[str, Document] | None = None,
) -> Merged:
    """The shipped areas with the layers over them. What does not fit is told in `problems` and left out."""
    merging = _Merging({name: _copied(one) for name, one in areas.items()}, dict(circuits or {}), problems)
    return merging.all(layers)


def merge_terms(glossary: Mapping[str, Document], layers: Sequence[Layer], problems: list[Problem]) -> Merged:
    """The same for the files of the glossary, which are read only when a word is asked for."""
    return _Merging({name: _copied(one) for name, one in glossary.items()}, {}, problems, (TERMS,)).all(layers)


def merge_circuits(
    circuits: Mapping[str, Document], layers: Sequence[Layer], problems: list[Problem]
) -> Mapping[str, Document]:
    """The same for the circuits alone, by name."""
    return _Merging({}, dict(circuits), problems, (CIRCUITS,)).all(layers).circuits


def origins(merged: Merged, section: str, id_: str, layers: Sequence[Layer] = ()) -> tuple[Origin, ...]:
    """Every effective value of an entry with its place, in the order of the file."""
    names = {str(file): layer.name for layer in layers for file in (*layer.files(), *layer.circuits())}
    circuit = [merged.circuits[id_]] if id_ in merged.circuits else []
    for document in circuit if section == CIRCUITS else merged.areas.values():
        entry = document.value if section == CIRCUITS else _section(document, section).get(id_)
        if isinstance(entry, dict):
            top: Place = () if section == CIRCUITS else (section, id_)
            return tuple(_values(document, top, entry, names))
    return ()


def _values(document: Document, top: Place, entry: Mapping[str, Any], names: Mapping[str, str]) -> Iterator[Origin]:
    for key, value in entry.items():
        if key in ("id", "where"):
            continue
        if isinstance(value, dict) and (key in NAMED or not top):
            for inner, inside in value.items():
                where = document.where((*top, key, inner), key=True)
                yield Origin(f"{key}.{inner}", inside, where, names.get(where.file, ""))
        else:
            where = document.where((*top, key), key=True)
            yield Origin(key, value, where, names.get(where.file, ""))


class _Merging:
    def __init__(
        self,
        areas: dict[str, Document],
        circuits: dict[str, Document],
        problems: list[Problem],
        sections: tuple[str, ...] = (*SECTIONS, CIRCUITS),
    ) -> None:
        self.merged = Merged(areas, circuits)
        self.problems = problems
        self.sections = sections  # what is merged here; the rest of a layer's file is left alone
        self.home: dict[tuple[str, str], Document] = {}  # where each entry stands now
        self.by_area: dict[str, Document] = {}
        self.retired: dict[tuple[str, str], Where] = {}
        for document in areas.values():
            if isinstance(document.value, dict):
                self.by_area.setdefault(str(document.value.get("area")), document)
                for section in sections:
                    self.home.update({(section, id_): document for id_ in _section(document, section)})

    def all(self, layers: Sequence[Layer]) -> Merged:
        for layer in layers:
            for document in layer.circuit_documents(self.problems) if CIRCUITS in self.sections else ():
                self.circuit(layer, document)
            for document in layer.documents(self.problems):
                self.take(layer, document)
        return self.merged

    def take(self, layer: Layer, document: Document) -> None:
        file = validate(document, OverlayFile, self.problems)
        if file is None:
            return
        self.merged.shop |= {name: getattr(file.shop, name) for name in file.shop.model_fields_set}
        for section, ids in file.retire.items():
            for number, id_ in enumerate(ids if section in self.sections else ()):
                self._retire(layer, section, id_, document.where(("retire", section, number)))
        marks = _Marks(document)
        for section, amended in file.amend.items():
            for id_ in amended if section in self.sections else ():
                self._amend(layer, marks, section, id_)
        area = self._words_of(file, document) if TERMS in self.sections else self._area(file, document)
        for name in self.sections:
            for id_ in getattr(file, name):
                self._add(layer, marks, name, id_, area)
        for symptom in file.words if "symptoms" in self.sections else ():
            self._words(layer, marks, symptom)

    def circuit(self, layer: Layer, document: Document) -> None:
        """A circuit in a file of its own, known by the file's name."""
        name, where = Path(document.file).stem, document.where(())
        if name in self.merged.circuits:
            first = self.merged.circuits[name].where(())
            hint = f"Give the file another name; or, to change that one, amend: circuits: {name}: in a file of areas/."
            self._problem(where, name, f"there is a circuit '{name}' already (see {first}).", hint)
            return
        self.merged.circuits[name] = document
        self.merged.changes.append(Change(layer.name, "add", CIRCUITS, name, where))

    def _words_of(self, file: OverlayFile, document: Document) -> Document:
        """Where the terms go that a layer's file adds: a file of the glossary for itself."""
        added = Document(document.file, {"subject": file.title or file.area}, {}, {})
        self.merged.areas[document.file] = added
        return added

    def _area(self, file: OverlayFile, document: Document) -> Document | None:
        """The area that the file's own entries go into; a new one if need be."""
        added = any(getattr(file, section) for section in SECTIONS)
        area = self.by_area.get(file.area)
        if area is None and added:
            if file.title is None or file.about is None:
                known = [one for one in self.by_area if one]
                message = f"there is no area '{file.area}'; a new one needs 'title' and 'about'."
                self._problem(document.where(("area",)), "area", message, did_you_mean(file.area, known))
                return None
            head = {"area": file.area, "title": file.title, "about": file.about, "source": file.source}
            value: dict[str, Any] = {key: said for key, said in head.items() if said is not None}
            places: list[Place] = [(), *((key,) for key in value)]
            marks = {place: document.values[place] for place in places if place in document.values}
            area = Document(document.file, value, marks, dict(document.keys))
            self.by_area[file.area] = self.merged.areas[document.file] = area
        return area

    def _add(self, layer: Layer, marks: _Marks, section: str, id_: str, area: Document | None) -> None:
        where = marks.document.where((section, id_), key=True)
        entry = marks.document.value[section][id_]
        there = self._find(section, id_)
        if there is not None:
            first = there.where((section, id_), key=True)
            hint = f"To change it, put it under amend: {section}: {id_}: with the fields to change."
            self._problem(where, f"{section}.{id_}", f"'{id_}' exists already (see {first}).", hint)
            return
        if section == CIRCUITS:
            self.merged.circuits[id_] = marks.apart((section, id_), entry)
        elif area is not None:
            _open(area, section)[id_] = entry
            marks.graft(area, (section, id_), (section, id_))
            self.home[section, id_] = area
        self.merged.changes.append(Change(layer.name, "add", section, id_, where))

    def _amend(self, layer: Layer, marks: _Marks, section: str, id_: str) -> None:
        place: Place = ("amend", section, id_)
        where = marks.document.where(place, key=True)
        there = self._find(section, id_)
        if there is None:
            self._missing(section, id_, where, f"amend.{section}.{id_}")
            return
        top: Place = () if section == CIRCUITS else (section, id_)
        entry = there.value if section == CIRCUITS else there.value[section][id_]
        if not isinstance(entry, dict):
            return
        for name in ("id", "where"):
            if name in marks.value(place):
                fixed = marks.document.where((*place, name), key=True)
                self._problem(fixed, f"amend.{section}.{id_}", f"'{name}' is fixed")
                return
        self._patch(marks, there, entry, top, place, deep=section == CIRCUITS)
        self.merged.changes.append(Change(layer.name, "amend", section, id_, where))

    def _patch(
        self, marks: _Marks, there: Document, entry: dict[str, Any], top: Place, place: Place, deep: bool
    ) -> None:
        patch = marks.value(place)
        for key, value in patch.items():
            old = entry.get(key)
            if value is None:
                if key not in entry:
                    where = marks.document.where((*place, key), key=True)
                    self._problem(where, ".".join(map(str, place)), f"there is no '{key}' to take away")
                entry.pop(key, None)
            elif isinstance(value, dict) and isinstance(old, dict) and (deep or key in NAMED):
                entry[key] = dict(old)
                self._patch(marks, there, entry[key], (*top, key), (*place, key), deep)
            else:
                entry[key] = value
                marks.graft(there, (*top, key), (*place, key))

    def _retire(self, layer: Layer, section: str, id_: str, where: Where) -> None:
        there = self._find(section, id_)
        if there is None:
            self._missing(section, id_, where, f"retire.{section}")
            return
        if section == CIRCUITS:
            del self.merged.circuits[id_]
        else:
            del there.value[section][id_]
            del self.home[section, id_]
        self.retired[section, id_] = where
        self.merged.changes.append(Change(layer.name, "retire", section, id_, where))

    def _words(self, layer: Layer, marks: _Marks, symptom: str) -> None:
        place: Place = ("words", symptom)
        where = marks.document.where(place, key=True)
        there = self._find("symptoms", symptom)
        if there is None:
            self._missing("symptoms", symptom, where, f"words.{symptom}")
            return
        entry = there.value["symptoms"][symptom]
        says = entry.get("says") if isinstance(entry, dict) else None
        if isinstance(says, list):
            for number in range(len(marks.value(place))):
                at: Place = ("symptoms", symptom, "says", len(says) + number)
                _marks_of(there.values)[at] = marks.document.values[(*place, number)]
            entry["says"] = [*says, *marks.value(place)]
        self.merged.changes.append(Change(layer.name, "words", "symptoms", symptom, where))

    def _find(self, section: str, id_: str) -> Document | None:
        return self.merged.circuits.get(id_) if section == CIRCUITS else self.home.get((section, id_))

    def _missing(self, section: str, id_: str, where: Where, entry: str) -> None:
        if len(self.problems) > MOST_TOLD:
            hint = ""  # looking for what was meant costs more than it tells by now
        elif (section, id_) in self.retired:
            hint = f"It was retired: see {self.retired[section, id_]}."
        else:
            known = list(self.merged.circuits) if section == CIRCUITS else [i for s, i in self.home if s == section]
            hint = did_you_mean(id_, known)
        self._problem(where, entry, f"there is no '{id_}' among the {section}.", hint)

    def _problem(self, where: Where, entry: str, message: str, hint: str = "") -> None:
        self.problems.append(Problem(where, entry, message, hint, "overlay"))


class _Marks:
    """The marks of a layer's document, sorted by the entry they stand in, so that grafting one does not search all."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self._values: dict[Place, list[tuple[Place, Mark]]] = {}
        self._keys: dict[Place, list[tuple[Place, Mark]]] = {}
        for sorted_, marks in ((self._values, document.values), (self._keys, document.keys)):
            for place, mark in marks.items():
                sorted_.setdefault(self._entry(place), []).append((place, mark))

    @staticmethod
    def _entry(place: Place) -> Place:
        return place[: 3 if place and place[0] == "amend" else 2]

    def value(self, place: Place) -> Any:
        value = self.document.value
        for part in place:
            value = value[part]
        return value

    def graft(self, there: Document, to: Place, place: Place) -> None:
        """Let the marks at and below a place of this document stand for another place of that one."""
        for source, target in ((self._values, there.values), (self._keys, there.keys)):
            for at, mark in source.get(self._entry(place), ()):
                if at[: len(place)] == place:
                    _marks_of(target)[(*to, *at[len(place) :])] = mark

    def apart(self, place: Place, value: Any) -> Document:
        """What stands at a place as a document of its own."""
        alone = Document(self.document.file, value, {}, {})
        self.graft(alone, (), place)
        return alone


def _marks_of(marks: Mapping[Place, Mark]) -> dict[Place, Mark]:
    """The marks of a document that merging made, and may therefore add to."""
    assert isinstance(marks, dict)
    return marks


def _copied(document: Document) -> Document:
    value = document.value
    if isinstance(value, dict):
        value = {
            key: {id_: dict(entry) if isinstance(entry, dict) else entry for id_, entry in section.items()}
            if isinstance(section, dict)
            else section
            for key, section in value.items()
        }
    return Document(document.file, value, dict(document.values), dict(document.keys))


def _section(document: Document, section: str) -> dict[str, Any]:
    entries = document.value.get(section) if isinstance(document.value, dict) else None
    return entries if isinstance(entries, dict) else {}


def _open(document: Document, section: str) -> dict[str, Any]:
    """A section of a document, begun if it is not there (or not usable as it is)."""
    if not isinstance(document.value.get(section), dict):
        document.value[section] = {}
    entries: dict[str, Any] = document.value[section]
    return entries
