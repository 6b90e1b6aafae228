"""The JSON of `chopstick figure`. The rules of shapes.py hold here too: a shape only ever grows."""

from __future__ import annotations

from typing import Literal

from .shapes import Shape


class SubjectShape(Shape):
    """A subject and the calculations it offers."""

    subject: str
    about: str
    figures: tuple[str, ...]


class SubjectsShape(Shape):
    """What `figure` prints without a calculation's name."""

    shape: Literal["chopstick figures 1"] = "chopstick figures 1"
    subjects: tuple[SubjectShape, ...]


class LineShape(Shape):
    """One line of a plot."""

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]


class CurveShape(Shape):
    """A plot: its axes with their units, and its lines. x_log: the x axis runs by decades."""

    title: str
    x_name: str
    y_name: str
    x_log: bool
    lines: tuple[LineShape, ...]


class WorkedShape(Shape):
    """What `figure SUBJECT.CALCULATION` prints.

    figure: the calculation; given: what it was given, numbers in the unit the name ends in; value in unit; shown: the
    same in trade notation; error: half-width of the band that meter and parts leave, null when the value is picked from
    a list; steps: the sum, a line a step; source: id of the bibliography, with its title and whether it was seen;
    curve: null when there is none; caution: the standing caution.
    """

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
    curve: CurveShape | None
    caution: str
