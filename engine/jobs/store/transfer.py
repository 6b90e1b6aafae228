"""Jobs from one store to another: JSON lines, backups, and jobs that come in.

The shape of the JSON lines: one line a job, complete in itself,

    {"shape": "chopstick job 1", "number": 12, "entries": [{"kind": "opened", "at": ..., "title": ...}, ...]}

`number` is what stands on the job's label; `entries` are in their order, each as engine/reasoning/log.py has it.

A backup is an embedded database, whatever store it is of: `restore` puts it back, and `import` reads it too.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from sqlalchemy import func, insert, select

from ...reasoning.log import LogEntry, Opened
from . import old_files
from .check import problems
from .database import force_folder, of_file
from .embedded import FILE
from .errors import JobError, Locked
from .schema import entries, jobs, metadata, schema_version
from .store import Store, add

_MAGIC = b"SQLite format 3\0"
_BATCH = 500  # rows written at once


class JobLine(BaseModel):
    """One line of an export."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    shape: Literal["chopstick job 1"] = "chopstick job 1"
    number: int = Field(gt=0)
    entries: tuple[LogEntry, ...] = Field(min_length=1)


@dataclass(frozen=True)
class TakenIn:
    """What became of a job that came in. number: its number here; added: how many entries were new; new: whether the
    job itself was."""

    was: int
    number: int
    added: int
    new: bool


def exported(store: Store, numbers: Iterable[int] = ()) -> Iterator[str]:
    """Jobs as lines of JSON, all ASCII; all jobs when none is named. Raises JobError."""
    wanted = [store.find(number) for number in numbers] or store.jobs()
    for job in wanted:
        line = JobLine(number=job.number, entries=tuple(job.log))
        yield json.dumps(line.model_dump(mode="json"), ensure_ascii=True, separators=(",", ":"))


def lines(content: Iterable[str], name: str) -> Iterator[JobLine]:
    """Jobs from lines of JSON. name: of where they come from. Raises JobError with the line's number."""
    for number, line in enumerate(content, start=1):
        if not line.strip():
            continue
        try:
            found = JobLine.model_validate_json(line)
        except ValidationError as error:
            detail = error.errors()[0]
            place = ".".join(str(part) for part in detail["loc"])
            raise JobError(
                f"{name}:{number}: this line is no job ({place}: {detail['msg']}). Nothing was taken in. A line that "
                "was cut off can be taken out; a later chopstick's wants a later chopstick."
            ) from error
        if not isinstance(found.entries[0], Opened):
            raise JobError(f"{name}:{number}: a job begins with the entry 'opened'. Nothing was taken in.")
        yield found


def incoming(path: Path) -> list[JobLine]:
    """Jobs from a file of JSON lines, a backup, or a folder of old job files. Raises JobError."""
    try:
        if path.is_dir():
            logs = ((number, old_files.read(path / name)) for name, number in old_files.job_files(path).items())
            return [JobLine(number=number, entries=tuple(log)) for number, log in logs if log]
        with path.open("rb") as file:
            is_backup = file.read(len(_MAGIC)) == _MAGIC
        if is_backup:
            with TemporaryDirectory() as folder:
                store = _sound(path, Path(folder) / FILE)
                return [JobLine(number=job.number, entries=tuple(job.log)) for job in store.jobs()]
        with path.open(encoding="utf-8") as text:
            return list(lines(text, str(path)))
    except OSError as error:
        raise JobError(f"{path} can't be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise JobError(f"{path} is neither JSON lines nor a backup of chopstick's. Nothing was taken in.") from error


def take_in(store: Store, found: Iterable[JobLine]) -> list[TakenIn]:
    """Add jobs to a store, all or none. Each keeps its number where that is free, else gets the next.

    A job that is there already is not doubled: what it has more is added to it. Two jobs are the same when they begin
    with the same entry and one's log is the beginning of the other's. Raises JobError.
    """
    store.there(making=True)
    here: dict[str, dict[int, list[LogEntry]]] = defaultdict(dict)
    for job in store.jobs():
        here[job.log[0].model_dump_json()][job.number] = job.log
    taken: list[TakenIn] = []
    with store.database.writing() as connection:
        store.database.alone(connection)
        numbers = set(connection.execute(select(jobs.c.number)).scalars())
        for line in found:
            candidates = here[line.entries[0].model_dump_json()]
            same = next((number for number, log in candidates.items() if _one(log, line.entries)), None)
            if same is None:
                number = line.number if line.number not in numbers else max(numbers) + 1
                numbers.add(number)
                connection.execute(insert(jobs).values(number=number))
                add(connection, number, 0, "", line.entries)
                taken.append(TakenIn(line.number, number, len(line.entries), new=True))
                continue
            log = candidates.pop(same)
            more = line.entries[len(log) :]
            last = select(entries.c.hash).where(entries.c.job == same, entries.c.number == len(log))
            add(connection, same, len(log), connection.execute(last).scalar_one(), more)
            taken.append(TakenIn(line.number, same, len(more), new=False))
    return taken


def _one(log: list[LogEntry], other: tuple[LogEntry, ...]) -> bool:
    shared = min(len(log), len(other))
    return log[:shared] == list(other[:shared])


def backup(store: Store, path: Path) -> int:
    """Write all jobs into a new file, and see that they are whole in it; their number. Raises JobError."""
    if not store.there():
        raise JobError(f"there is no job in {store.where} yet, so there is nothing to keep")
    if path.exists():
        raise JobError(f"{path} is there already; name a new file for the backup")
    with _system(path), _beside(path) as new:
        count = _copy(store, Store(of_file(path.parent, new)))
        os.replace(new, path)
        force_folder(path.parent)
    return count


def restore(store: Store, path: Path) -> Path | None:
    """Put a backup in the place of an embedded store, or into an empty server's; where the jobs that were there were
    put aside, if there were any. Raises JobError, with everything as it was."""
    file = store.database.file
    if file is None:
        store.there(making=True)
        if store.listed():
            raise JobError(
                f"{store.where} holds jobs, and none is ever taken out. Name an empty database; or add the backup's "
                "jobs to these.",
                "other store",
                "import",
            )
        with TemporaryDirectory() as folder:
            _copy(_sound(path, Path(folder) / FILE), store)
        return None
    with _system(file), _beside(file) as new, ExitStack() as held:
        _sound(path, new)
        try:
            held.enter_context(store.database.writing())  # no other bench writes until the exchange is done
        except Locked:
            raise
        except JobError:
            pass  # damaged, or not there: that is why it is exchanged
        aside = _aside(file)
        os.replace(new, file)
        force_folder(file.parent)
    return aside


def _aside(file: Path) -> Path | None:
    """Copy a database, with the journal of a broken-off transaction, out of the way of another."""
    if not file.exists():
        return None
    aside = file.with_name(f"{file.name}.before-{datetime.now():%Y%m%d-%H%M%S-%f}")
    for end in ("", "-journal"):
        old = file.with_name(file.name + end)
        if old.exists():
            copied = shutil.copy2(old, aside.with_name(aside.name + end))
            with open(copied, "rb") as handle:
                os.fsync(handle.fileno())
    file.with_name(f"{file.name}-journal").unlink(missing_ok=True)  # it would be played back into the new one
    force_folder(file.parent)
    return aside


def _sound(path: Path, to: Path) -> Store:
    """A copy of a backup that can be relied on; the backup itself is never written to. Raises JobError."""
    if not path.is_file():
        raise JobError(f"there is no file {path}")
    copy = of_file(to.parent, to)
    copy.make()
    try:
        with (
            closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as source,
            closing(sqlite3.connect(to)) as target,
        ):
            source.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        raise JobError(f"{path} can't be relied on: {error}. Nothing was changed; take another backup.") from error
    store = Store(copy)
    if wrong := problems(store):
        raise JobError(f"{path} can't be relied on: {wrong[0]}. Nothing was changed; take another backup.")
    return store


@contextmanager
def _beside(path: Path) -> Iterator[Path]:
    """A file in the same folder to be written and then put in the place of this one."""
    new = path.with_name(f".{path.name}.new")
    leftovers = [new, new.with_name(f"{new.name}-journal")]
    try:
        for one in leftovers:
            one.unlink(missing_ok=True)
        yield new
    finally:
        for one in leftovers:
            one.unlink(missing_ok=True)


def _copy(source: Store, target: Store) -> int:
    """Copy every row, with the hashes, into a new store, and see that it is sound; the number of jobs."""
    target.there(making=True)
    with source.database.reading() as reading, target.database.writing() as writing:
        for table in metadata.sorted_tables:  # what others rest on comes first
            if table is schema_version:
                continue
            columns = [column for column in table.columns if column is not entries.c.place]
            order = [entries.c.place] if table is entries else list(table.columns)
            for rows in reading.execute(select(*columns).order_by(*order)).mappings().partitions(_BATCH):
                writing.execute(insert(table), [dict(row) for row in rows])
        count = int(writing.execute(select(func.count()).select_from(jobs)).scalar_one())
    if wrong := problems(target):
        raise JobError(f"the jobs in {source.where} are not sound, so neither is a copy of them: {wrong[0]}")
    return count


@contextmanager
def _system(path: Path) -> Iterator[None]:
    """Turns the system's errors about a file into words."""
    try:
        yield
    except OSError as error:
        raise JobError(f"{path}: {error.strerror}. Nothing was changed.") from error
