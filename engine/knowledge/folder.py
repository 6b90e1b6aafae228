"""The folder of a knowledge base: which one is shipped, and what tells one state of its files from another."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from .layers import Layer


def shipped() -> Path:
    """The folder of the knowledge base that is installed with the program."""
    from importlib.resources import files

    return Path(str(files("chopstick.kb")))


def fingerprint(root: Path, layers: Sequence[Layer] = ()) -> str:
    """A hash of every file of a base and its layers."""
    digest = hashlib.sha256()
    for path in sorted(one for one in root.rglob("*.yaml") if "examples" not in one.relative_to(root).parts):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    for layer in layers:
        for name, content in layer.contents():
            digest.update(f"{layer.name}/{name}".encode() + b"\0" + content + b"\0")
    return digest.hexdigest()
