"""The figures of kb/reference and their bibliography, as frozen models.

``load()`` reads the files once. A rating holds only for the types it names and under its rating system, so
``Reference.rating`` and ``Reference.limit`` say which block they chose and why; the order is

1. blocks that name the type fitted (`6V6GTA`, not merely its family); with none, those of its family,
2. blocks of the rating system asked for, when one is asked for,
3. blocks read in a sheet before blocks from memory,
4. design center, then design maximum, then no system named, then absolute maximum.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from ..late import late
from .errors import KnowledgeError, Problem, UnknownName, did_you_mean
from .model import (
    SYSTEMS,
    Base,
    Block,
    Lamp,
    LetterCode,
    Rating,
    ReadingError,
    Rectifier,
    Rerating,
    Source,
    Sourced,
    Taper,
    TrackFigure,
    Tube,
    Window,
)
from .text import Document, read_file

with late():
    from rapidfuzz import fuzz, process


@dataclass(frozen=True)
class Chosen:
    """A figure picked from the reference: its value, the block it stands in, and why that block."""

    value: float
    rating: Rating
    why: str


class Reference(Block):
    """All reference figures. Look-ups resolve other names of a type; they raise UnknownName."""

    sources: Mapping[str, Source]
    bases: Mapping[str, Base]
    tubes: Mapping[str, Tube]
    rectifiers: Mapping[str, Rectifier]
    lamps: Mapping[str, Lamp]
    rerating: Rerating
    tapers: Mapping[str, Taper]
    law: Mapping[str, Sourced]
    letters: Mapping[str, LetterCode]
    track: Mapping[str, TrackFigure]
    limits: Mapping[str, Window]
    errors: Mapping[str, ReadingError]
    spreads: Mapping[str, ReadingError]

    def tube(self, name: str) -> Tube:
        """The family a tube type belongs to: ``tube("6v6gta").name == "6V6GT"``."""
        return self.tubes[_resolved(name, self.tubes, "tube")[0]]

    def rectifier(self, name: str) -> Rectifier:
        """The rectifier of that type or plug-in name: ``rectifier("GZ34").name == "5AR4"``."""
        return self.rectifiers[_resolved(name, self.rectifiers, "rectifier")[0]]

    def pins(self, electrode: str, table: str = "tubes") -> Mapping[str, tuple[int, ...]]:
        """The pins of an electrode on each family of a table (tubes or rectifiers) whose base is on file and has it."""
        entries: Mapping[str, Tube | Rectifier] = self.rectifiers if table == "rectifiers" else self.tubes
        bases = {name: self.bases[one.base] for name, one in entries.items() if one.base is not None}
        return {name: base.pins[electrode] for name, base in bases.items() if electrode in base.pins}

    def fitted(self, name: str) -> str:
        """The type as the files spell it: `fitted("6v6-gta") == "6V6GTA"`, `fitted("12AX7WA") == "12AX7"`.

        A selection suffix that the files do not know (up to three letters) is dropped.
        """
        return _resolved(name, self.tubes, "tube")[1]

    def lamp(self, number: str) -> Lamp:
        return _named(number.strip().lstrip("#"), self.lamps, "lamp")

    def taper(self, name: str) -> Taper:
        return _named(name.strip().lower(), self.tapers, "taper")

    def window(self, name: str) -> Window:
        """A limit of limits.yaml by its full name, unit included: ``window("pair_mismatch_percent")``."""
        return _named(name, self.limits, "limit")

    def track_figure(self, name: str) -> float:
        return _named(name, self.track, "track figure").value

    def reading_error(self, value: float, unit: str) -> float:
        """How far a reading in that unit may be off either way; 0 for a unit that carries none (a count)."""
        return self.errors[unit].of(value) if unit in self.errors else 0.0

    def source(self, name: str) -> Source:
        return _named(name, self.sources, "source")

    def ratings(self, name: str, system: str | None = None) -> tuple[Rating, ...]:
        """The rating blocks of the type fitted, best first (the order stands at the top of this module)."""
        tube, fitted = self.tube(name), self.fitted(name)
        blocks = [block for block in tube.ratings if fitted in block.types]
        if not blocks:
            blocks = [block for block in tube.ratings if tube.types[0] in block.types]
        if system is not None:
            blocks = [block for block in blocks if block.system == system]
            if not blocks:
                known = ", ".join(sorted({block.system for block in self.ratings(name)}))
                raise UnknownName(f"no {system} rating of {fitted} is on file; there is: {known}")
        order = sorted(blocks, key=lambda block: (not block.seen, SYSTEMS.index(block.system)))
        return tuple(order)

    def rating(self, name: str, system: str | None = None) -> Chosen:
        """The plate dissipation rating of the type fitted, in watts, with its block and the reason for it."""
        return self.limit(name, "plate_W", system)

    def limit(self, name: str, key: str, system: str | None = None) -> Chosen:
        """One limit (``plate_V``, ``screen_W`` ...) of the type fitted, from the best block that gives it."""
        if key not in _LIMITS:
            raise UnknownName(f"there is no limit called '{key}'. {did_you_mean(key, _LIMITS)}".strip())
        fitted = self.fitted(name)
        for block in self.ratings(name, system):
            value = getattr(block, key)
            if value is not None:
                return Chosen(value, block, _why(fitted, block, self.source(block.source)))
        raise UnknownName(f"the ratings on file for {fitted} give no {key}")


_LIMITS = tuple(name for name in Rating.model_fields if re.search(r"_(V|W|mA|ohm)$", name))


def _why(fitted: str, block: Rating, source: Source) -> str:
    kind = fitted if fitted in block.types else f"{fitted} (rating of its family's {block.types[0]})"
    system = "rating system not stated" if block.system == "not stated" else block.system
    if source.publisher == "secondary":
        return f"{kind}, {system}: {source.title} (secondary text)"
    read = "sheet seen" if block.seen else "from memory, confirm on the sheet"
    return f"{kind}, {system}, {source.publisher}: {source.title} ({read})"


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower())


def _resolved(name: str, entries: Mapping[str, Any], what: str) -> tuple[str, str]:
    """The family and the type that a name as typed stands for."""
    kinds = {_plain(kind): (family, kind) for family, entry in entries.items() for kind in entry.types}
    typed = _plain(name)
    for length in range(len(typed), max(len(typed) - 4, 2), -1):
        stem, suffix = typed[:length], typed[length:]
        if stem in kinds and (not suffix or suffix.isalpha()):
            return kinds[stem]
    raise UnknownName(_missing(name, [kind for _, kind in kinds.values()], what))


Entry = TypeVar("Entry")


def _named(name: str, entries: Mapping[str, Entry], what: str) -> Entry:
    if name not in entries:
        raise UnknownName(_missing(name, list(entries), what))
    return entries[name]


def _missing(name: str, known: list[str], what: str) -> str:
    near = process.extract(name.upper(), known, scorer=fuzz.ratio, processor=str.upper, limit=3, score_cutoff=50)
    hint = f"nearest: {', '.join(match[0] for match in near)}" if near else f"known: {', '.join(known)}"
    return f"no {what} called '{name}' is on file; {hint}"


@cache
def load() -> Reference:
    """The reference figures that ship with chopstick."""
    return read(Path(str(resources.files("chopstick.kb"))))


def read(folder: Path) -> Reference:
    """Read sources.yaml and reference/*.yaml below a kb folder. Raises KnowledgeError with every problem."""
    documents = {
        name: read_file(folder / file, f"kb/{file}")
        for name, file in (
            ("sources", "sources.yaml"),
            *((stem, f"reference/{stem}.yaml") for stem in FILES if stem != "sources"),
        )
    }
    values: dict[str, Any] = {}
    for name, document in documents.items():
        content = document.value if isinstance(document.value, dict) else {}
        values |= {key: content.get(key) for key in FILES[name]}
    for kind in ("tubes", "rectifiers"):
        entries = values[kind] if isinstance(values[kind], dict) else {}
        values[kind] = {name: {"name": name, **entry} for name, entry in entries.items() if isinstance(entry, dict)}
    try:
        reference = Reference.model_validate(values)
    except ValidationError as error:
        raise KnowledgeError(_problems(error, documents)) from error
    missing = [*_sources_missing(values, reference.sources, documents), *_bases_missing(reference, documents)]
    if missing:
        raise KnowledgeError(missing)
    return reference


FILES: dict[str, tuple[str, ...]] = {
    "sources": ("sources",),
    "bases": ("bases",),
    "tubes": ("tubes",),
    "rectifiers": ("rectifiers",),
    "lamps": ("lamps", "rerating"),
    "tapers": ("tapers", "law", "letters", "track"),
    "limits": ("limits",),
    "errors": ("errors", "spreads"),
}


def _document(key: object, documents: Mapping[str, Document]) -> Document:
    return next(documents[name] for name, keys in FILES.items() if key in keys)


def _problems(error: ValidationError, documents: Mapping[str, Document]) -> Iterable[Problem]:
    for detail in error.errors():
        place = tuple(detail["loc"])
        where = _document(place[0], documents).where(place, key=detail["type"] == "extra_forbidden")
        yield Problem(where, ".".join(map(str, place)), detail["msg"], lint="reference-format")


def _bases_missing(reference: Reference, documents: Mapping[str, Document]) -> Iterable[Problem]:
    for kind, entries in (("tubes", reference.tubes), ("rectifiers", reference.rectifiers)):
        for name, entry in entries.items():
            if entry.base is not None and entry.base not in reference.bases:
                text = f"base '{entry.base}' is not in kb/reference/bases.yaml."
                hint = did_you_mean(entry.base, list(reference.bases))
                where = documents[kind].where((kind, name, "base"))
                yield Problem(where, f"{kind}.{name}.base", text, hint, "missing-base")


def _sources_missing(
    values: Mapping[str, Any], sources: Mapping[str, Source], documents: Mapping[str, Document]
) -> Iterable[Problem]:
    def walk(node: Any, place: tuple[str | int, ...]) -> Iterable[Problem]:
        if isinstance(node, dict):
            name = node.get("source")
            if isinstance(name, str) and name not in sources:
                where = _document(place[0], documents).where((*place, "source"))
                text = f"source '{name}' is not in kb/sources.yaml."
                yield Problem(
                    where,
                    ".".join(map(str, place)),
                    text,
                    did_you_mean(name, list(sources)),
                    "missing-source",
                )
        children: Iterable[tuple[str | int, Any]] = (
            node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
        )
        for key, child in children:
            yield from walk(child, (*place, key))

    for key in values:
        if key != "sources":
            yield from walk(values[key], (key,))
