"""Finding a job again by what was said, measured, found or noted on it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from ...reasoning.log import LogEntry, standing
from .job import Job
from .store import Listed


@dataclass(frozen=True)
class Hit:
    """An entry that holds the text that was searched: its number in the job's log, its kind, its words."""

    entry: int
    kind: str
    words: str


def search(jobs: Iterable[Job], text: str) -> Iterator[tuple[Job, tuple[Hit, ...]]]:
    """The jobs with the entries that hold every word of a text, in any order and case; undone entries do not count."""
    words = text.casefold().split()
    for job in jobs:
        hits = []
        for number, entry in standing(job.log):
            told = "; ".join(texts(entry))
            if all(word in told.casefold() for word in words):
                hits.append(Hit(number, entry.kind, told))
        if hits:
            yield job, tuple(hits)


def texts(entry: LogEntry) -> Iterator[str]:
    """What an entry says, field by field: words, ids, figures."""
    for value in entry.model_dump(exclude={"kind", "at", "fingerprint"}, exclude_defaults=True).values():
        yield from _said(value)


def _said(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        yield from (f"{name} {inner}" for name, inner in value.items())
    elif isinstance(value, list | tuple):
        yield from map(str, value)
    else:
        yield str(value)


def chosen(
    listed: Iterable[Listed], open_: bool | None = None, since: date | None = None, faults: Iterable[str] = ()
) -> Iterator[Listed]:
    """The jobs of a list that are open (or, with False, closed), were worked on since a day, and had every fault."""
    wanted = set(faults)
    for one in listed:
        fits = open_ is None or one.closed is not open_
        recent = since is None or (one.last is not None and one.last.date() >= since)
        if fits and recent and wanted <= set(one.faults):
            yield one
