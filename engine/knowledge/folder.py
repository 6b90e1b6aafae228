"""The folder of a knowledge base: which one is shipped, and what tells one state of its files from another."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from ..folders import plain_bytes
from ..late import late
from ..reference.errors import KnowledgeError
from .layers import MOST_BYTES, Layer

with late():
    from importlib import resources


def shipped() -> Path:
    """The folder of the knowledge base that is installed with the program."""
    return Path(str(resources.files("chopstick.kb")))


def called(path: Path, root: Path) -> str:
    """What problems call a file of a base."""
    return f"kb/{path.relative_to(root).as_posix()}" if root == shipped() else str(path)


def files(root: Path) -> Iterator[Path]:
    """Every file of a base, by name; the examples are not part of it. A folder without areas is no base, and might be
    the whole disk."""
    if not (root / "areas").is_dir():
        return iter(())
    return (path for path in sorted(root.rglob("*.yaml")) if "examples" not in path.relative_to(root).parts)


def fingerprint(root: Path, layers: Sequence[Layer] = ()) -> str:
    """A hash of every file of a base and its layers. What can't be read, or is no plain file, counts as empty: whoever
    loads it says what is wrong."""
    digest = hashlib.sha256()

    def take(name: str, content: bytes) -> None:
        digest.update(name.encode("utf-8", "surrogateescape") + b"\0" + content + b"\0")

    for path in files(root):
        content = b""
        with suppress(OSError):
            content = plain_bytes(path, MOST_BYTES)
        take(path.relative_to(root).as_posix(), content)
    for layer in layers:
        with suppress(KnowledgeError, OSError):
            for place, content in layer.contents():
                take(f"{layer.name}/{place.as_posix()}", content)
    return digest.hexdigest()
