"""Jobs as plain files: one line of JSON an entry, appended and forced to the disk one at a time.

A kill at any moment loses at most the entry that was being written. A torn last line is recognised when the file is
next read, and put aside (never thrown away) when the file is next written to.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pydantic import ValidationError

from ..folders import make_private
from ..reasoning.log import ENTRY, LogEntry, Opened

ENVIRONMENT = "CHOPSTICK_JOBS"
_NAME = re.compile(r"(\d{4,})\.job")
_ELSEWHERE = f"Choose another folder with --jobs DIR or {ENVIRONMENT}."


class JobError(Exception):
    """A job can't be read or kept; the message says why and what to do."""


@dataclass(frozen=True)
class Listed:
    """A job as a list shows it. trouble: why its file can't be read, '' when it can."""

    number: int
    path: Path
    title: str
    opened: datetime | None
    entries: int
    trouble: str = ""


def default_folder(environment: Mapping[str, str]) -> Path:
    """The folder of the jobs: CHOPSTICK_JOBS where it is set, else the user's data folder."""
    if chosen := environment.get(ENVIRONMENT):
        return Path(chosen).expanduser()
    import platformdirs

    return Path(platformdirs.user_data_dir("chopstick", appauthor=False)) / "jobs"


class JobFile:
    """One job's file. Knows how far it has read, so that two benches on one job can't overwrite each other unseen."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.number = int(path.stem)
        self.log: list[LogEntry] = []
        self.torn = b""  # what a kill left behind a last whole line, if anything
        self._whole = 0  # bytes of the file up to the end of the last whole line
        self._read()

    def _read(self) -> None:
        try:
            content = self.path.read_bytes()
        except FileNotFoundError:
            raise JobError(f"there is no job {self.number} in {self.path.parent}") from None
        except OSError as error:
            raise _told(error, self.path) from error
        whole = content.rfind(b"\n") + 1
        self.torn = content[whole:]
        if self.torn and (kept := _entry_or_none(self.torn)) is not None:
            lines = [*content[:whole].splitlines(), kept.model_dump_json().encode()]
        else:
            lines = content[:whole].splitlines()
        self._whole = whole
        self.log = [self._entry(number, line) for number, line in enumerate(lines, start=1)]

    def _entry(self, number: int, line: bytes) -> LogEntry:
        try:
            return ENTRY.validate_json(line)
        except ValidationError as error:
            detail = error.errors()[0]
            place = ".".join(str(part) for part in detail["loc"])
            raise JobError(
                f"{self.path}:{number}: this line can't be read ({place}: {detail['msg']}). "
                "Mend the line in a copy of the file, or take it out; the other lines are as they were."
            ) from error

    def append(self, *entries: LogEntry) -> None:
        """Add entries to the log, each safe on the disk before the next. Raises JobError, with nothing half kept."""
        for entry in entries:
            self._append(entry)

    def _append(self, entry: LogEntry) -> None:
        line = entry.model_dump_json().encode() + b"\n"
        try:
            handle = os.open(self.path, os.O_RDWR)
        except OSError as error:
            raise _told(error, self.path) from error
        try:
            self._unchanged(handle)
            if self.torn:
                self._mend(handle)
            self._write(handle, line)
        except OSError as error:
            raise _told(error, self.path) from error
        finally:
            os.close(handle)
        self.log.append(entry)

    def _unchanged(self, handle: int) -> None:
        size = os.fstat(handle).st_size
        if size != self._whole + len(self.torn):
            raise JobError(
                f"job {self.number} has been written to from somewhere else meanwhile; nothing was added. "
                "Open it again and enter the last thing once more."
            )

    def _mend(self, handle: int) -> None:
        """Finish a last line that is whole but for its line end; put a torn one aside, in a file beside the job."""
        if _entry_or_none(self.torn) is not None:
            end = self._whole + len(self.torn)
            os.lseek(handle, end, os.SEEK_SET)
            os.write(handle, b"\n")
            self._whole = end + 1
        else:
            beside = os.open(self.path.with_suffix(".torn"), os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
            try:
                os.write(beside, self.torn + b"\n")
                os.fsync(beside)
            finally:
                os.close(beside)
            os.ftruncate(handle, self._whole)
        self.torn = b""

    def _write(self, handle: int, line: bytes) -> None:
        os.lseek(handle, self._whole, os.SEEK_SET)
        try:
            if os.write(handle, line) != len(line):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            os.fsync(handle)
        except OSError:
            os.ftruncate(handle, self._whole)
            raise
        self._whole += len(line)


def create(folder: Path, opened: Opened) -> JobFile:
    """A new job with the next free number. The folder is made if need be, private to the user. Raises JobError."""
    try:
        if not folder.is_dir():
            make_private(folder)
        number = max(_numbers(folder), default=0) + 1
        while True:
            path = folder / f"{number:04d}.job"
            try:
                os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
                break
            except FileExistsError:
                number += 1
    except OSError as error:
        raise _told(error, folder) from error
    job = JobFile(path)
    job.append(opened)
    _force_folder(folder)
    return job


def find(folder: Path, number: int | None = None) -> JobFile:
    """The job of that number; with none, the one written to last. Raises JobError."""
    if number is not None:
        return JobFile(folder / f"{number:04d}.job")
    try:
        paths = [folder / f"{number:04d}.job" for number in _numbers(folder)]
        latest = max(paths, key=lambda path: (path.stat().st_mtime_ns, path.name), default=None)
    except OSError as error:
        raise _told(error, folder) from error
    if latest is None:
        raise JobError(f"there is no job in {folder} yet. Start one with: chopstick intake")
    return JobFile(latest)


def listed(folder: Path) -> Iterator[Listed]:
    """Every job of the folder, by number; one that can't be read is listed with its trouble."""
    try:
        numbers = sorted(_numbers(folder))
    except OSError as error:
        raise _told(error, folder) from error
    for number in numbers:
        path = folder / f"{number:04d}.job"
        try:
            log = JobFile(path).log
        except JobError as error:
            yield Listed(number, path, "", None, 0, str(error))
            continue
        opened = next((entry for entry in log if isinstance(entry, Opened)), None)
        yield Listed(number, path, opened.title if opened else "", opened.at if opened else None, len(log))


def _numbers(folder: Path) -> list[int]:
    if not folder.is_dir():
        return []
    return [int(match[1]) for name in os.listdir(folder) if (match := _NAME.fullmatch(name))]


def _entry_or_none(line: bytes) -> LogEntry | None:
    try:
        return ENTRY.validate_json(line)
    except ValidationError:
        return None


def _force_folder(folder: Path) -> None:
    """Force the new name to the disk too, where the system lets a folder be opened."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)


def _told(error: OSError, path: Path) -> JobError:
    """An error of the system, said to a person."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return JobError(f"the disk that holds {path} is full; the last entry was not kept. {_ELSEWHERE}")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return JobError(f"{path} can't be read or written here ({error.strerror}). {_ELSEWHERE}")
    if error.errno in (errno.ENOTDIR, errno.EEXIST):
        return JobError(f"{path} can't be the folder of the jobs: a file stands in the way. {_ELSEWHERE}")
    return JobError(f"{path}: {error.strerror}. {_ELSEWHERE}")
