"""YAML text to plain values, each with its place in the file: as every file of kb/ is read."""

from ..reference.text import Document, Mark, Place, read, read_file

__all__ = ["Document", "Mark", "Place", "read", "read_file"]
