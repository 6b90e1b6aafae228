"""Help fits the terminal: no command is cut short in the list of commands, and each shows an example."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import typer
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
