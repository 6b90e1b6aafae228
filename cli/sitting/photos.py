"""Photographs of the work: the file that was named, and what it shows."""

from __future__ import annotations

from pathlib import Path

from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.log import Photo
from ..desk import now
from ..screen.screen import clean


def entry(typed: str, check: str = "") -> Photo:
    """The log entry for FILE, FILE WHAT IT SHOWS or FILE=WHAT IT SHOWS. Raises AnswerError."""
    path, shows = split(typed)
    return Photo(at=now(), path=str(path), text=clean(shows), check=check)


def split(typed: str) -> tuple[Path, str]:
    """The file, as an absolute path, and what it shows, from FILE WHAT IT SHOWS or FILE=WHAT IT SHOWS. A name with
    blanks is found when it is there; quotes around it may stay. Raises AnswerError."""
    typed = typed.strip()
    ends = [len(typed), *(at for at in range(len(typed) - 1, 0, -1) if typed[at] in " =")]
    for end in ends:
        name = typed[:end].strip().strip("\"'")
        path = Path(name).expanduser()
        if name and path.is_file():
            return path.resolve(), typed[end:].strip(" =")
    name = typed.split("=")[0].split(" ")[0]
    why = "that is a folder" if Path(name).expanduser().is_dir() else "there is no such file"
    raise AnswerError(f"'{clean(name)}': {why}. Give the file's path first, then what it shows.")
