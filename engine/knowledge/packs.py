"""Rule packs: a folder of somebody else's knowledge, with a manifest, taken in, compared, and taken out again."""

from __future__ import annotations

import difflib
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from ..folders import make_private
from ..reference.errors import KnowledgeError, Problem, Where
from . import load as loader
from .layers import MANIFEST, Layer, Manifest
from .overlay import Merged, origins


@dataclass(frozen=True)
class Difference:
    """How one entry would change. kind: added, changed or gone; lines: what is taken away (-) and what comes (+)."""

    kind: str
    section: str
    id: str
    lines: tuple[str, ...]


def manifest(folder: Path) -> Manifest:
    """The manifest of a pack's folder. Raises KnowledgeError when there is none, or it does not fit."""
    found = Layer("pack", f"pack {folder.name}", folder).manifest
    if found is None:
        message = f"a pack is a folder with {MANIFEST} (name, version, about) and areas/*.yaml"
        raise KnowledgeError([Problem(Where(str(folder)), "", message, lint="layer")])
    return found


def with_pack(layers: Sequence[Layer], pack: Layer, name: str) -> tuple[Layer, ...]:
    """The layers with a pack in its place: instead of the one of that name, or after the packs before it."""
    others = [layer for layer in layers if not (layer.kind == "pack" and layer.path.name == name)]
    packs = sorted([*(layer for layer in others if layer.kind == "pack"), pack], key=lambda one: one.name)
    return (*packs, *(layer for layer in others if layer.kind != "pack"))


def differences(root: Path | None, before: Sequence[Layer], after: Sequence[Layer]) -> Iterator[Difference]:
    """How the effective knowledge differs between two sets of layers, entry by entry."""
    old, new = loader.merged(root, before, []), loader.merged(root, after, [])
    touched = {(change.section, change.id) for change in (*old.changes, *new.changes)}
    for section, id_ in sorted(touched):
        was, now = _lines(old, section, id_), _lines(new, section, id_)
        if was == now:
            continue
        kind = "added" if not was else "gone" if not now else "changed"
        told = [line for line in difflib.unified_diff(was, now, lineterm="", n=0) if line[:3] not in ("---", "+++")]
        yield Difference(kind, section, id_, tuple(line for line in told if not line.startswith("@@")))


def _lines(merged: Merged, section: str, id_: str) -> list[str]:
    """An entry, one line per field, fields within fields spelled out."""
    return [line for origin in origins(merged, section, id_) for line in _flat(origin.field, origin.value)]


def _flat(field: str, value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inside in value.items():
            yield from _flat(f"{field}.{key}", inside)
    elif isinstance(value, list):
        for number, inside in enumerate(value, start=1):
            yield from _flat(f"{field} {number}" if isinstance(inside, dict | list) else field, inside)
    else:
        yield f"{field}: {value}"


def take_in(folder: Path, packs: Path) -> Path:
    """Copy a pack into the user's folder of packs, whole or not at all, and only the files that a pack may have.

    It takes the place of an earlier version. Whether it may be loaded is for the caller to check first. Raises
    KnowledgeError.
    """
    found = manifest(folder)
    layer = Layer("pack", f"pack {found.name}", folder)
    target = packs / found.name
    contents = list(_read(layer))
    try:
        make_private(packs)
        new = Path(tempfile.mkdtemp(prefix=".", dir=packs))
        old = new.with_name(f"{new.name}.old")
        try:
            (new / "areas").mkdir()
            for place, content in contents:
                (new / place).parent.mkdir(exist_ok=True)
                (new / place).write_bytes(content)
            if target.exists():
                os.replace(target, old)
            os.replace(new, target)
        finally:
            for left in (new, old):
                if left.exists():
                    shutil.rmtree(left, ignore_errors=True)
    except OSError as error:
        raise KnowledgeError([Problem(Where(str(packs)), "", f"can't be kept: {error.strerror}")]) from error
    return target


def _read(layer: Layer) -> Iterator[tuple[Path, bytes]]:
    try:
        yield from layer.contents()
    except OSError as error:
        raise KnowledgeError([Problem(Where(str(layer.path)), "", f"can't be read: {error.strerror}")]) from error


def take_out(name: str, packs: Path) -> bool:
    """Remove a pack; False when there was none of that name."""
    target = packs / name
    if target.parent != packs or name.startswith(".") or not target.is_dir():
        return False
    with suppress(OSError):
        shutil.rmtree(target)
    return not target.exists()
