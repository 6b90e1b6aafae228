"""kb/ to a KnowledgeBase: text, nodes with marks, models, lint. All problems are told in one pass."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from ..late import late
from ..reference import tables
from ..reference.errors import KnowledgeError, Problem
from ..reference.text import Document, read_file
from . import areas, model
from .base import KnowledgeBase
from .folder import called, fingerprint, shipped
from .layers import Layer, needs_unmet
from .overlay import Merged, merge, merge_terms
from .term import TERMS, GlossaryFile, Term
from .validate import validate

with late():
    from importlib import metadata

    from . import lint

MOVES = "moves.yaml"
M = TypeVar("M", bound=BaseModel)


def load(root: Path | None = None, layers: Sequence[Layer] = ()) -> KnowledgeBase:
    """Load and lint a knowledge base (default: the shipped one), with layers of one's own over it.

    Raises KnowledgeError with every error of every file. Warnings do not stop it; see `check`.
    """
    base, problems = _assemble(root or shipped(), layers)
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors or base is None:
        raise KnowledgeError(errors)
    return base


def check(root: Path | None = None, layers: Sequence[Layer] = ()) -> tuple[Problem, ...]:
    """Every problem of a knowledge base, warnings included, in the order of the files."""
    return tuple(sorted(set(_assemble(root or shipped(), layers, thorough=True)[1])))


def terms(root: Path | None = None, layers: Sequence[Layer] = ()) -> dict[str, Term]:
    """The glossary by id, with the terms of the layers. Raises KnowledgeError with every error of its files."""
    problems: list[Problem] = []
    glossary = merged_terms(root, layers, problems)
    found = _terms(glossary, problems)
    problems.extend(_cautions_hidden(root or shipped(), glossary, found))
    if problems:
        raise KnowledgeError(problems)
    return found


def merged(root: Path | None, layers: Sequence[Layer], problems: list[Problem]) -> Merged:
    """The areas and circuits with all layers over them, as plain values that know where they stand."""
    root = root or shipped()
    return merge(areas.read(root, problems), layers, problems, circuits(root, problems))


def circuits(root: Path, problems: list[Problem]) -> dict[str, Document]:
    """The circuit files of a base, by name."""
    return {Path(name).stem: document for name, document in _documents(root, "amps", problems).items()}


def merged_terms(root: Path | None, layers: Sequence[Layer], problems: list[Problem]) -> Merged:
    """The files of the glossary with all layers over them, as plain values that know where they stand."""
    return merge_terms(_documents(root or shipped(), "glossary", problems), layers, problems)


def _terms(glossary: Merged, problems: list[Problem]) -> dict[str, Term]:
    found: dict[str, Term] = {}
    for document in glossary.areas.values():
        _stamp(document, (TERMS,))
        file = validate(document, GlossaryFile, problems, drop=True)
        for id_, term in file.terms.items() if file else ():
            if (first := found.setdefault(id_, term)) is not term:
                message = f"the id '{id_}' is taken: see {first.where}"
                problems.append(Problem(term.where, f"terms.{id_}", message, lint="duplicate-id"))
    return found


def _cautions_hidden(root: Path, glossary: Merged, now: Mapping[str, Term]) -> Iterator[Problem]:
    """Where a layer amends or retires a term of the base so that one of its cautions is no longer shown."""
    touched = {change.id: change for change in glossary.changes if change.kind in ("amend", "retire")}
    if not touched:
        return
    for id_, term in _terms(merged_terms(root, (), []), []).items():
        kept = now[id_].cautions if id_ in now else ()
        if id_ in touched and not set(term.cautions) <= set(kept):
            message = f"this would hide a caution of the term '{id_}' ({term.where}); that is refused"
            yield Problem(touched[id_].where, f"terms.{id_}", message, lint="safety-lowered")


def _assemble(
    root: Path, layers: Sequence[Layer] = (), thorough: bool = False
) -> tuple[KnowledgeBase | None, list[Problem]]:
    problems: list[Problem] = []
    common = _one(root, "common.yaml", model.CommonFile, problems)
    moves = _one(root, MOVES, model.MovesFile, problems) if (root / MOVES).exists() else None
    documents = areas.read(root, problems)
    try:
        reference = tables.read(root)
    except KnowledgeError as error:
        problems.extend(error.problems)
        return None, problems

    glossary = merged_terms(root, layers, problems) if thorough else None
    words = _terms(glossary, problems) if glossary else {}
    if glossary:
        problems.extend(_cautions_hidden(root, glossary, words))

    def based(documents: Mapping[str, Document], told: list[Problem]) -> KnowledgeBase | None:
        valid = _areas(documents, told)
        if common is None:
            return None
        return KnowledgeBase(
            areas=valid, scale=common.scale, cautions=common.cautions, amp_facts=common.amp_facts,
            reference_from=lambda: reference, fingerprint=fingerprint(root, layers), shop=common.shop,
            moves=moves.moves if moves else {}, words_of_hands=moves.words_of_hands if moves else (),
            terms_from=(lambda: words) if thorough else partial(terms, root, tuple(layers)),
        )  # fmt: skip

    if not layers:
        base = based(documents, problems)
        if base is not None:
            problems.extend(lint.run(lint.Look(base, documents, root, glossary=glossary), thorough))
        return base, problems
    problems.extend(needs_unmet(layers, _version()))
    below = based(documents, [])
    over = merge(documents, layers, problems, circuits(root, []))
    base = based(over.areas, problems)
    if base is not None:
        base = replace(base, shop=base.shop.model_copy(update=over.shop))
        problems.extend(lint.run(lint.Look(base, over.areas, root, below, over, glossary), thorough))
        # What one layer says of safety, those above it may not lower either.
        for number in range(1, len(layers)):
            beneath = merge(documents, layers[:number], [])
            if len(beneath.changes) > 0 and beneath.changes != over.changes:
                above = replace(over, changes=over.changes[len(beneath.changes) :])
                problems.extend(lint.run_safety(lint.Look(base, over.areas, root, based(beneath.areas, []), above)))
    return base, list(dict.fromkeys(problems))


def _areas(documents: Mapping[str, Document], problems: list[Problem]) -> dict[str, model.Area]:
    found: dict[str, model.Area] = {}
    for document in documents.values():
        _stamp(document, model.SECTIONS)
        area = validate(document, model.Area, problems, drop=True)
        if area is not None:
            found[area.area] = area
    return found


def _documents(root: Path, folder: str, problems: list[Problem]) -> dict[str, Document]:
    """The files of a folder of the base, by name."""
    documents: dict[str, Document] = {}
    for path in sorted((root / folder).glob("*.yaml")):
        name = called(path, root)
        try:
            documents[name] = read_file(path, name)
        except KnowledgeError as error:
            problems.extend(error.problems)
    return documents


def _version() -> str:
    try:
        return metadata.version("chopstick")
    except metadata.PackageNotFoundError:
        return "0"


def _one(root: Path, name: str, kind: type[M], problems: list[Problem]) -> M | None:
    try:
        document = read_file(root / name, called(root / name, root))
    except KnowledgeError as error:
        problems.extend(error.problems)
        return None
    _stamp(document, ("cautions", "amp_facts", "moves"))
    return validate(document, kind, problems)


def _stamp(document: Document, sections: Iterable[str]) -> None:
    """Tell each entry its id and its place; a file that says either itself is refused by the model."""
    if not isinstance(document.value, dict):
        return
    for section in sections:
        entries = document.value.get(section)
        if not isinstance(entries, dict):
            continue
        for key, entry in entries.items():
            if isinstance(entry, dict) and not {"id", "where"} & entry.keys():
                entry["id"] = key
                entry["where"] = document.where((section, key), key=True)
