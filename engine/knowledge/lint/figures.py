"""Calculations must exist, get what they take, and get it in the right unit."""

from __future__ import annotations

from collections.abc import Iterator

from ...bench import catalogue
from ...reference.errors import Problem, UnknownName, did_you_mean
from ...reference.model import Rating, RectifierLimit
from ...reference.text import Place
from .. import model
from .frame import Look, lint


@lint("error")
def unknown_calculation(look: Look) -> Iterator[Problem]:
    """A figure whose `compute` names no calculation of engine/bench."""
    for check in look.base.checks.values():
        for name, figure in check.figures.items():
            try:
                catalogue.find(figure.compute)
            except catalogue.UnknownFigure as error:
                yield look.problem("checks", check, ("figures", name, "compute"), str(error))


@lint("error")
def calculation_mismatch(look: Look) -> Iterator[Problem]:
    """A figure that gives its calculation something it does not take, or leaves out something it needs."""
    for check, name, figure, function in _known(look):
        takes = {parameter.name: parameter for parameter in catalogue.parameters(function)}
        for given in figure.given:
            if given not in takes:
                hint = did_you_mean(given, list(takes)) or f"It takes: {', '.join(takes)}."
                place: Place = ("figures", name, "given", given)
                yield look.problem("checks", check, place, f"{figure.compute} takes no '{given}'.", hint, key=True)
        missing = [one.name for one in takes.values() if one.required and one.name not in figure.given]
        if missing:
            message = f"{figure.compute} also needs: {', '.join(missing)}"
            yield look.problem("checks", check, ("figures", name, "given"), message)


@lint("error")
def wrong_unit(look: Look) -> Iterator[Problem]:
    """A quantity handed to a calculation, or compared with a band, in another unit than it is meant in. Nothing
    is converted silently; give the reading the unit the calculation wants.
    """
    for check, name, figure, function in _known(look):
        answers_in = catalogue.unit(function)
        if figure.unit and answers_in and figure.unit != answers_in:
            message = f"{figure.compute} answers in {answers_in}, not {figure.unit}"
            yield look.problem("checks", check, ("figures", name, "unit"), message)
        for parameter in catalogue.parameters(function):
            source = figure.given.get(parameter.name)
            unit = _unit(look, check, source) if isinstance(source, str) else None
            if unit and parameter.unit and unit != parameter.unit:
                message = f"'{source}' is in {unit}; {parameter.name} wants {parameter.unit}"
                yield look.problem("checks", check, ("figures", name, "given", parameter.name), message)


@lint("error")
def unknown_quantity(look: Look) -> Iterator[Problem]:
    """A `given` or a band that names no reading, figure, amp fact, rating or limit: the figure could never be worked
    out, or the band never judged.
    """
    base = look.base
    for check in base.checks.values():
        quantities = [*check.readings, *check.figures]
        for name, figure in check.figures.items():
            for given, source in figure.given.items():
                if isinstance(source, str) and not _word(figure, given) and not _exists(look, check, source):
                    yield look.problem(
                        "checks",
                        check,
                        ("figures", name, "given", given),
                        f"'{source}' is nothing known.",
                        did_you_mean(source, [one for one in quantities if one != name]),
                    )
        for number, band in enumerate(check.bands):
            if band.of is None and len(check.readings) > 1 and not check.figures:
                message = "several readings: say which one the band judges, with 'of'"
                yield look.problem("checks", check, ("bands", number), message)
            if band.of is not None and band.of not in quantities:
                hint = did_you_mean(band.of, quantities)
                yield look.problem("checks", check, ("bands", number, "of"), f"there is no '{band.of}' here.", hint)
            for bound in ("above", "below"):
                source = getattr(band, bound)
                if isinstance(source, str) and not _exists(look, check, source):
                    yield look.problem("checks", check, ("bands", number, bound), f"'{source}' is not known here.")


def _known(look: Look) -> Iterator[tuple[model.Check, str, model.FigureOf, catalogue.Calculation]]:
    for check in look.base.checks.values():
        for name, figure in check.figures.items():
            try:
                yield check, name, figure, catalogue.find(figure.compute)
            except catalogue.UnknownFigure:
                continue


def _word(figure: model.FigureOf, given: str) -> bool:
    """Whether the parameter takes a word (a bias type, a class), so that text stands for itself."""
    try:
        parameters = catalogue.parameters(catalogue.find(figure.compute))
    except catalogue.UnknownFigure:
        return True
    return any(one.name == given and one.word for one in parameters)


def _exists(look: Look, check: model.Check, source: str) -> bool:
    kind, dot, key = source.partition(".")
    if not dot:
        owner_id, slash, name = source.rpartition("/")
        owner = look.base.checks.get(owner_id) if slash else check
        return owner is not None and name in {**owner.readings, **owner.figures}
    if kind == "amp":
        return key in look.base.amp_facts
    if kind == "tube":
        return key in Rating.model_fields
    if kind == "rectifier":
        return key in RectifierLimit.model_fields
    if kind == "window":
        name, _, end = key.rpartition(".")
        try:
            return getattr(look.base.reference.window(name), end, None) is not None
        except UnknownName:
            return False
    return False


def _unit(look: Look, check: model.Check, source: str) -> str | None:
    """The unit of what a `given` names; None when it has none or is unknown."""
    kind, dot, key = source.partition(".")
    if dot:
        if kind == "amp" and key in look.base.amp_facts:
            return look.base.amp_facts[key].unit
        suffix = key.removesuffix(".low").removesuffix(".high").rpartition("_")[2]
        return suffix if suffix in ("V", "W", "mA", "ohm", "percent") else None
    owner_id, slash, name = source.rpartition("/")
    owner = look.base.checks.get(owner_id) if slash else check
    if owner is None:
        return None
    if name in owner.readings:
        return owner.readings[name].unit
    figure = owner.figures.get(name)
    if figure is None:
        return None
    try:
        return figure.unit or catalogue.unit(catalogue.find(figure.compute)) or None
    except catalogue.UnknownFigure:
        return None
