"""What can go wrong with a kept job, said to a person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from ...reasoning.log import LogEntry

# What can be done about it; each face says how.
Todo = Literal["start a job", "look at the job", "check", "restore", "back up", "import", "other folder", "other store"]


class JobError(Exception):
    """A job can't be read or kept; the message says why. todo: what to do about it, first things first; job: the number
    of the job, where one is meant."""

    def __init__(self, message: str, *todo: Todo, job: int | None = None) -> None:
        super().__init__(message)
        self.todo, self.job = todo, job


class Barred(JobError):
    """The place of the jobs can't be used as things are; nothing is wrong with the jobs in it."""


class Locked(Barred):
    """Another program holds the database."""


class Full(Barred):
    """There is no room on the disk."""


class MovedOn(JobError):
    """Entries came in from another bench, and what was to be added was not added. The job has read them by now.

    came: the new entries. why: why not to add after them, '' when there is no reason.
    """

    def __init__(self, number: int, came: Sequence[LogEntry], why: str) -> None:
        self.came, self.why = tuple(came), why
        reason = f": {why}" if why else ""
        super().__init__(
            f"job {number} moved on: {entries(len(came))} came in meanwhile{reason}. Nothing of yours was added; "
            "enter it again if it still holds.",
            "look at the job",
            job=number,
        )


def entries(count: int) -> str:
    """A count of entries in words."""
    return f"{count} {'entry' if count == 1 else 'entries'}"
