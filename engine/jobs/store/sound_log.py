"""What makes a row of entries the log of a job. All that is kept goes by it, whoever wrote it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pydantic import ValidationError

from ...reasoning.log import ENTRY, Arrived, LogEntry, Opened, Undone


def faults(numbered: Iterable[tuple[int, LogEntry]]) -> Iterator[tuple[int, str]]:
    """What is wrong with the entries of a log, each with its number in it; nothing when it is one."""
    for number, entry in numbered:
        if isinstance(entry, Opened) != (number == 1):
            yield number, "a log begins with the entry 'opened', and has one only"
        if isinstance(entry, Undone | Arrived) and entry.number >= number:
            what = "takes back" if isinstance(entry, Undone) else "is about"
            yield number, f"it {what} entry {entry.number}, which is not before it"
        if not _can_be_read_again(entry):
            yield number, "what is kept of it could not be read again"


def _can_be_read_again(entry: LogEntry) -> bool:
    try:
        return ENTRY.validate_json(entry.model_dump_json()) == entry
    except (ValidationError, ValueError):
        return False
