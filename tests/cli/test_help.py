"""Help fits the terminal: no command is cut short in the list of commands, and each shows an example."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator

import pytest
import typer
from chopstick.cli import VERSION
from chopstick.cli.main import app
from typer.testing import CliRunner


def pages(command: object, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every page of help there is."""
    yield path
    group = getattr(command, "list_commands", None)
    if group is not None:
        context = typer.Context(command)  # type: ignore[arg-type]
        for name in group(context):
            yield from pages(command.get_command(context, name), (*path, name))  # type: ignore[attr-defined]


PAGES = list(pages(typer.main.get_command(app)))


def helped(path: tuple[str, ...]) -> str:
    return CliRunner().invoke(app, [*path, "--help"], env={"COLUMNS": "80", "TERMINAL_WIDTH": "80"}).output


@pytest.mark.parametrize("path", PAGES, ids=" ".join)
def test_nothing_is_cut_short_or_too_wide(path: tuple[str, ...]) -> None:
    lines = helped(path).splitlines()[1:]  # the usage line has dots of its own
    assert lines
    assert [line for line in lines if line.endswith("...") and not line.lstrip().startswith("chopstick")] == []
    # An example, and the list of words that an argument takes, stay on one line.
    assert [line for line in lines if len(line) > 80 and not line.lstrip().startswith("chopstick") and "|" not in line] == []


@pytest.mark.parametrize("path", [path for path in PAGES if len(path) > 1 or path == ("bench",)], ids=" ".join)
def test_every_command_shows_itself_at_work(path: tuple[str, ...]) -> None:
    assert f"\n  chopstick {' '.join(path)}" in helped(path)


def test_the_version_is_told_before_anything_is_imported() -> None:
    """Asking for it takes no longer than to start Python; everything else goes on to the commands."""
    tell = "import sys; from chopstick.cli.__main__ import main; sys.argv[1:] = {}; main(); print('typer' in sys.modules)"
    version = subprocess.run([sys.executable, "-c", tell.format(["--version"])], capture_output=True, text=True, check=True)
    assert version.stdout == f"chopstick {VERSION}\nFalse\n"
    module = [sys.executable, "-m", "chopstick.cli"]
    assert subprocess.run([*module, "--version"], capture_output=True, text=True, check=True).stdout == f"chopstick {VERSION}\n"
    also = subprocess.run([*module, "--plain", "--version"], capture_output=True, text=True, check=True)
    assert also.stdout == f"chopstick {VERSION}\n"
    assert "chopstick bench" in subprocess.run([*module, "bench", "--help"], capture_output=True, text=True, check=True).stdout
