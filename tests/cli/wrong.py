"""Values, paths and environments that are wrong or odd, and every place of the command line where a value can stand."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from chopstick.cli.main import app
from typer.main import get_command

VALUES = {
    "empty": "", "blank": " ", "blanks and a line end": " \t\n ", "dash": "-", "dashes": "--", "equals": "=", "no key": "=x",
    "no value": "x=", "too many equals": "a=b=c", "no such word": "violets", "looks like an option": "--violets",
    "escape": "\x1b[2J", "title": "\x1b]0;x\x07", "right to left": "\u202eabc", "joined": "a\u200db", "emoji": "\U0001f600",
    "accents": "Größe à l'œil", "no text": "\udcff\udcfe", "very long": "x" * 5_000, "300 letters": "y" * 300, "quote": "'; DROP TABLE jobs; --",
    "braces": "{}{0}{x}", "percent": "%n%s%(x)s", "variable": "${HOME}", "markup": "[bold]<b>&amp;", "template": "{{ 7*7 }}", "yaml tag": "!!python/object:x",
    "list": "[1, 2]", "nan": "nan", "inf": "inf", "minus inf": "-inf", "0": "0", "minus 1": "-1", "half": "0.5", "comma": "1,5", "huge": "9" * 40,
    "1e999": "1e999", "1e-999": "1e-999", "other digits": "١٢", "superscript": "²", "fraction": "½", "hex": "0x10", "underscore": "1_000",
    "yes": "yes", "none": "None", "a day that is none": "2026-02-30", "year 0": "0000-01-01", "far year": "9999-12-31", "ohms": "4k7", "negative volts": "-38V",
    "key and odd value": "power-tube=\udcff", "key and nan": "minutes=nan", "key and inf": "control-dc=inf", "check and nothing": "look-at-cord=", "option of another": "look-at-cord.x=1",
}  # fmt: skip
PATHS = {
    "a folder": "folder", "an empty file": "empty", "binary": "binary", "not utf-8": "latin", "deep": "deep.yaml", "deep json": "deep.jsonl",
    "half a line": "half.jsonl", "damaged backup": "damaged.sqlite", "empty backup": "bare.sqlite", "a pipe": "pipe", "a socket": "socket",
    "a link to itself": "loop", "a link to nowhere": "dangling", "in a file": "empty/x", "name with an escape": "odd\x1b[2J", "name that is no text": "odd\udcff",
    "missing": "missing", "missing in missing": "missing/at/all", "nothing to read": "/dev/null", "no end": "/dev/zero", "always full": "/dev/full",
    "300 letters": "n" * 300, "5,000 letters": "m/" * 2_500, "no such user": "~nouser/x", "up": "..", "root": "/", "here": ".", "process": "/proc/self/mem",
    "no such process": "/proc/0/x", "ends in a slash": "empty/", "with yaml": "missing.yaml", "a yaml list": "list.yaml", "a yaml word": "word.yaml",
    "a folder with yaml's name": "folder.yaml", "the jobs": "jobs/jobs.sqlite", "photograph and words": "empty=the socket", "letters without end": "photo.jpg " + "word " * 200,
}  # fmt: skip
ENVIRONMENTS: dict[str, Mapping[str, str]] = {
    **{f"{name} {kind}": {name: PATHS[kind]}
       for name in ("CHOPSTICK_JOBS", "CHOPSTICK_SHOP", "CHOPSTICK_USER", "XDG_CACHE_HOME", "XDG_DATA_HOME", "HOME")
       for kind in ("an empty file", "missing in missing", "in a file", "300 letters", "no such user", "a link to itself", "nothing to read", "a pipe")},
    **{f"the store is {url!r}": {"CHOPSTICK_STORE": url}
       for url in ("x", "postgresql://", "postgresql://a:b@c@d/e", "sqlite:///x", "http://[", "postgresql://localhost:99999/x", "postgresql://127.0.0.1:1/x", "\x1b[2J")},
    **{f"{name}={value!r}": {name: value}
       for name, values in {
           "COLUMNS": ("0", "-5", "x", "1", "99999"), "LINES": ("0", "x"), "TERM": ("", "dumb", "no-such"), "CHOPSTICK_LEVEL": ("x", "\x1b[2J"),
           "CHOPSTICK_PLAIN": ("x",), "CHOPSTICK_NO_LEARNED": ("x",), "TZ": ("x", "Nowhere/Never"), "LC_ALL": ("C", "xx_YY.nonsense", "POSIX"), "NO_COLOR": ("x",),
           "FORCE_COLOR": ("1",), "TMPDIR": ("missing",),
       }.items() for value in values},
}  # fmt: skip


def make_odd_files(folder: Path) -> None:
    """What PATHS names, as far as it is there."""
    for name in ("folder", "folder.yaml", "jobs"):
        (folder / name).mkdir(exist_ok=True)
    files = {
        "empty": b"", "binary": bytes(range(256)) * 8, "latin": "Größe: à\n".encode("latin-1"), "deep.yaml": b"[" * 5_000, "deep.jsonl": b'{"a":' * 5_000,
        "half.jsonl": b'{"shape":"chopstick job 1","number":1,"entries":[{"kind":"ope', "damaged.sqlite": b"SQLite format 3\x00" + b"\xff" * 5_000,
        "bare.sqlite": b"SQLite format 3\x00", "list.yaml": b"- 1\n- 2\n", "word.yaml": b"word\n", "odd\x1b[2J": b"", "odd\udcff": b"",
    }  # fmt: skip
    for name, content in files.items():
        Path(os.fsdecode(os.fsencode(str(folder)) + b"/" + os.fsencode(name))).write_bytes(content)
    os.mkfifo(folder / "pipe")
    with socket.socket(socket.AF_UNIX) as one:
        here = os.open(".", os.O_RDONLY)
        os.chdir(folder)  # the name of a socket is short
        one.bind("socket")
        os.fchdir(here)
        os.close(here)
    (folder / "loop").symlink_to("loop")
    (folder / "dangling").symlink_to("missing")


@dataclass(frozen=True)
class Place:
    """A place on the command line: the command, and the option or argument that is on trial ('' for the bare command).
    before: what the command can't do without."""

    command: tuple[str, ...]
    name: str
    option: str
    before: tuple[str, ...]

    def __str__(self) -> str:
        return " ".join((*self.command, self.option or self.name))

    def with_value(self, value: str) -> list[str]:
        """The words of a command line with a value in that place."""
        more = MORE.get(" ".join(self.command), ())
        words = [*self.command, *self.before, *(() if self.option in more else more)]
        return [*words, self.option, value] if self.option else [*words, value]


# What an argument that must be there can be, so that the value on trial is the only one that is wrong.
GOOD = {
    "job": "1", "kind": "record", "source": "good.jsonl", "file": "good.sqlite", "text": "crackle", "id_": "track-dirty", "path": "rules.yaml",
    "folder": "pack", "name": "amp-lore", "words": "track-dirty", "readings": "v1a.plate=200",
}  # fmt: skip
GOOD_FOR = {("circuit", "file"): "single-ended-6v6gt", ("jobs backup", "file"): "new.sqlite", ("rules", "id_"): "tube-overdriven"}

MORE = {"intake": ("--complaint", "crackle=x"), "close": ("--unsaid",)}  # so that nothing is asked for


def places() -> Iterator[Place]:
    """Every place of every command, walked from the command tree itself: a new one comes in by itself."""
    yield from _places(get_command(app), ())


def _places(command: Any, words: tuple[str, ...]) -> Iterator[Place]:
    if hasattr(command, "list_commands"):
        with command.make_context("chopstick", [], resilient_parsing=True) as context:
            for name in command.list_commands(context):
                yield from _places(command.get_command(context, name), (*words, name))
    arguments = [one for one in command.params if type(one).__name__ == "TyperArgument"]
    needed = {one.name: one for one in command.params if one.required}
    for one in command.params:
        if one in arguments:
            until = arguments[: arguments.index(one)]
            after = [option for option in needed.values() if option not in arguments]
        else:
            until, after = [two for two in arguments if two.required], [two for two in needed.values() if two not in arguments and two is not one]
        before = [word for two in after for word in (two.opts[0], good(words, two.name))]
        yield Place(words, one.name, "" if one in arguments else one.opts[0], (*(good(words, two.name) for two in until), *before))
    if not command.params:
        yield Place(words, "nothing", "", ())


def good(command: tuple[str, ...], name: str) -> str:
    """A value that the argument or option takes."""
    whole = " ".join(command)
    return next((GOOD_FOR[one, two] for one, two in GOOD_FOR if two == name and whole.startswith(one)), GOOD.get(name, "1"))
