"""How far a figure may be off: what the meter's and the parts' errors do to it, and what may still be said.

Each thing that goes in is moved by its error, alone, and the changes are added as squares: the errors are unrelated.
Then all are moved together, each by its share, to the two ends of the band; where the verdict is another one there,
the figure can't tell. How large the errors are stands in kb/reference/errors.yaml.
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


def with_error(
    function: Calculation,
    arguments: Mapping[str, Any],
    errors: Mapping[str, float] | None = None,
    reference: Reference | None = None,
) -> Figure:
    """The figure with its band; without one where nothing that goes in carries an error.

    errors: half-widths of single arguments by name, in their own unit, over the usual ones of the reference; what is
    given and not measured (GIVEN) carries none either way.
    Raises ValueError as the calculation does.
    """
    worked = function(**arguments)
    if worked.chosen:
        return worked
    moved: dict[str, tuple[float, float]] = {}
    for parameter in parameters(function):
        value = arguments.get(parameter.name, parameter.default)
        if not parameter.word and not parameter.name.startswith(GIVEN) and isinstance(value, int | float) and value:
            error = (errors or {}).get(parameter.name, usual_error(parameter, float(value), reference or load()))
            if error:
                moved[parameter.name] = (float(value), error)
    return banded(
        worked,
        lambda shares: function(
            **{**arguments, **{n: v + s * e for s, (n, (v, e)) in zip(shares, moved.items(), strict=True)}}
        ),
        tuple(moved),
    )


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
