"""Times as the jobs' database has them: text that sorts by time."""

from __future__ import annotations

from datetime import UTC, datetime


def told(at: object) -> datetime:
    """The time that such a text says. Raises ValueError for any other."""
    found = datetime.fromisoformat(str(at))
    if sortable(found) != at:
        raise ValueError(f"'{at}' is not a time as the jobs' database has it")
    return found


def sortable(at: datetime) -> str:
    """A time as text that sorts by time: UTC, always with microseconds. A time without a zone is taken as UTC."""
    return (at if at.tzinfo else at.replace(tzinfo=UTC)).astimezone(UTC).isoformat(timespec="microseconds")
