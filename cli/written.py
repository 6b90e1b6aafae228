"""Files that a command writes where its user says: whole or not at all, over another file only when that is wanted, and
over one of the program's own never."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from ..engine.folders import write_whole
from ..engine.late import late
from .desk import jobs_folder
from .endings import in_a_sentence
from .screen.screen import Screen

with late():
    from ..engine.jobs.store import embedded
    from ..engine.knowledge import cache, folder, layers
    from ..engine.reasoning import answers
    from .screen import prompts

_KEPT = (b"SQLite format 3\x00", b'{"shape":"chopstick job')  # how a database or backup, and an export, begin


def write(to: Path, content: bytes, over: bool, jobs: Path | None = None, kb: Path | None = None) -> None:
    """Write a file. over: whether another may be written over; where it is not said, a person is asked. jobs, kb: the
    folders that were named for this command. Raises AnswerError."""
    try:
        mode = to.stat().st_mode if to.exists() else None
        if mode is not None and stat.S_ISDIR(mode):
            raise answers.AnswerError(f"{to} is a folder. Name a file in it.")
        if mode is not None and not stat.S_ISREG(mode):
            _pour(content, to)
            return
        if (mode is not None and _is_kept(to)) or _is_ours(to, jobs, kb):
            raise answers.AnswerError(f"{to} belongs to what chopstick keeps. Name another file.")
        if mode is not None and not over and not _wanted(to):
            raise answers.AnswerError(f"{to} is there already. Name a new file, or write over it with --yes.")
        write_whole(Path(os.path.realpath(to)), content)
    except OSError as error:
        where = "" if error.filename else f"{to}: "
        raise answers.AnswerError(f"{where}{in_a_sentence(error)} Nothing was written.") from error


def _pour(content: bytes, to: Path) -> None:
    """Into a pipe or a device, where there is nothing to write over; a pipe that nobody reads is not waited for."""
    handle = os.open(to, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0))
    try:
        os.set_blocking(handle, True)
        with open(handle, "wb", closefd=False) as stream:
            stream.write(content)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(to)) from error
    finally:
        os.close(handle)


def _is_kept(file: Path) -> bool:
    with file.open("rb") as stream:
        return stream.read(max(map(len, _KEPT))).startswith(_KEPT)


def _is_ours(file: Path, jobs: Path | None, kb: Path | None) -> bool:
    """Whether it lies where the program keeps its own, there already or not; links are followed."""
    real = Path(os.path.realpath(file))
    kept = Path(os.path.realpath(jobs_folder(jobs)))
    if real.parent == kept and (real.name.startswith(embedded.FILE) or real.suffix == ".job"):
        return True
    return any(Path(os.path.realpath(one)) in real.parents for one in _ours(kb))


def _ours(kb: Path | None) -> Iterator[Path]:
    yield folder.shipped()
    yield layers.user_folder(os.environ)
    yield cache.default_folder()
    if shop := os.environ.get(layers.SHOP):
        yield Path(shop)
    if kb is not None:
        yield kb


def _wanted(to: Path) -> bool:
    """Whether a person says that it may be written over; no where there is nobody to ask."""
    prompt = prompts.Prompt(Screen())
    if not prompt.edits:
        return False
    try:
        return bool(prompt.yes(f"{to} is there already. Write over it? [yes, no]"))
    except prompts.Ended:
        return False
