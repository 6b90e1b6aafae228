"""The command line. Each command is a module of its own, imported only when it is called for.

Exit codes: 0 done; 1 problems found in the knowledge base or in a job's file; 2 usage or input error; 3 the work
stands at an open hold.
"""

from __future__ import annotations

import gc
import os
import sys
from importlib import import_module
from importlib.util import find_spec
from itertools import islice
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from ..engine.caution import STANDING
from ..engine.late import late
from . import VERSION, endings, exits
from .desk import LEVEL, LEVELS, NO_LEARNED
from .screen.screen import PLAIN, Screen, clean

with late():
    from .screen import prompts
    from .sitting import greeting

# As layers.py and embedded.py of the engine have them, which are not imported before they are wanted
SETTINGS = {"--shop": "CHOPSTICK_SHOP", "--store": "CHOPSTICK_STORE", "--level": LEVEL}
SWITCHES = {"--plain": PLAIN, "--no-learned": NO_LEARNED}
# In the order in which a job meets them. A module either has a function of its command's name or a Typer `app`.
COMMANDS = (
    "demo", "practice", "intake", "bench", "take", "show", "estimate", "paper", "close", "jobs", "queue",
    "kb", "figure", "circuit", "rules", "packs", "manual",
)  # fmt: skip
EPILOG = (
    "Exit codes: 0 done; 1 problems found; 2 usage or input error; 3 the work stands at an open hold. "
    f"CAUTION: {STANDING}"
)


class Commands(TyperGroup):
    """Finds a command by its module, so that none costs time before it is wanted."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Every command that is there, in order."""
        del ctx
        return [name for name in COMMANDS if find_spec(f"chopstick.cli.commands.{name}")]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in self.list_commands(ctx):
            return None
        module = import_module(f"chopstick.cli.commands.{cmd_name}")
        if (found := getattr(module, "app", None)) is None:
            found = typer.Typer(add_completion=False, rich_markup_mode=None)
            found.command(cmd_name)(getattr(module, cmd_name))
        command = typer.main.get_command(found)
        command.name = cmd_name
        return command

    def main(self, *args: Any, **options: Any) -> Any:
        """Run the command that is named. Whatever goes wrong ends here, in words and with an exit code."""
        with endings.in_words():
            code = super().main(*args, **{**options, "standalone_mode": False})
        sys.exit(code)


app = typer.Typer(
    cls=Commands,
    name="chopstick",
    help="A diagnostic assistant for the bench technician who repairs tube (valve) guitar amplifiers.",
    epilog=EPILOG,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    invoke_without_command=True,
)


def _version(wanted: bool) -> None:
    if wanted:
        print(f"chopstick {VERSION}")
        raise typer.Exit


@app.callback()
def start(
    ctx: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", is_eager=True, callback=_version, help="Print the version.")
    ] = False,
    shop: Annotated[
        Path | None,
        typer.Option("--shop", metavar="DIR", help="Folder of the shop's own knowledge (also CHOPSTICK_SHOP)."),
    ] = None,
    store: Annotated[
        str | None,
        typer.Option("--store", metavar="URL", help="PostgreSQL database the jobs are kept in (also CHOPSTICK_STORE)."),
    ] = None,
    no_learned: Annotated[
        bool, typer.Option("--no-learned", help=f"Ignore what closed jobs teach (also {NO_LEARNED}=1).")
    ] = False,
    level: Annotated[
        str | None,
        typer.Option(
            "--level",
            metavar="LEVEL",
            help="Who is at the bench: junior (led by the hand) or senior (terse); also CHOPSTICK_LEVEL.",
        ),
    ] = None,
    plain: Annotated[
        bool,
        typer.Option("--plain", help="For a screen reader: plain lines in reading order (also CHOPSTICK_PLAIN=1)."),
    ] = False,
) -> None:
    """A diagnostic assistant for the bench technician who repairs tube (valve) guitar amplifiers."""
    del version
    for option, chosen in (("--shop", shop), ("--store", store), ("--level", level)):
        if chosen is not None:
            _set(ctx, SETTINGS[option], str(chosen))
    for switch, on in (("--plain", plain), ("--no-learned", no_learned)):
        if on:
            _set(ctx, SWITCHES[switch], "1")
    if (os.environ.get(LEVEL) or LEVELS[0]) not in LEVELS:
        Screen().trouble(f"chopstick: the level (--level, {LEVEL}) is one of: {', '.join(LEVELS)}")
        raise typer.Exit(exits.INPUT)
    if ctx.invoked_subcommand is None:
        _greet(ctx)


def _set(ctx: typer.Context, name: str, value: str) -> None:
    """Let the setting stand in the environment for as long as the command runs, as if it had been set there."""
    before = os.environ.get(name)
    os.environ[name] = value
    ctx.call_on_close(lambda: os.environ.pop(name, None) if before is None else os.environ.update({name: before}))


def _greet(ctx: typer.Context) -> None:
    """The first screen, and the command that is chosen there."""
    screen = Screen()
    word = greeting.greet(screen, prompts.Prompt(screen))
    if word and isinstance(ctx.command, Commands):
        command = ctx.command.get_command(ctx, word)
        with command.make_context(word, [], parent=ctx) as own:
            command.invoke(own)


def main() -> None:
    """Any command."""
    endings.ready_the_streams()
    gc.set_threshold(200_000)  # nearly all that is made while starting stays: no garbage to look for in it
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # on sums as small as ours more threads take twice the time
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")  # none is wanted, and every installed package is asked
    sys.argv[1:] = settings_first([as_typed(word) for word in sys.argv[1:]])
    app()


def as_typed(word: str) -> str:
    """A word of the command line, cleaned, so that nothing can carry it to the terminal raw. The name of something that
    is there stays as it is, whatever signs it has; bytes that are no text in UTF-8 are not lost without a trace."""
    if os.path.lexists(word):
        return word
    return clean(os.fsencode(word).decode("utf-8", "replace"))


def settings_first(words: list[str]) -> list[str]:
    """The options of the whole program may stand anywhere; they go in front."""
    if "--" in words:
        return words
    front: list[str] = []
    rest: list[str] = []
    left = iter(words)
    for word in left:
        if word in SETTINGS:
            front += [word, *islice(left, 1)]
        else:
            (front if word in SWITCHES or word.partition("=")[0] in SETTINGS else rest).append(word)
    return [*front, *rest]


if __name__ == "__main__":
    main()
