"""Readings files: what a meter showed at the test points of one amplifier.

Either a plain mapping of test point to volts, or the same under `readings:` with what they were taken with:

    v1a.plate: 288            meter_ohm: 10M
    v1a.cathode: 0.05         mains_V: 121
    bias_feed: -38V           readings: {v1a.plate: 288, v1a.cathode: 0.05, bias_feed: -38V}

Values are in trade notation. Beside volts of a test point a key may be any of those in quantities.py: a signal at a
frequency, ripple, volts across a part, ohms with the power off. What the circuit does not have is an error at its line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..bench.notation import NotationError, parse
from ..reference.errors import KnowledgeError, Problem, did_you_mean
from ..reference.text import Document, Place, read_file
from .netlist import Circuit
from .quantities import quantity

_HEADS = {"meter_ohm": "ohm", "mains_V": "V"}


@dataclass(frozen=True)
class Readings:
    """One file of readings. meter_ohm and mains_V are None when the file does not say."""

    name: str
    values: Mapping[str, float]
    meter_ohm: float | None = None
    mains_V: float | None = None


def load_readings(path: Path, circuit: Circuit) -> Readings:
    """Read one file for a circuit. Raises KnowledgeError with every problem at its line."""
    document = read_file(path)
    content = document.value
    if not isinstance(content, dict):
        raise KnowledgeError([_problem(document, (), "readings are a mapping: a test point, a colon, its volts")])
    problems: list[Problem] = []
    nested = "readings" in content
    table = content["readings"] if nested else content
    place: Place = ("readings",) if nested else ()
    if not isinstance(table, dict) or not table:
        raise KnowledgeError([_problem(document, place, "there are no readings here")])
    heads: dict[str, float] = {}
    if nested:
        for key, value in content.items():
            if key in _HEADS:
                heads[key] = _number(document, (key,), value, _HEADS[key], problems)
            elif key != "readings":
                problems.append(
                    _problem(document, (key,), f"unknown key '{key}'", did_you_mean(key, [*_HEADS, "readings"]))
                )
    values: dict[str, float] = {}
    for point, value in table.items():
        try:
            unit = quantity(circuit, str(point)).unit
        except (KeyError, NotationError) as error:
            problems.append(_problem(document, (*place, point), str(error.args[0])))
            continue
        values[str(point)] = _number(document, (*place, point), value, unit, problems)
    if problems:
        raise KnowledgeError(problems)
    return Readings(str(path), values, heads.get("meter_ohm"), heads.get("mains_V"))


def _number(document: Document, place: Place, value: object, unit: str, problems: list[Problem]) -> float:
    try:
        return parse(str(value), unit).value if unit else float(str(value))
    except ValueError as error:
        problems.append(_problem(document, place, str(error)))
        return 0.0


def _problem(document: Document, place: Place, message: str, hint: str = "") -> Problem:
    return Problem(document.where(place, key=True), ".".join(map(str, place)), message, hint, "readings")
