"""How far a figure may be off: what the meter's and the parts' errors do to it, and what may still be said.

Each thing that goes in is moved by its error, alone, and the changes are added as squares: the errors are unrelated.
The scale error of a meter is one thing for all that was read on it, so it drops out where readings are compared.
Then all are moved together, each by its share, to the two ends of the band; where the verdict is another one there, the
figure can't tell. How large the errors are stands in kb/reference/errors.yaml.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from ..reference.tables import Reference, load
from .catalogue import Calculation, Parameter, parameters
from .figure import Figure

CANT_TELL = "can't tell"
# What a name starts with when it is a rating, a wish or a given, and carries no error of measurement.
GIVEN = (
    *("rating", "rated", "nominal", "designed", "expected", "wanted", "target", "safe", "marked", "tolerance"),
    *("margin", "setting", "meter_ohm", "meter_percent", "mains_Hz", "note", "ambient", "dial", "total"),
)


ONE_METER = ("V", "mV", "A", "mA")  # readings in one of these are one meter's; resistances are of so many parts


def with_error(
    function: Calculation,
    arguments: Mapping[str, Any],
    errors: Mapping[str, float] | None = None,
) -> Figure:
    """The figure with its band; without one where nothing that goes in carries an error.

    errors: half-widths of single arguments by name, in their own unit, over the usual ones of the reference; what is
    given and not measured (GIVEN) carries none either way. Raises ValueError as the calculation does.
    """
    worked = function(**arguments)
    if worked.chosen:
        return worked
    moves = _moves(function, arguments, errors or {})

    def at(shares: Sequence[float]) -> Figure:
        moved = dict(arguments)
        for share, (_, move) in zip(shares, moves, strict=True):
            for name, (value, error) in move.items():
                moved[name] = moved.get(name, value) + share * error
        return function(**moved)

    return banded(worked, at, [label for label, _ in moves])


Move = dict[str, tuple[float, float]]  # by argument: its value, and by how much it moves


def _moves(function: Calculation, arguments: Mapping[str, Any], errors: Mapping[str, float]) -> list[tuple[str, Move]]:
    """What may be off on its own: each argument; and, for readings of one meter, its scale, which moves them all."""
    alone: list[tuple[str, Move]] = []
    scales: dict[str, Move] = {}
    reference = load()
    against = reference.spreads["same_meter"].percent / 100
    for one in parameters(function):
        value = arguments.get(one.name, one.default)
        if one.word or one.name.startswith(GIVEN) or not isinstance(value, int | float) or not value:
            continue
        error = errors.get(one.name, usual_error(one, float(value), reference))
        if one.unit in ONE_METER and one.name not in errors:
            own = min(error, against * abs(value) + reference.errors[one.unit].plus)
            common = math.copysign(math.sqrt(error**2 - own**2), value)
            scales.setdefault(one.unit, {})[one.name] = (float(value), common)
            error = own
        if error:
            alone.append((one.name, {one.name: (float(value), error)}))
    named = {unit: next(iter(move)) if len(move) == 1 else "the meter's scale" for unit, move in scales.items()}
    return alone + [(named[unit], move) for unit, move in scales.items() if any(error for _, error in move.values())]


def usual_error(parameter: Parameter, value: float, reference: Reference) -> float:
    """The half-width that an argument usually carries, by its name and unit."""
    if parameter.name in reference.spreads:
        return reference.spreads[parameter.name].of(value)
    return reference.reading_error(value, parameter.unit)


def banded(worked: Figure, at: Callable[[Sequence[float]], Figure], names: Sequence[str]) -> Figure:
    """A figure with the band that several unrelated errors bring, beside any it has already.

    at: the figure with each input moved by that many times its error; names: of the inputs, in that order.
    """
    if not names:
        return worked

    def reached(shares: Sequence[float]) -> Figure:
        try:
            return at(shares)
        except ValueError:
            return worked

    def alone(index: int, sign: float) -> float:
        return reached([sign if index == other else 0.0 for other in range(len(names))]).value

    changes = [(alone(index, 1.0) - alone(index, -1.0)) / 2 for index in range(len(names))]
    total = math.hypot(*changes)
    if not total:
        return worked
    ends = [reached([sign * change / total for change in changes]) for sign in (-1.0, 1.0)]
    largest = max(range(len(names)), key=lambda index: abs(changes[index]))
    return replace(
        worked,
        error=math.hypot(total, worked.error or 0.0),
        error_from=names[largest] if total >= (worked.error or 0.0) else worked.error_from,
        verdict=_verdict(ends[0], worked, ends[1]),
        warnings=tuple(dict.fromkeys(warning for one in (worked, *ends) for warning in one.warnings)),
    )


def _verdict(low: Figure, middle: Figure, high: Figure) -> str:
    said = list(dict.fromkeys(one.verdict or "nothing of note" for one in (low, middle, high)))
    if len(said) == 1 or middle.verdict.startswith(CANT_TELL):
        return middle.verdict
    return f"{CANT_TELL}: {' or '.join(said)}"
