"""Files and folders: what the program keeps is for its user's eyes only, and nothing that it reads holds it up."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


def make_private(folder: Path) -> None:
    """Make a folder, and those above it that are missing, open to their owner alone. Raises OSError."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        one.mkdir(mode=0o700, exist_ok=True)
    if not folder.is_dir():
        raise NotADirectoryError(20, "Not a directory", str(folder))


def named(text: str) -> Path:
    """The path that was typed, with ~ spelled out. Raises OSError when ~ names nobody."""
    try:
        return Path(text).expanduser()
    except RuntimeError as error:
        raise FileNotFoundError(errno.ENOENT, "There is no such user here", text) from error


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole, or leave what was there as it was. Raises OSError."""
    new = path.with_name(f".{path.name[:100]}.{os.getpid()}.new")
    try:
        with open(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        if path.exists():
            new.chmod(stat.S_IMODE(path.stat().st_mode))
        os.replace(new, path)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error
    finally:
        new.unlink(missing_ok=True)


class NotPlain(OSError):
    """What should be read is a pipe, a device or a folder; strerror says it in words."""


class TooLarge(OSError):
    """What should be read is larger than it may be; strerror says it in words."""


@contextmanager
def open_plain(path: Path) -> Iterator[BinaryIO]:
    """A plain file, to be read. A pipe or device is not waited for. Raises OSError."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0))
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise NotPlain(errno.EINVAL, "not a plain file", str(path))
        with open(handle, "rb", closefd=False) as stream:
            yield stream
    finally:
        os.close(handle)


def plain_bytes(path: Path, most: int) -> bytes:
    """What is in a plain file, of at most so many bytes. Raises OSError."""
    with open_plain(path) as stream:
        content = stream.read(most + 1)
    if len(content) > most:
        raise TooLarge(errno.EFBIG, f"larger than {most:,} bytes", str(path))
    return content
