"""A command in a process of its own, forked from one that has everything imported: as good as a fresh start, without the
half second of imports. One server serves a run of the tests; it runs one command at a time."""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import pkgutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import IO, NamedTuple


class Done(NamedTuple):
    """What a command did."""

    code: int
    out: bytes
    err: bytes


def command(words: list[str], typed: bytes = b"", environment: Mapping[str, str] | None = None) -> Done:
    """Run `chopstick WORDS` with that standard input, in that environment (default: this process's own)."""
    server = _server()
    assert server.stdin
    assert server.stdout
    with tempfile.TemporaryDirectory() as folder:
        given, out, err = (Path(folder) / name for name in ("in", "out", "err"))
        given.write_bytes(typed)
        order = [words, dict(environment if environment is not None else os.environ), os.getcwd(), *map(str, (given, out, err))]
        server.stdin.write(json.dumps(order) + "\n")
        server.stdin.flush()
        answer = server.stdout.readline()
        assert answer, "the server of tests/forked.py has ended"
        return Done(int(answer), out.read_bytes(), err.read_bytes())


@cache
def _server() -> subprocess.Popen[str]:
    """Ends by itself when this process does and its pipe is closed."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYDANTIC_DISABLE_PLUGINS": "1"}
    return subprocess.Popen(
        [sys.executable, "-P", __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
    )


def _serve(orders: IO[str], answers: IO[str]) -> None:
    _import_all()
    for line in orders:
        child = os.fork()
        if child == 0:
            _run(*json.loads(line))
        answers.write(f"{os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])}\n")
        answers.flush()


def _import_all() -> None:
    """The commands, and what they import late."""
    import chopstick.cli
    import chopstick.engine

    for room in (chopstick.engine, chopstick.cli):
        for module in pkgutil.walk_packages(room.__path__, f"{room.__name__}."):
            if not module.name.endswith("__main__"):
                importlib.import_module(module.name)
    for name, late in list(sys.modules.items()):
        with contextlib.suppress(ImportError):  # what is optional and not there is told by the command that wants it
            getattr(late, "__name__", name)


def _run(words: list[str], environment: dict[str, str], folder: str, *files: str) -> None:
    """The command, in the fork: its end is that of the process."""
    from chopstick.cli.__main__ import main

    code: object = 1
    try:
        os.environ.clear()
        os.environ.update(environment)
        os.chdir(folder)
        for number, (name, how) in enumerate(zip(files, (os.O_RDONLY, *2 * (os.O_WRONLY | os.O_CREAT,)), strict=True)):
            os.dup2(os.open(name, how, 0o600), number)
        # as at a real start: the descriptors stay open when the program puts streams of its own in their place
        sys.stdin, sys.stdout, sys.stderr = (open(n, mode, closefd=False) for n, mode in enumerate("rww"))  # noqa: SIM115
        sys.argv = ["chopstick", *words]
        main()
        code = 0
    except SystemExit as end:
        code = end.code or 0
        if isinstance(code, str):
            print(code, file=sys.stderr)
    except BaseException:
        import traceback

        traceback.print_exc()
    finally:
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(OSError, ValueError):
                stream.flush()
        os._exit(code if isinstance(code, int) else 1)


if __name__ == "__main__":
    _serve(sys.stdin, sys.stdout)
