"""Folders of the user's own: what the program keeps is for its user's eyes only."""

from __future__ import annotations

from pathlib import Path


def make_private(folder: Path) -> None:
    """Make a folder, and those above it that are missing, open to their owner alone. Raises OSError."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        one.mkdir(mode=0o700, exist_ok=True)
    if not folder.is_dir():
        raise NotADirectoryError(20, "Not a directory", str(folder))
