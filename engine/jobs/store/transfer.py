"""Jobs from one store to another: JSON lines, backups, and jobs that come in.

The shape of the JSON lines: one line per job, complete in itself,

    {"shape": "chopstick job 1", "number": 12, "entries": [{"kind": "opened", "at": ...}, ...], "sha256": ...}

`number` is what stands on the job's label; `entries` are in their order, each as engine/reasoning/log.py has it.
`sha256` is the SHA-256 of the line as it is without it, ASCII and without spaces: a line that was damaged, or edited by
hand, is refused; one without it, as earlier versions wrote them, is taken in as it is.

A backup is an embedded database, whatever store it is of: `restore` puts it back, and `import` reads it too.
"""

from __future__ import annotations

import hashlib
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
from typing import BinaryIO, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from sqlalchemy import func, insert, select

from ...folders import open_plain
from ...reasoning.log import LogEntry
from . import old_files
from .check import problems
from .database import FULL, force_folder, of_file
from .embedded import FILE
from .errors import Barred, Full, JobError, Locked
from .migrate import version_of
from .migrations import MIGRATIONS
from .schema import entries, jobs, metadata, schema_version
from .sound_log import faults
from .store import MOST_JOBS, Store, add, free

_MAGIC = b"SQLite format 3\0"
_BATCH = 500  # rows written at once
MOST_IN_A_LINE = 64_000_000  # bytes; a job of 5,000 entries has one
MOST_IN_A_FILE = 2_000_000_000


class JobLine(BaseModel):
    """One line of an export."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    shape: Literal["chopstick job 1"] = "chopstick job 1"
    number: int = Field(gt=0, le=MOST_JOBS)
    entries: tuple[LogEntry, ...] = Field(min_length=1)
    sha256: str | None = Field(default=None, pattern="^[0-9a-f]{64}$")


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
        told = JobLine(number=job.number, entries=tuple(job.log))
        line = _plain_text(told.model_dump(mode="json", exclude={"sha256"}))
        yield f'{line[:-1]},"sha256":"{_checksum(line)}"}}'


def export(store: Store, path: Path, numbers: Iterable[int] = ()) -> int:
    """Write jobs into a new file as lines of JSON, for its owner's eyes only; their number. Raises JobError, and leaves
    no file that is cut off."""
    if path.exists():
        raise JobError(f"{path} is there already; name a new file")
    written = list(exported(store, numbers))
    with _system(path), _beside(path) as new:
        with open(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
            file.writelines(line + "\n" for line in written)
            file.flush()
            os.fsync(file.fileno())
        os.replace(new, path)
        force_folder(path.parent)
    return len(written)


def _plain_text(value: object) -> str:
    return json.dumps(value, ensure_ascii=True, separators=(",", ":"))


def _checksum(line: str) -> str:
    return hashlib.sha256(line.encode("ascii")).hexdigest()


def lines(content: Iterable[str | bytes], name: str) -> Iterator[JobLine]:
    """Jobs from lines of JSON. name: of where they come from. Raises JobError with the line's number."""
    for number, raw in enumerate(content, start=1):
        if len(raw) > MOST_IN_A_LINE:
            raise JobError(f"{name}:{number}: a line of more than {MOST_IN_A_LINE:,} bytes. Nothing was imported.")
        try:
            line = raw if isinstance(raw, str) else raw.decode()
        except UnicodeDecodeError as error:
            what = f"is damaged in line {number}" if number > 1 else "is neither JSON lines nor a backup of chopstick's"
            raise JobError(f"{name} {what}. Nothing was imported.") from error
        if not line.strip():
            continue
        try:
            found = JobLine.model_validate_json(line)
        except ValidationError as error:
            detail = error.errors()[0]
            place = ".".join(str(part) for part in detail["loc"])
            raise JobError(
                f"{name}:{number}: this line is not a job ({place}: {detail['msg']}). Nothing was imported. A line "
                "that was cut off can be deleted; a later chopstick's needs a later chopstick."
            ) from error
        if found.sha256 and found.sha256 != _checksum_of(line):
            raise JobError(
                f"{name}:{number}: this line is not as it was exported (its sha256 does not fit). Nothing was taken "
                "in. Export the job once more."
            )
        for entry, why in faults(enumerate(found.entries, start=1)):
            raise JobError(f"{name}:{number}: this line is not a job (entry {entry}: {why}). Nothing was imported.")
        yield found


def _checksum_of(line: str) -> str:
    value = json.loads(line)
    value.pop("sha256")
    return _checksum(_plain_text(value))


def _bounded(stream: BinaryIO) -> Iterator[bytes]:
    """The lines of a stream, of one that is too long only its beginning, and no more than a file may have."""
    left = MOST_IN_A_FILE
    while line := stream.readline(MOST_IN_A_LINE + 1):
        left -= len(line)
        if left < 0:
            raise JobError(f"more than {MOST_IN_A_FILE:,} bytes of jobs. Nothing was imported; split the file.")
        yield line


def incoming_stream(stream: BinaryIO, name: str) -> list[JobLine]:
    """Jobs from lines of JSON that come in by a stream. Raises JobError."""
    return list(lines(_bounded(stream), name))


def incoming(path: Path) -> list[JobLine]:
    """Jobs from a file of JSON lines, a backup, or a folder of old job files. Raises JobError."""
    try:
        if path.is_dir():
            logs = ((number, old_files.read(path / name)) for name, number in old_files.job_files(path).items())
            return [JobLine(number=number, entries=tuple(log)) for number, log in logs if log]
        with open_plain(path) as file:
            if file.read(len(_MAGIC)) != _MAGIC:
                file.seek(0)
                return incoming_stream(file, str(path))
        with TemporaryDirectory() as folder:
            store = _sound(path, Path(folder) / FILE)
            return [JobLine(number=job.number, entries=tuple(job.log)) for job in store.jobs()]
    except OSError as error:
        raise JobError(f"{path} can't be read: {error.strerror}") from error


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
                number = free(numbers, line.number)
                numbers.add(number)
                connection.execute(insert(jobs).values(number=number))
                add(connection, number, (), "", line.entries)
                taken.append(TakenIn(line.number, number, len(line.entries), new=True))
                continue
            log = candidates.pop(same)
            more = line.entries[len(log) :]
            last = select(entries.c.hash).where(entries.c.job == same, entries.c.number == len(log))
            add(connection, same, log, connection.execute(last).scalar_one(), more)
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
        count = _copy(store, Store(of_file(path.parent, new), alone=True))
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
        with TemporaryDirectory() as folder, _system(Path(folder)):
            _copy(_sound(path, Path(folder) / FILE), store)
        return None
    with _system(file), _beside(file, "copy") as copy, _beside(file) as new, ExitStack() as held:
        # The rows go into a database that the program makes itself: nothing else of the file comes along.
        _copy(_sound(path, copy), Store(of_file(file.parent, new), alone=True))
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
    try:
        with open_plain(path):
            pass
    except OSError as error:
        raise JobError(f"{path} can't be read ({error.strerror}). Nothing was changed.") from error
    copy = of_file(to.parent, to)
    copy.make()
    unsound = f"{path} can't be relied on: {{}}. Nothing was changed; take another backup."
    try:
        with (
            closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as source,
            closing(sqlite3.connect(to)) as target,
        ):
            source.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        if error.sqlite_errorname.startswith(FULL):
            raise Full("the disk is full") from error  # `_system` says which
        raise JobError(unsound.format(error)) from error
    except UnicodeDecodeError as error:  # so sqlite3 says it of a damaged name, even in its own messages
        raise JobError(unsound.format("it is damaged")) from error
    with _told_as(unsound), copy.reading() as connection:
        if (version := version_of(connection)) > len(MIGRATIONS):
            raise Barred(
                f"{path} was written by a later chopstick (version {version} of the database; this one knows "
                f"{len(MIGRATIONS)}). Nothing was changed. Update chopstick on this bench, then put it back."
            )
    store = Store(copy, alone=True)
    if wrong := problems(store):
        raise JobError(unsound.format(wrong[0].replace(copy.where, "it").rstrip(".")))
    return store


@contextmanager
def _told_as(unsound: str) -> Iterator[None]:
    try:
        yield
    except Barred:
        raise
    except JobError as error:
        raise JobError(unsound.format(str(error).rstrip("."))) from error


@contextmanager
def _beside(path: Path, end: str = "new") -> Iterator[Path]:
    """A file in the same folder to be written and then put in the place of this one."""
    new = path.with_name(f".{path.name}.{end}")
    leftovers = [new, new.with_name(f"{new.name}-journal")]
    try:
        for one in leftovers:
            one.unlink(missing_ok=True)
        yield new
    finally:
        for one in leftovers:
            one.unlink(missing_ok=True)


def _copy(source: Store, target: Store) -> int:
    """Copy every row, with the hashes, into a new store, and see that it is intact; the number of jobs."""
    target.there(making=True)
    with source.database.reading() as reading, target.database.writing() as writing:
        for table in metadata.sorted_tables:  # what others rest on comes first
            if table is schema_version:
                continue
            place = table.columns.get("place")  # counted anew, in the same order
            columns = [column for column in table.columns if column is not place]
            order = list(table.columns) if place is None else [place]
            for rows in reading.execute(select(*columns).order_by(*order)).mappings().partitions(_BATCH):
                writing.execute(insert(table), [dict(row) for row in rows])
        count = int(writing.execute(select(func.count()).select_from(jobs)).scalar_one())
    if wrong := problems(target):
        raise JobError(f"the jobs in {source.where} are damaged, so a copy of them would be too: {wrong[0]}")
    return count


@contextmanager
def _system(path: Path) -> Iterator[None]:
    """Turns the system's errors about a file into words, and those of a database that was to be written there."""
    try:
        yield
    except Full as error:
        raise Full(
            f"the disk that holds {path.parent} is full. Nothing was changed; make room, or choose another disk."
        ) from error
    except OSError as error:
        raise JobError(f"{path}: {error.strerror}. Nothing was changed.") from error
