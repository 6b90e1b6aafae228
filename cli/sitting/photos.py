"""Photographs of the work: the file that was named, and what it shows."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from ...engine.folders import named
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
        if name and _trouble(name) == "":
            return _kept(Path(os.path.realpath(named(name)))), typed[end:].strip(" =")
    name = typed.split("=")[0].split(" ")[0]
    raise AnswerError(f"'{clean(name)}': {_trouble(name)}. Give the file's path first, then what it shows.")


def _trouble(name: str) -> str:
    """Why that can't be a photograph; '' when it can."""
    try:
        mode = named(name).stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return "there is no such file"
    except OSError as error:
        return f"it can't be looked at ({error.strerror})"
    except ValueError:  # a sign that no name can have
        return "there is no such file"
    if stat.S_ISREG(mode):
        return ""
    return "that is a folder" if stat.S_ISDIR(mode) else "that is no plain file"


def _kept(path: Path) -> Path:
    """The path, where a job can keep it. Raises AnswerError."""
    try:
        str(path).encode()
    except UnicodeEncodeError as error:
        raise AnswerError(f"'{clean(path)}': its name is no text in UTF-8. Rename the file first.") from error
    return path
