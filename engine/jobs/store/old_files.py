"""Reads the job files of the version before the database: one line of JSON per entry.

A last line that a kill has torn is left out; the files themselves are never written to.
"""

from __future__ import annotations

import re
from contextlib import suppress
from pathlib import Path

from pydantic import ValidationError

from ...folders import plain_bytes
from ...reasoning.log import ENTRY, LogEntry
from .errors import JobError
from .sound_log import faults

_NAME = re.compile(r"(?!0+\.)(\d{4,9})\.job", re.ASCII)
MOST_BYTES = 64_000_000  # of the file of a job


def job_files(folder: Path) -> dict[str, int]:
    """The job files of a folder by name, with the number of each job, in the order of their numbers."""
    if not folder.is_dir():
        return {}
    found = {path.name: int(match[1]) for path in folder.iterdir() if (match := _NAME.fullmatch(path.name))}
    return dict(sorted(found.items(), key=lambda one: one[1]))


def read(path: Path) -> list[LogEntry]:
    """The log in a job file. Raises JobError, with the line, when it can't be read."""
    try:
        content = plain_bytes(path, MOST_BYTES)
    except OSError as error:
        raise JobError(f"{path} can't be read: {error.strerror}") from error
    *whole, last = content.split(b"\n")
    log = [_entry(path, number, line) for number, line in enumerate(whole, start=1)]
    with suppress(ValidationError):
        log.append(ENTRY.validate_json(last))  # whole but for its line end
    for number, why in faults(enumerate(log, start=1)):
        raise _unfit(path, number, why)
    return log


def _entry(path: Path, number: int, line: bytes) -> LogEntry:
    try:
        return ENTRY.validate_json(line)
    except ValidationError as error:
        detail = error.errors()[0]
        place = ".".join(str(part) for part in detail["loc"])
        raise _unfit(path, number, f"{place}: {detail['msg']}") from error


def _unfit(path: Path, line: int, why: str) -> JobError:
    return JobError(
        f"{path}:{line}: this line can't be imported ({why}). Fix the line in a copy of the folder, or delete it, "
        "and import that folder.",
        "import",
    )
