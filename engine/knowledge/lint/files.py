"""The files themselves, as they are written and found: their first line, and their length."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from ...folders import plain_bytes
from ...reference.errors import Problem, Where
from ...reference.text import MOST_CHARACTERS
from ..areas import HEAD, PARTS
from ..folder import called, files
from .frame import Look, lint

MOST_LINES = 300
SCHEMAS = {"amps": "circuit", "glossary": "glossary", "practice": "job"}  # by folder; elsewhere a file's own name


@lint("warning")
def modeline(look: Look) -> Iterator[Problem]:
    """The first line of a file of the base does not name the schema of its kind. An editor that reads the line shows
    what each key means, and every slip, while the file is written. Put the line that is told at the top of the file.
    """
    for path in files(look.root):
        schema = look.root / "schema" / f"{_kind(path.relative_to(look.root))}.schema.json"
        wanted = f"# yaml-language-server: $schema={Path(os.path.relpath(schema, path.parent)).as_posix()}"
        if schema.exists() and _text(path).partition("\n")[0] != wanted:
            where = Where(called(path, look.root))
            yield Problem(where, "", "the first line does not name the schema of this file.", f"It should be: {wanted}")


@lint("warning")
def long_file(look: Look) -> Iterator[Problem]:
    """A file of an area that is too long to be read in one sitting. What belongs together then stands far apart again.
    Split it by subject: the other half goes to a new file beside it, with an `about` of its own; ids stay as they are.
    """
    for path in sorted([*(look.root / "areas").glob("*/*.yaml"), *(look.root / PARTS).glob("*.yaml")]):
        lines = len(_text(path).splitlines())
        if lines > MOST_LINES:
            message = f"{lines} lines; a file of an area has at most {MOST_LINES}"
            yield Problem(Where(called(path, look.root), MOST_LINES + 1), "", message)


def _text(path: Path) -> str:
    """What is in a file; nothing where it can't be read, which is told by what loads it."""
    with suppress(OSError, UnicodeDecodeError):
        return plain_bytes(path, MOST_CHARACTERS).decode()
    return ""


def _kind(path: Path) -> str:
    """The kind of schema that a file of the base follows. path: below the base's folder."""
    if path.parts[0] in ("areas", PARTS):
        return "area" if path.name == HEAD else "subject"
    return SCHEMAS.get(path.parts[0], path.stem)
