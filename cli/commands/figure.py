"""`chopstick figure`: the trade's calculations by themselves, with the sum shown."""

from __future__ import annotations

import inspect
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.caution import STANDING
from ...engine.late import late
from .. import exits
from ..desk import Json
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.bench.catalogue import Calculation, Parameter
    from ...engine.bench.figure import Figure
    from ..screen.prompts import Prompt

with late():
    from ...engine.bench import catalogue, notation, units
    from ...engine.bench import error as bench_error
    from ...engine.reference import errors, tables
    from ...engine.reports import figure as reports_figure
    from .. import written
    from ..screen import plot as screen_plot
    from ..screen import prompts

Given = dict[str, float | str]


class Unusable(Exception):
    """What was asked for can't be worked out; the text is for people."""


def figure(
    subject: Annotated[
        str, typer.Argument(help="A subject (bias), or one of its calculations (bias.plate_dissipation_percent).")
    ] = "",
    given: Annotated[
        list[str] | None,
        typer.Argument(metavar="[NAME=VALUE]...", help="What is known, in trade notation: plate_V=287.4"),
    ] = None,
    svg: Annotated[Path | None, typer.Option("--svg", metavar="FILE", help="Write the plot to an SVG file.")] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="With --svg: write over a file that is there, without asking.")
    ] = False,
    plot: Annotated[
        bool | None,
        typer.Option("--plot/--no-plot", help="Draw the plot (in a terminal it is drawn when there is one)."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Work out a figure of the trade, with its sum.

    With its error and its source too. Asks for what is missing.

    \b
    chopstick figure
    chopstick figure bias
    chopstick figure bias.plate_dissipation_percent plate_V=287.4 \\
        cathode_mA=38 tube=EL84
    chopstick figure coupling.corner_Hz coupling_F=0.022u load_ohm=470k --json
    """
    screen = Screen(sys.stderr) if as_json else Screen()
    try:
        name = _name(subject, screen, as_json)
        worked, known = _worked(name, list(given or ()), screen)
        _write_svg(worked, svg, yes)
    except Unusable as trouble:
        Screen().trouble(f"chopstick figure: {trouble}")
        raise typer.Exit(exits.INPUT) from None
    if as_json:
        Screen().json(reports_figure.worked_out(name, known, worked))
    else:
        _print(worked, sys.stdout.isatty() if plot is None else plot)
        if svg:
            screen.line(f"Plot written to {svg}")


def _name(subject: str, screen: Screen, as_json: bool) -> str:
    """The calculation meant. Ends the command after listing when only a subject, or nothing, was named."""
    if "." in subject:
        return subject
    subjects = catalogue.subjects()
    if subject and subject not in subjects:
        hint = errors.did_you_mean(subject, [*subjects, *catalogue.names()])
        raise Unusable(f"there is no subject '{subject}'. {hint or 'Subjects: ' + ', '.join(subjects)}")
    chosen = [subject] if subject else list(subjects)
    if as_json:
        _list_json(chosen)
        raise typer.Exit(exits.DONE)
    _list(chosen, screen, bool(subject))
    name = _ask_name(subject, screen) if subject else ""
    if not name:
        raise typer.Exit(exits.DONE)
    return name


def _figures_of(subject: str) -> list[str]:
    return [name for name in catalogue.names() if name.split(".")[0] == subject]


def _list(chosen: list[str], screen: Screen, whole: bool) -> None:
    about = catalogue.subjects()
    if not whole:
        screen.pairs((subject, about[subject]) for subject in chosen)
        screen.line()
        screen.line("chopstick figure SUBJECT lists the calculations of one.")
        return
    for subject in chosen:
        screen.line(about[subject], "bold")
        screen.pairs(
            (name, (catalogue.find(name).__doc__ or "").strip().splitlines()[0]) for name in _figures_of(subject)
        )


def _list_json(chosen: list[str]) -> None:
    about = catalogue.subjects()
    told = tuple(
        reports_figure.Subject(subject=subject, about=about[subject], figures=tuple(_figures_of(subject)))
        for subject in chosen
    )
    Screen().json(reports_figure.Subjects(subjects=told))


def _ask_name(subject: str, screen: Screen) -> str:
    """The calculation picked at the prompt; '' when nobody is there to ask."""
    prompt = prompts.Prompt(screen)
    if not prompt.at_terminal:
        return ""
    names = _figures_of(subject)
    try:
        typed = prompt.ask("Which one? (Enter for none)", [*names, *(name.split(".")[1] for name in names)])
    except prompts.Ended:
        return ""
    return typed if not typed or "." in typed else f"{subject}.{typed}"


def _worked(name: str, words: list[str], screen: Screen) -> tuple[Figure, Given]:
    """The figure with its error, and what it was given. Raises Unusable."""
    try:
        function = catalogue.find(name)
    except catalogue.UnknownFigure as error:
        raise Unusable(str(error)) from None
    takes = {parameter.name: parameter for parameter in catalogue.parameters(function)}
    known = _read(words, takes, name)
    if any(one.required and one.name not in known for one in takes.values()):
        known |= _ask(function, takes, known, screen)
    try:
        return bench_error.with_error(function, known), known
    except ValueError as error:
        raise Unusable(str(error)) from None


def _read(words: list[str], takes: dict[str, Parameter], name: str) -> Given:
    known: Given = {}
    for word in words:
        key, equals, text = word.partition("=")
        if not equals:
            raise Unusable(f"'{word}' is not NAME=VALUE, as in plate_V=287.4")
        if key not in takes:
            raise Unusable(f"{name} takes no '{key}'. {errors.did_you_mean(key, list(takes)) or _takes(takes)}")
        if key in known:
            raise Unusable(f"'{key}' is given twice")
        known[key] = _value(takes[key], text)
    return known


def _value(parameter: Parameter, text: str) -> float | str:
    if parameter.word:
        return text
    try:
        return notation.parse(text, parameter.unit or "ratio").value
    except notation.NotationError as error:
        raise Unusable(f"{parameter.name}: {error}") from None


def _takes(takes: dict[str, Parameter]) -> str:
    needed = [one.name for one in takes.values() if one.required]
    free = [one.name for one in takes.values() if not one.required]
    return f"It needs: {', '.join(needed)}." + (f" It also takes: {', '.join(free)}." if free else "")


def _ask(function: Calculation, takes: dict[str, Parameter], known: Given, screen: Screen) -> Given:
    """What is missing, asked one by one; Enter leaves out what may be left out. Raises Unusable at the end of input."""
    prompt = prompts.Prompt(screen)
    for paragraph in inspect.cleandoc(function.__doc__ or "").split("\n\n"):
        screen.line(" ".join(paragraph.split()))
    told: Given = {}
    for parameter in takes.values():
        if parameter.name in known:
            continue
        answer = _asked(prompt, parameter, takes)
        if answer is not None:
            told[parameter.name] = answer
    return told


def _asked(prompt: Prompt, parameter: Parameter, takes: dict[str, Parameter]) -> float | str | None:
    while True:
        try:
            typed = prompt.ask(_question(parameter))
        except prompts.Ended:
            if parameter.required:
                raise Unusable(f"{parameter.name} is missing. {_takes(takes)}") from None
            return None
        if not typed and not parameter.required:
            return None
        try:
            return _value(parameter, typed)
        except Unusable as trouble:
            prompt.screen.line(str(trouble))


def _question(parameter: Parameter) -> str:
    spoken = parameter.name.removesuffix(f"_{parameter.unit}").replace("_", " ")
    unit = f" in {units.UNITS[parameter.unit].wanted}" if parameter.unit else ""
    if parameter.required:
        return f"{spoken}{unit}:"
    default = parameter.default
    if isinstance(default, float):
        return f"{spoken}{unit} (Enter for {notation.show(default, parameter.unit or 'ratio')}):"
    return f"{spoken}{unit} (Enter for {default or 'none'}):"


def _print(worked: Figure, draw: bool) -> None:
    screen = Screen()
    screen.line(worked, "bold")
    if worked.verdict:
        screen.line(f"Verdict: {worked.verdict}")
    screen.heading("The sum")
    screen.numbered(worked.steps)
    if worked.warnings:
        screen.heading("Beware")
        screen.bullets(worked.warnings)
    source = tables.load().source(worked.source)
    screen.line()
    screen.pairs(
        [
            ("Rests on", worked.rests_on),
            ("Source", f"{source.title} ({'seen' if source.seen else source.note})"),
            ("Caution", STANDING),
        ]
    )
    if draw and worked.curve:
        screen.line()
        for line in screen_plot.terminal(worked.curve, min(76, screen.console.width)).splitlines():
            screen.whole(line)
        screen.line(screen_plot.key(worked.curve))


def _write_svg(worked: Figure, file: Path | None, over: bool) -> None:
    if file is None:
        return
    if worked.curve is None:
        raise Unusable("this figure has no plot")
    written.write(file, screen_plot.svg(worked.curve).encode(), over)
