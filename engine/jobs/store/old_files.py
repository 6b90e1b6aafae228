"""Reads the job files of the version before the database: one line of JSON an entry.

A last line that a kill has torn is left out; the files themselves are never written to.
"""

from __future__ import annotations

import re
from pathlib import Path

from pydantic import ValidationError

from ...reasoning.log import ENTRY, LogEntry
from .errors import JobError

_NAME = re.compile(r"(\d{4,})\.job")


def job_files(folder: Path) -> dict[str, int]:
    """The job files of a folder by name, with the number of each job, in the order of their numbers."""
    if not folder.is_dir():
        return {}
    found = {path.name: int(match[1]) for path in folder.iterdir() if (match := _NAME.fullmatch(path.name))}
    return dict(sorted(found.items(), key=lambda one: one[1]))


def read(path: Path) -> list[LogEntry]:
    """The log in a job file. Raises JobError, with the line, when it can't be read."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise JobError(f"{path} can't be read: {error.strerror}") from error
    *whole, last = content.split(b"\n")
    log = [_entry(path, number, line) for number, line in enumerate(whole, start=1)]
    try:
        return [*log, ENTRY.validate_json(last)]  # whole but for its line end
    except ValidationError:
        return log


def _entry(path: Path, number: int, line: bytes) -> LogEntry:
    try:
        return ENTRY.validate_json(line)
    except ValidationError as error:
        detail = error.errors()[0]
        place = ".".join(str(part) for part in detail["loc"])
        raise JobError(
            f"{path}:{number}: this line can't be read ({place}: {detail['msg']}). Mend the line in a copy of the "
            "folder, or take it out, and take that folder over.",
            "import",
        ) from error
