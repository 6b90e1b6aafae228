"""Every command and every option with values, paths and environments that are wrong: a sentence on standard error that
says so, an exit code with a meaning, never a crash, and nothing written where it should not be."""

from __future__ import annotations

import hashlib
import itertools
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from chopstick.cli.main import app, as_typed, settings_first
from typer.testing import CliRunner

from ..amount import LONG, amount
from .conftest import COMPLAINTS, SMALL, Ran
from .wrong import ENVIRONMENTS, PATHS, VALUES, Place, make_odd_files, places

Case = tuple[Place, str, str]  # the place, what kind of value, and the value
PLACES = list(places())
FROM_THE_ENVIRONMENT = (
    ["jobs"], ["show", "1"], ["intake", "--complaint", "crackle=x"], ["take", "1", "--note", "x"], ["paper", "record", "1"],
    ["kb", "list"], ["packs", "list"], ["circuit", "volts", "single-ended-6v6gt"], ["figure", "bias"], ["manual"], ["bench", "1"], ["queue"], [],
)  # fmt: skip
HOLDS_UP_S = 300  # nothing waits for a pipe or reads a device: this only keeps a run that does from standing for ever
MOST_BYTES = 8 * 2**30  # of memory: what reads without an end is stopped


WRONG = [*VALUES.items(), *PATHS.items()]


def cases() -> Iterator[Case]:
    """Everything with everything in the long run; else every second place, and each kind of value about as often."""
    if LONG:
        yield from ((place, kind, value) for place in PLACES for kind, value in WRONG)
        return
    kinds = itertools.cycle(random.Random(15).sample(WRONG, len(WRONG)))
    for place in random.Random(15).sample(PLACES, len(PLACES) // 2):
        yield place, *next(kinds)


TRIED = list(cases())
CHUNKS = [TRIED[start :: amount(4, 40)] for start in range(amount(4, 40))]
SURROUNDED = [(words, name) for words in FROM_THE_ENVIRONMENT for name in ENVIRONMENTS]


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with two jobs, a backup and an export of them, a pack, and files that are wrong in every way."""
    folder = tmp_path_factory.mktemp("template")
    make_odd_files(folder)
    (folder / "home").mkdir()
    (folder / "pack" / "areas").mkdir(parents=True)
    (folder / "pack" / "pack.yaml").write_text('name: amp-lore\nversion: "1"\nabout: An amp.\n')
    (folder / "rules.yaml").write_text("area: small\n")
    here = Sandbox(folder)
    for words in (
        ["intake", "--title", "Small combo", *COMPLAINTS], ["intake", "--title", "Another", *COMPLAINTS], ["close", "2", "--unsaid"],
        ["jobs", "export", "--to", "good.jsonl"], ["jobs", "backup", "good.sqlite"],
    ):  # fmt: skip
        ran = here.run(words)
        assert ran.code == 0, ran.err
    return folder


class Sandbox:
    """A folder that commands run in, with all that they may keep below it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def environment(self, **more: str) -> dict[str, str]:
        inside = {"CHOPSTICK_JOBS": "jobs", "CHOPSTICK_USER": "user", "XDG_CACHE_HOME": "cache", "HOME": "home", "XDG_DATA_HOME": "data"}
        return {**{name: str(self.folder / path) for name, path in inside.items()}, "COLUMNS": "80", **more}

    @staticmethod
    def whole(words: list[str]) -> list[str]:
        """With the small knowledge base, where the command takes one and none is on trial."""
        takes_one = any(place.option == "--kb" and list(place.command) == words[: len(place.command)] for place in PLACES)
        return [*words, "--kb", str(SMALL)] if takes_one and "--kb" not in words and "--" not in words else words

    def run(self, words: list[str], **more: str) -> Ran:
        """A command in this process, as if it had been typed in the folder."""
        before = os.getcwd()
        os.chdir(self.folder)
        try:
            typed = settings_first([as_typed(word.replace("\0", "")) for word in self.whole(words)])
            done = CliRunner(env=self.environment(**more)).invoke(app, typed, input="")
        finally:
            os.chdir(before)
        if done.exception and not isinstance(done.exception, SystemExit):
            raise done.exception
        return Ran(done.exit_code, done.stdout, done.stderr)

    def process(self, words: list[str], **more: str) -> Ran:
        """A command in a process of its own."""
        done = subprocess.run(
            [os.fsencode(word) for word in (sys.executable, "-m", "chopstick.cli.main", *self.whole(words))], cwd=self.folder,
            stdin=subprocess.DEVNULL, capture_output=True, timeout=HOLDS_UP_S, env={**os.environ, **self.environment(**more)},
        )  # fmt: skip
        return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())

    def there(self) -> dict[str, str]:
        """Every file and what is in it; what is cached counts for nothing."""
        found = {}
        for path in sorted(self.folder.rglob("*")):
            name = str(path.relative_to(self.folder))
            if name.split("/")[0] != "cache" and not (path.is_dir() and not path.is_symlink()):
                plain = path.is_file() and not path.is_symlink()
                found[name] = hashlib.sha256(path.read_bytes()).hexdigest() if plain else "odd"
        return found


@pytest.fixture
def sandbox(template: Path, tmp_path: Path) -> Iterator[Sandbox]:
    before, most = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES if most == resource.RLIM_INFINITY else min(MOST_BYTES, most), most))
    signal.signal(signal.SIGALRM, signal.default_int_handler)
    yield fresh(template, tmp_path / "here")
    resource.setrlimit(resource.RLIMIT_AS, (before, most))


def fresh(template: Path, folder: Path) -> Sandbox:
    folder.mkdir()
    make_odd_files(folder)
    for name in ("home", "pack", "jobs"):
        shutil.copytree(template / name, folder / name, dirs_exist_ok=True)
    for name in ("rules.yaml", "good.jsonl", "good.sqlite"):
        shutil.copy2(template / name, folder / name)
    return Sandbox(folder)


def wrong_with(ran: Ran) -> str:
    """What is wrong with how a command ended; '' when nothing is."""
    if ran.code not in (0, 1, 2, 3):
        return f"exit code {ran.code}"
    if found := re.search(r"Traceback|enough memory|\bErrno\b|Error\b: |object at 0x|pydantic|\x1b|Usage: ", ran.err):
        return f"'{found[0]}' is nothing to tell a person"
    if ran.code in (1, 2) and not (ran.err.strip() or ran.code == 1):
        return "nothing was said"
    if ran.code == 2 and not re.search(r"[a-z]{2,} .*[a-z]", ran.err):
        return "what was said is no sentence"
    return ""


def written_where_it_should_not(ran: Ran, before: dict[str, str], after: dict[str, str], value: str) -> set[str]:
    """Files that came or changed though the command failed, or that are neither kept by the program nor were named."""
    changed = {name for name in {*before, *after} if before.get(name) != after.get(name)}
    if ran.code == 2:
        return changed
    named = {os.path.normpath(one) for one in (value, as_typed(value), f"{value}.yaml")}
    if "." in named:  # where it was called
        return set()
    return {
        name for name in changed
        if name.split("/")[0] not in ("jobs", "user", "data", "home", "new.sqlite")
        and not any(name == one or name.startswith(f"{one}/") for one in named)
    }  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("chunk", range(len(CHUNKS)))
def test_every_option_with_values_that_are_wrong(chunk: int, sandbox: Sandbox, template: Path) -> None:
    found = []
    for place, kind, value in CHUNKS[chunk]:
        before = sandbox.there()
        words = place.with_value(value)
        signal.alarm(HOLDS_UP_S)
        try:
            ran = sandbox.run(words)
        except KeyboardInterrupt:
            found.append(f"{place}, {kind}: it stands for ever")
            continue
        except Exception as error:
            found.append(f"{place}, {kind}: {error!r}")
            continue
        finally:
            signal.alarm(0)
        if wrong := wrong_with(ran):
            found.append(f"{place}, {kind}: {wrong}: code {ran.code}, {ran.err!r}")
        after = sandbox.there()
        if stray := written_where_it_should_not(ran, before, after, value):
            found.append(f"{place}, {kind}: written: {sorted(stray)}")
        if after != before:
            shutil.rmtree(sandbox.folder)
            fresh(template, sandbox.folder)
    assert not found, f"{len(found)}:\n" + "\n".join(found)


@pytest.mark.long
def test_every_environment_that_is_wrong(sandbox: Sandbox, template: Path) -> None:
    found = []
    for words, name in SURROUNDED if LONG else random.Random(15).sample(SURROUNDED, 25):
        before = sandbox.there()
        try:
            ran = sandbox.run(words, **ENVIRONMENTS[name])
        except Exception as error:
            found.append(f"{words}, {name}: {error!r}")
            continue
        if wrong := wrong_with(ran):
            found.append(f"{words}, {name}: {wrong}: code {ran.code}, {ran.err!r}")
        after = sandbox.there()
        if stray := written_where_it_should_not(ran, before, after, next(iter(ENVIRONMENTS[name].values()))):
            found.append(f"{words}, {name}: written: {sorted(stray)}")
        if after != before:
            shutil.rmtree(sandbox.folder)
            fresh(template, sandbox.folder)
    assert not found, f"{len(found)}:\n" + "\n".join(found)


@pytest.mark.long
def test_the_same_as_processes(sandbox: Sandbox) -> None:
    """A sample of all that, as it is really called: with the real streams, locale and names in bytes."""
    draw = random.Random(16)
    lines = [(place.with_value(value), {}) for place, _, value in draw.sample(TRIED, amount(2, 300))]
    lines += [(words, ENVIRONMENTS[name]) for words, name in draw.sample(SURROUNDED, amount(2, 200))]
    found = []
    for words, environment in lines:
        ran = sandbox.process([word.replace("\0", "") for word in words], **environment)
        if wrong := wrong_with(ran):
            found.append(f"{words}, {environment}: {wrong}: code {ran.code}, {ran.err!r}")
    assert not found, f"{len(found)}:\n" + "\n".join(found)


def test_at_least_40_kinds_are_tried_at_every_place_in_the_long_run() -> None:
    assert len(VALUES) + len(PATHS) >= 80
    assert len({str(place) for place in PLACES}) == len(PLACES) > 150
    assert {place.command[0] for place in PLACES if place.command} >= {"intake", "bench", "take", "show", "jobs", "paper"}
