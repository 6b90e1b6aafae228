"""The calculations of the trade: what there is, and one worked out."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import model_validator

from ..bench.figure import Figure
from ..bench.notation import show
from ..caution import STANDING
from ..reference.tables import load
from ..report import Report


class Subject(Report):
    """A subject and the calculations it offers."""

    subject: str
    about: str
    figures: tuple[str, ...]


class Subjects(Report):
    shape: Literal["chopstick figures 1"] = "chopstick figures 1"
    subjects: tuple[Subject, ...]


class PlottedLine(Report):
    """One line of a plot."""

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]

    @model_validator(mode="before")
    @classmethod
    def _of_a_curve(cls, line: Any) -> Any:
        """A figure's curve has its lines as tuples."""
        return dict(zip(cls.model_fields, line, strict=True)) if isinstance(line, tuple) else line


class Plot(Report):
    """A plot: its axes with their units, and its lines. x_log: the x axis runs by decades."""

    title: str
    x_name: str
    y_name: str
    x_log: bool
    lines: tuple[PlottedLine, ...]


class FigureWorkedOut(Report):
    """figure: the calculation; given: what it was given, numbers in the unit the name ends in; value in unit; shown:
    the same in trade notation; error: half-width of the band that meter and parts leave, None when the value is picked
    from a list; steps: the sum, one line per step; source: id of the bibliography, with its title and whether it was
    seen; curve: None when there is none; caution: the standing caution."""

    shape: Literal["chopstick figure 1"] = "chopstick figure 1"
    figure: str
    given: dict[str, float | str]
    name: str
    value: float
    unit: str
    shown: str
    error: float | None
    verdict: str
    steps: tuple[str, ...]
    warnings: tuple[str, ...]
    rests_on: str
    source: str
    source_title: str
    source_seen: bool
    curve: Plot | None
    caution: str = STANDING


def worked_out(name: str, given: dict[str, float | str], worked: Figure) -> FigureWorkedOut:
    """A calculation by its name, with its result."""
    source = load().source(worked.source)
    return FigureWorkedOut.made_of(
        worked, figure=name, given=given, shown=show(worked.value, worked.unit), source_title=source.title,
        source_seen=source.seen,
    )  # fmt: skip
