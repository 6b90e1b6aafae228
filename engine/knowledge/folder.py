"""The folder of a knowledge base: which one is shipped, and what tells one state of its files from another."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from ..late import late
from .layers import Layer

with late():
    from importlib import resources


def shipped() -> Path:
    """The folder of the knowledge base that is installed with the program."""
    return Path(str(resources.files("chopstick.kb")))


def called(path: Path, root: Path) -> str:
    """What problems call a file of a base."""
    return f"kb/{path.relative_to(root).as_posix()}" if root == shipped() else str(path)


def files(root: Path) -> Iterator[Path]:
    """Every file of a base, by name; the examples are not part of it."""
    return (path for path in sorted(root.rglob("*.yaml")) if "examples" not in path.relative_to(root).parts)


def fingerprint(root: Path, layers: Sequence[Layer] = ()) -> str:
    """A hash of every file of a base and its layers."""
    digest = hashlib.sha256()
    for path in files(root):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    for layer in layers:
        for name, content in layer.contents():
            digest.update(f"{layer.name}/{name}".encode() + b"\0" + content + b"\0")
    return digest.hexdigest()
