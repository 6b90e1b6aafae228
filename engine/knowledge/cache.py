"""Loading from a cache: the same value as `load.load`, without reading and checking the YAML again.

The key is a hash of everything the value comes from: the files of the base and of every layer, where they stand, and
the program's own modules that read and check them. What is kept is plain JSON, validated again when it is read. It
lies in the user's own cache folder, and is believed only while nobody else could have written it. It is safe to
delete at any time.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import cache as once
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from ..folders import make_private
from ..late import late
from ..reference.errors import KnowledgeError
from .base import KnowledgeBase
from .entry import Strict
from .folder import fingerprint, shipped
from .layers import Layer
from .model import Area, CommonFile, MovesFile

if TYPE_CHECKING:
    from ..reference.tables import Reference
    from .term import Term

with late():
    import platformdirs

    from ..reference import tables
    from . import load as loader

ROOMS = ("knowledge", "bench", "reference")  # whose modules read and check what is kept
MOST_KEPT = 8
MOST_BYTES = 200_000_000


class _Kept(Strict):
    areas: dict[str, Area]
    common: CommonFile
    moves: MovesFile
    reference: dict[str, Any]


def default_folder() -> Path:
    return Path(platformdirs.user_cache_dir("chopstick", appauthor=False)) / "knowledge"


def load(root: Path | None = None, layers: Sequence[Layer] = (), folder: Path | None = None) -> KnowledgeBase:
    """As `load.load`; from the cache in `folder` when it has this very knowledge. A cache that can't be used, or
    written, costs time and nothing else. Raises KnowledgeError."""
    root = root or shipped()
    folder = folder or default_folder()
    found = fingerprint(root, layers)
    path = folder / f"{key(root, layers, found)}.json"
    kept = _read(path)
    if kept is not None:
        common = kept.common
        return KnowledgeBase(
            areas=kept.areas, scale=common.scale, cautions=common.cautions, amp_facts=common.amp_facts,
            reference_from=once(partial(_reference, root, kept.reference)), fingerprint=found, shop=common.shop,
            moves=kept.moves.moves, words_of_hands=kept.moves.words_of_hands,
            terms_from=partial(_terms, root, tuple(layers)),
        )  # fmt: skip

    base = loader.load(root, layers)
    if base.fingerprint == found:  # else a file changed meanwhile
        common = CommonFile(
            scale=base.scale, cautions=dict(base.cautions), amp_facts=dict(base.amp_facts), shop=base.shop
        )
        with suppress(OSError):
            reference = base.reference.model_dump(mode="json", by_alias=True, exclude_defaults=True)
            moves = MovesFile(moves=dict(base.moves), words_of_hands=base.words_of_hands)
            _write(path, _Kept(areas=dict(base.areas), common=common, moves=moves, reference=reference))
    return base


def _reference(root: Path, kept: dict[str, Any]) -> Reference:
    try:
        return tables.Reference.model_validate(kept)
    except ValidationError:
        return tables.read(root)


def _terms(root: Path, layers: Sequence[Layer]) -> Mapping[str, Term]:
    return loader.terms(root, layers)


def key(root: Path, layers: Sequence[Layer], fingerprint: str) -> str:
    """The name under which a knowledge base is kept."""
    digest = hashlib.sha256(os.fsencode(f"{os.path.realpath(root)}\0{fingerprint}\0"))
    for layer in layers:
        digest.update(os.fsencode(f"{layer.kind}\0{layer.name}\0{os.path.realpath(layer.path)}\0{layer.without}\0"))
    engine = Path(__file__).parents[1]
    for source in sorted(path for room in ROOMS for path in (engine / room).rglob("*.py")):
        digest.update(source.read_bytes())
    return digest.hexdigest()


def _read(path: Path) -> _Kept | None:
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        return None
    try:
        with open(handle, "rb") as stream:
            if not (ours(os.fstat(handle)) and ours(os.stat(path.parent))):
                return None
            return _Kept.model_validate_json(stream.read(MOST_BYTES))
    except (OSError, ValidationError, KnowledgeError):
        return None


def ours(status: os.stat_result) -> bool:
    """Whether a file or folder is ours, and nobody else may write to it."""
    owner = getattr(os, "getuid", lambda: status.st_uid)()
    return status.st_uid == owner and not status.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


def _write(path: Path, kept: _Kept) -> None:
    """Keep it, whole or not at all; readable by its owner only."""
    make_private(path.parent)
    new = path.with_name(f".{path.name}.{os.getpid()}")
    handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with open(handle, "w", encoding="utf-8") as stream:
            stream.write(kept.model_dump_json(by_alias=True, exclude_defaults=True))
        os.replace(new, path)
    finally:
        with suppress(OSError):
            new.unlink()
    older = sorted(path.parent.glob("*.json"), key=lambda one: one.stat().st_mtime_ns, reverse=True)
    for one in older[MOST_KEPT:]:
        with suppress(OSError):
            one.unlink()
