"""The layers of knowledge above the shipped base: packs, the user's own, the shop's, the job's. Later ones win.

A layer is one folder (or one file, for a trial): `pack.yaml`, its manifest, needed for a pack and welcome elsewhere,
`areas/*.yaml`, and `circuits/*.yaml`, each a circuit as those of kb/amps. Nothing else in it is read. A layer comes
from outside: links, pipes and devices are refused, and the number and size of its files are bounded.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from ..folders import named, plain_bytes
from ..late import late
from ..reference.errors import KnowledgeError, Problem, Where
from ..reference.text import Document, read_file
from .entry import Id, Line, Prose, Strict
from .validate import validate

with late():
    import platformdirs
    from packaging import specifiers

SHOP = "CHOPSTICK_SHOP"
USER = "CHOPSTICK_USER"
MANIFEST = "pack.yaml"
MOST_FILES = 200
MOST_BYTES = 4_000_000  # in all; the whole shipped base has 1.7 million

Kind = Literal["pack", "user", "shop", "job", "trial"]
Version = Annotated[str, Field(pattern=r"^[0-9]{1,6}(\.[0-9]{1,6}){0,3}$", description="As in 1.4 or 2.0.1.")]


class Manifest(Strict):
    """pack.yaml: what a pack is called, which version it is, and what it needs."""

    name: Id
    version: Version
    about: Prose = Field(description="What it is for, and where its knowledge comes from.")
    needs: dict[Id, Annotated[str, Field(max_length=60)]] = Field(
        default_factory=dict,
        description="Versions it works with: of chopstick, and of packs that must be there too; as in '>=0.1, <2'.",
    )
    author: Line | None = Field(default=None, description="Whom to ask about it.")


@dataclass(frozen=True)
class Layer:
    """One layer. name: what people call it, as in `shop` or `pack speakers`. path: its folder, or its only file.
    without: files of it that are left out, as when they are on trial."""

    kind: Kind
    name: str
    path: Path
    without: tuple[Path, ...] = ()

    @cached_property
    def manifest(self) -> Manifest | None:
        """Its manifest; None when it has none. Raises KnowledgeError."""
        path = self.manifest_file()
        return None if path is None else manifest_of(read_file(path, str(path)))

    def manifest_file(self) -> Path | None:
        """The file of its manifest; None when it has none. Raises KnowledgeError for a link and for what is no file."""
        path = self.path / MANIFEST
        if self.path.is_file() or not os.path.lexists(path):
            return None
        return _plain(path, self.path)

    def files(self) -> tuple[Path, ...]:
        """Its area files, in the order in which they are read. Raises KnowledgeError for links and crowds."""
        return (self.path,) if self.path.is_file() else self._plain_files("areas")

    def circuits(self) -> tuple[Path, ...]:
        """Its circuit files, by name. Raises KnowledgeError for links and crowds."""
        return () if self.path.is_file() else self._plain_files("circuits")

    def _plain_files(self, folder: str) -> tuple[Path, ...]:
        found = list(islice((self.path / folder).glob("*.yaml"), MOST_FILES + 1))
        if len(found) > MOST_FILES:
            raise KnowledgeError([_problem(self.path, f"more than {MOST_FILES} files; merge some")])
        found.sort()
        checked = tuple(_plain(path, self.path) for path in found if path not in self.without)
        if sum(path.stat().st_size for path in checked) > MOST_BYTES:
            raise KnowledgeError([_problem(self.path, f"more than {MOST_BYTES:,} bytes in all")])
        return checked

    def documents(self, problems: list[Problem]) -> Iterator[Document]:
        """Its files, read. Whatever can't be read is told in `problems`."""
        try:
            files = self.files()
        except (KnowledgeError, OSError) as error:
            problems.extend(_problems(error, self.path))
            return
        yield from _read(files, problems)

    def circuit_documents(self, problems: list[Problem]) -> Iterator[Document]:
        """Its circuit files, read. Whatever can't be read is told in `problems`."""
        try:
            files = self.circuits()
        except (KnowledgeError, OSError) as error:
            problems.extend(_problems(error, self.path))
            return
        yield from _read(files, problems)

    def contents(self) -> Iterator[tuple[Path, bytes]]:
        """All its files, by their places in it, with what is in them. Raises KnowledgeError, OSError."""
        manifest = self.manifest_file()
        for path in (*([] if manifest is None else [manifest]), *self.files(), *self.circuits()):
            place = Path(path.name) if path == self.path else path.relative_to(self.path)
            yield place, plain_bytes(path, MOST_BYTES)


def found(environment: Mapping[str, str], shop: Path | None = None, job: Path | None = None) -> tuple[Layer, ...]:
    """The layers that are there, in their order: packs by name, the user's, the shop's, the job's.

    shop: a folder chosen on the command line, which must exist; else CHOPSTICK_SHOP. job: a job's file; its layer is
    the folder beside it whose name ends in `.knowledge`. Raises KnowledgeError when a folder that was named is missing.
    """
    layers = [Layer("pack", f"pack {path.name}", path) for path in packs(environment)]
    layers.append(Layer("user", "user", user_folder(environment)))
    chosen = shop or (named(environment[SHOP]) if environment.get(SHOP) else None)
    if chosen is not None:
        if not chosen.is_dir():
            raise KnowledgeError([_problem(chosen, f"there is no such folder of the shop's own ({SHOP})")])
        layers.append(Layer("shop", "shop", chosen))
    if job is not None:
        layers.append(Layer("job", f"job {job.stem}", job.with_suffix(".knowledge")))
    return tuple(
        layer
        for layer in layers
        if layer.kind in ("pack", "shop") or any((layer.path / name).is_dir() for name in ("areas", "circuits"))
    )


def packs(environment: Mapping[str, str]) -> tuple[Path, ...]:
    """The folders of the packs that are installed, by name."""
    folder = packs_folder(environment)
    if not folder.is_dir():
        return ()
    return tuple(path for path in sorted(folder.iterdir()) if path.is_dir() and not path.name.startswith("."))


def packs_folder(environment: Mapping[str, str]) -> Path:
    return user_folder(environment) / "packs"


def user_folder(environment: Mapping[str, str]) -> Path:
    """The user's own layer, with the packs beside its areas: CHOPSTICK_USER, else in the user's data folder."""
    if chosen := environment.get(USER):
        return named(chosen)

    return Path(platformdirs.user_data_dir("chopstick", appauthor=False)) / "knowledge"


def manifest_of(document: Document) -> Manifest:
    """A manifest from its document. Raises KnowledgeError with every problem at its place."""
    problems: list[Problem] = []
    manifest = validate(document, Manifest, problems)
    if manifest is None:
        raise KnowledgeError(problems)
    return manifest


def on_trial(path: Path, layers: Sequence[Layer]) -> tuple[tuple[Layer, ...], tuple[Layer, ...]]:
    """The layers without and with a file, or a folder, that is on trial: one of theirs, or a new one over them."""
    real = os.path.realpath(path)
    for number, layer in enumerate(layers):
        if layer.path.is_dir() and real == os.path.realpath(layer.path):
            return (*layers[:number], *layers[number + 1 :]), tuple(layers)
        ours = tuple(one for one in layer.files() if layer.path.is_dir() and os.path.realpath(one) == real)
        if ours:
            return (*layers[:number], replace(layer, without=ours), *layers[number + 1 :]), tuple(layers)
    return tuple(layers), (*layers, Layer("trial", f"trial {path.name}", path))


def needs_unmet(layers: Sequence[Layer], chopstick: str) -> Iterator[Problem]:
    """Each need of a pack that is not met. chopstick: the program's own version."""
    there: dict[str, str] = {"chopstick": chopstick}
    manifests: list[tuple[Layer, Manifest]] = []
    for layer in layers:
        try:
            manifest = layer.manifest
        except (KnowledgeError, OSError) as error:
            yield from _problems(error, layer.path)
            continue
        if manifest is None and layer.kind == "pack":
            yield _problem(layer.path, f"a pack needs a manifest, {MANIFEST}, with name, version and about")
        if manifest is not None:
            there[manifest.name] = manifest.version
            manifests.append((layer, manifest))
    for layer, manifest in manifests:
        for name, wanted in manifest.needs.items():
            if trouble := _unmet(name, wanted, there.get(name)):
                yield _problem(layer.path / MANIFEST, f"{manifest.name} {manifest.version} {trouble}")


def _unmet(name: str, wanted: str, version: str | None) -> str:
    try:
        specifier = specifiers.SpecifierSet(wanted)
    except specifiers.InvalidSpecifier:
        return f"needs '{name}' in a version that can't be read: '{wanted}'; write it as in '>=1.2, <2'"
    if version is None:
        return f"needs the pack '{name}' ({wanted}), which is not there"
    return "" if specifier.contains(version) else f"needs {name} {wanted}; there is {version}"


def _read(files: Iterable[Path], problems: list[Problem]) -> Iterator[Document]:
    for path in files:
        try:
            yield read_file(path, str(path))
        except KnowledgeError as error:
            problems.extend(error.problems)


def _plain(path: Path, folder: Path) -> Path:
    """The path itself, once it is known to be a plain file in the folder and no link to somewhere else."""
    status = path.lstat()
    real = Path(os.path.realpath(path))
    if stat.S_ISLNK(status.st_mode) or Path(os.path.realpath(folder)) not in real.parents:
        raise KnowledgeError([_problem(path, "a link; a layer is read from its own files only")])
    if not stat.S_ISREG(status.st_mode):
        raise KnowledgeError([_problem(path, "not a plain file")])
    return path


def _problem(path: Path, message: str) -> Problem:
    return Problem(Where(str(path)), "", message, lint="layer")


def _problems(error: KnowledgeError | OSError | ValidationError, path: Path) -> Iterable[Problem]:
    if isinstance(error, KnowledgeError):
        return error.problems
    return [_problem(path, f"can't be read: {error}")]
