"""kb/parts, put together: every file in it lists some of the parts, and area.yaml says what they all rest on.

To all who read the base, the parts are one more area, so that layers add, amend and retire them as any entry.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pydantic import Field

from ..reference.errors import KnowledgeError, Mark, Place, Problem
from ..reference.text import Document, read_file
from .entry import Id, Line, Prose, Strict
from .part_model import PartKind

FOLDER = "parts"
HEAD = "area.yaml"


class PartsFile(Strict):
    """A file of kb/parts: the kinds of part of one sort."""

    about: Line = Field(description="What the file is about, in one line.")
    parts: dict[Id, PartKind] = Field(min_length=1)


class PartsHead(Strict):
    """kb/parts/area.yaml: what the parts are to the base."""

    title: Line
    about: Prose
    source: Id | None = Field(default=None, description="What the entries rest on: an entry of kb/sources.yaml.")


def read(root: Path, name: str, problems: list[Problem]) -> dict[str, Document]:
    """The parts of a base as the document of one area, by file; empty where it has none.

    name: what problems call the folder.
    """
    from .load import validate

    documents: list[Document] = []
    for path in sorted((root / FOLDER).glob("*.yaml")):
        try:
            documents.append(read_file(path, f"{name}/{path.name}"))
        except KnowledgeError as error:
            problems.extend(error.problems)
    if not documents:
        return {}
    file = f"{name}/{HEAD}"
    value: dict[str, Any] = {"area": FOLDER, "title": "Parts", "about": "The kinds of part.", "parts": {}}
    values: dict[Place, Mark] = {(): (file, 1, 1)}
    keys: dict[Place, Mark] = {}
    for document in documents:
        if document.file == file:
            if validate(document, PartsHead, problems):
                value |= document.value
                values |= document.values
            continue
        said = document.value
        if isinstance(said, dict) and isinstance(said.get("parts"), dict):
            shallow = Document(document.file, {**said, "parts": {"any": {"name": "any"}}}, document.values, document.keys)
        else:
            shallow = document
        if validate(shallow, PartsFile, problems) is None:
            continue
        for id_, entry in said["parts"].items():
            if id_ in value["parts"]:
                where = document.where(("parts", id_), key=True)
                problems.append(Problem(where, f"parts.{id_}", f"the id '{id_}' is taken", lint="duplicate-id"))
            else:
                value["parts"][id_] = entry
                own: Place = ("parts", id_)
                values |= {place: mark for place, mark in document.values.items() if place[:2] == own}
                keys |= {place: mark for place, mark in document.keys.items() if place[:2] == own}
    return {file: Document(file, value, values, keys)}
