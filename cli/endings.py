"""How a command ends: whatever went wrong is said on standard error in a sentence that tells what to do, and the exit
code is the truth. Commands raise what went wrong; it is put in words here and nowhere else."""

from __future__ import annotations

import codecs
import errno
import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, NoReturn

import typer

from ..engine.late import late
from . import desk, exits
from .screen.screen import Screen

if TYPE_CHECKING:
    from click import UsageError  # typer brings its own copy along
else:
    UsageError = typer.BadParameter.__base__

with late():
    from ..engine.jobs.store import errors
    from ..engine.reasoning import answers, rules
    from ..engine.reference import errors as reference_errors

# durable-rules 2.0.28 calls what Python 3.13 has under this name only; README.md and tests/run set the same
FOR_LATER_PYTHONS = "CPPFLAGS=-DPyEval_CallObject=PyObject_CallObject"
_WHOSE = "See whose it is, or name another."
REMEDIES = {
    errno.EACCES: _WHOSE,
    errno.EPERM: _WHOSE,
    errno.EROFS: "Name a place that can be written to.",
    errno.ENOENT: "See that the name is right.",
    errno.ENOTDIR: "See that the name is right.",
    errno.EISDIR: "Name a file in it.",
    errno.ENAMETOOLONG: "Choose a shorter name.",
    errno.ELOOP: "Name the file itself, not a link to it.",
    errno.ENOSPC: "Make room, or name a place on another disk.",
    errno.EDQUOT: "Make room, or name a place on another disk.",
    errno.EIO: "The disk gives errors: make a backup now, on another one.",
}


@contextmanager
def in_words() -> Iterator[None]:
    """Turns what can go wrong into words on standard error, and the end of the program with an exit code."""
    try:
        yield
        sys.stdout.flush()
    except ImportError as error:
        _end(exits.INPUT, f"chopstick: {not_there(error)}")
    except reference_errors.KnowledgeError as error:
        found = f"{len(error.problems)} problems in what was read; the places are named above."
        _end(exits.PROBLEMS, *error.problems, found)
    except errors.JobError as error:
        _end(exits.INPUT, f"chopstick: {desk.with_help(error)}")
    except (answers.AnswerError, rules.RuleError) as error:
        _end(exits.INPUT, f"chopstick: {error}")
    except UsageError as error:
        _end(exits.INPUT, f"chopstick: {called_wrong(error)}")
    except typer.Abort:
        _end(exits.INPUT, "chopstick: broken off.")
    except BrokenPipeError as error:
        _end(exits.PROBLEMS, _output_lost(error))
    except OutputLost as error:
        _end(exits.INPUT, _output_lost(error))
    except OSError as error:
        _end(exits.INPUT, f"chopstick: {in_a_sentence(error)}")
    except MemoryError:
        _end(exits.INPUT, "chopstick: there is not enough memory for this. Give it less, or end other programs.")


def called_wrong(error: UsageError) -> str:
    """What is wrong with how a command was called, in one sentence, and where to look."""
    said = " ".join(error.format_message().split())
    command = error.ctx.command_path if error.ctx else "chopstick"
    return f"{said if said.endswith(('.', '?')) else said + '.'} How it is called: {command} --help"


def not_there(error: ImportError) -> str:
    """What part of the installation is missing, and how to put it in."""
    pip = f"{sys.executable} -m pip install"
    if "durable" not in str(error):
        return f"a part of the installation is missing ({error}). Install chopstick again with: {pip}"
    return (
        f"durable-rules, which works the rules, is not built for this Python ({error}). Build it again with: "
        f"{FOR_LATER_PYTHONS} {pip} --force-reinstall --no-cache-dir --no-deps durable-rules"
    )


def in_a_sentence(error: OSError) -> str:
    """What the system says is wrong with a file or folder, and what to do."""
    what = error.strerror or str(error)
    where = f"{os.fsdecode(error.filename)}: " if isinstance(error.filename, str | bytes) else ""
    return f"{where}{what}. {REMEDIES.get(error.errno or 0, '')}".rstrip()


class OutputLost(OSError):
    """Standard output takes nothing any more."""


class _Output(io.FileIO):
    """Standard output, telling its own errors from those of other files."""

    def write(self, data: Any) -> int:
        try:
            return super().write(data)
        except BrokenPipeError:
            raise
        except OSError as error:
            raise OutputLost(error.errno, error.strerror) from error


def _output_lost(error: OSError) -> str:
    """What is said when the output can't be written; '' when whoever reads along has seen enough. What still waits for
    it is dropped."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
    if isinstance(error, BrokenPipeError):
        return ""
    why = "it is closed" if error.errno == errno.EBADF else error.strerror
    return (
        f"chopstick: standard output can't be written to ({why}), so what was to be shown is lost. What was entered "
        "before that is kept; look with: chopstick show"
    )


def _end(code: int, *messages: object) -> NoReturn:
    with suppress(OSError):
        for message in messages:
            if message != "":
                Screen().trouble(message)
    raise SystemExit(code) from None


def ready_the_streams() -> None:
    """Make the standard streams such that nothing typed or printed is an error of the program. Where one was closed
    before it began, input is at its end and what is printed is lost, and said to be: a file that is opened later would
    else be taken for it."""
    for number, (name, mode) in enumerate((("stdin", "r"), ("stdout", "w"), ("stderr", "w"))):
        if getattr(sys, name) is None:
            handle = os.open(os.devnull, os.O_WRONLY if name == "stderr" else os.O_RDONLY)
            if handle != number:
                os.dup2(handle, number)
                os.close(handle)
            setattr(sys, name, open(number, mode, closefd=False))  # noqa: SIM115 - for as long as the program runs
    old = sys.stdout
    sys.stdout = io.TextIOWrapper(
        io.BufferedWriter(_Output(old.fileno(), "w", closefd=False)),
        old.encoding, "replace", line_buffering=old.isatty(),
    )  # fmt: skip
    sys.stderr.reconfigure(errors="replace")  # type: ignore[union-attr]
    plain = codecs.lookup(sys.stdin.encoding).name == "ascii"  # by an odd locale, not by whoever types
    sys.stdin.reconfigure(encoding="utf-8" if plain else None, errors="replace")  # type: ignore[union-attr]
