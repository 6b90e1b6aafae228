"""The areas of a base, put together: kb/areas/AREA/area.yaml is the head of one, each file beside it a part or subject.
kb/parts, which says what kinds of part there are, is one more.

Entries are put together before layers come over them and anything is validated, and each value still knows the file,
line and column it came from. The order of entries, wherever it matters, is: areas by the names of their folders, the
files of an area by name, entries as they stand in their file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..reference.errors import KnowledgeError, Problem, Where
from ..reference.text import Document, read_file
from . import model
from .folder import called
from .validate import validate

HEAD = "area.yaml"
PARTS = "parts"  # the folder of the kinds of part, which is read as one more area


def read(root: Path, problems: list[Problem]) -> dict[str, Document]:
    """Every area of a base as one document, by the file of its head. What does not fit is told in `problems`."""
    folder = root / "areas"
    areas: dict[str, Document] = {}
    for path in sorted(one for one in folder.rglob("*.yaml") if one.parent.parent != folder):
        message = "not read: a knowledge file stands in the folder of its area, kb/areas/AREA/SUBJECT.yaml"
        problems.append(Problem(Where(called(path, root)), "", message, lint="layout"))
    for area in sorted({path.parent for path in (*folder.glob("*/*.yaml"), *(root / PARTS).glob("*.yaml"))}):
        gathering = _Gathering(area, root, problems)
        areas[gathering.head] = gathering.document()
    return areas


class _Gathering:
    """One area: the values and marks of its files, which become those of one document."""

    def __init__(self, folder: Path, root: Path, problems: list[Problem]) -> None:
        self.folder, self.root, self.problems = folder, root, problems
        self.head = called(folder / HEAD, root)
        self.value: dict[str, Any] = {"area": folder.name}
        self.values: dict[Any, Any] = {(): (self.head, 1, 1)}
        self.keys: dict[Any, Any] = {}

    def document(self) -> Document:
        """The whole area; a head that is missing or does not fit is told, and does not hide what else is wrong."""
        if (self.folder / HEAD).exists():
            heads = [*_read(self.folder / HEAD, self.root, self.problems)]
        else:
            heads = []
            message = f"the area '{self.folder.name}' has no {HEAD}: a title, what it is about, and its source"
            self.problems.append(Problem(Where(self.head), "", message, lint="layout"))
        fitting = [one for one in heads if validate(one, model.AreaHead, self.problems)]
        self.value |= {"title": self.folder.name, "about": self.folder.name}
        for head in fitting:
            self.value |= head.value
            self.values |= head.values
            self.keys |= head.keys
        for path in sorted(self.folder.glob("*.yaml")):
            for subject in _read(path, self.root, self.problems) if path.name != HEAD else ():
                self._take(subject)
        return Document(self.head, self.value, self.values, self.keys)

    def _take(self, subject: Document) -> None:
        """The entries of one file; each is checked for itself once all layers are there."""
        said = subject.value
        if isinstance(said, dict):
            said = {key: {} if key in model.SECTIONS and isinstance(of, dict) else of for key, of in said.items()}
        if validate(replace(subject, value=said), model.SubjectFile, self.problems) is None:
            return
        refused = set()
        for section, entries in subject.value.items():
            if section not in model.SECTIONS:
                continue
            ours = self.value.setdefault(section, {})
            for id_, entry in entries.items():
                if id_ in ours:
                    refused.add((section, id_))
                    first = Where(*self.keys[section, id_])
                    message = f"the id '{id_}' is taken: see {first}"
                    where = subject.where((section, id_), key=True)
                    self.problems.append(Problem(where, f"{section}.{id_}", message, lint="duplicate-id"))
                else:
                    ours[id_] = entry
        for marks, of in ((self.values, subject.values), (self.keys, subject.keys)):
            for place, mark in of.items():
                if place and place[0] in model.SECTIONS and place[:2] not in refused:
                    marks.setdefault(place, mark)


def _read(path: Path, root: Path, problems: list[Problem]) -> Iterator[Document]:
    """The file, if it can be read."""
    try:
        yield read_file(path, called(path, root))
    except KnowledgeError as error:
        problems.extend(error.problems)
