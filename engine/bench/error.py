"""How far a figure may be off: what the meter's and the parts' errors do to it, and what may still be said.

Each reading is moved by its error, alone, and the changes are added as squares: the errors are unrelated.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from .catalogue import Calculation, parameters
from .figure import Figure

# Half-width of the error by unit, per cent of the reading. Handheld meters, parts measured or of fair tolerance;
# common practice, no source.
PERCENT: dict[str, float] = {
    "V": 1.0, "mV": 1.0, "mA": 1.5, "A": 1.5, "ohm": 1.5, "F": 5.0, "H": 10.0, "Hz": 0.5, "percent": 0.0, "W": 0.0,
}  # fmt: skip
# What a name starts with when it is a rating, a wish or a given, and carries no error of measurement.
GIVEN = (
    *("rating", "rated", "nominal", "designed", "wanted", "target", "safe", "marked", "tolerance", "margin", "setting"),
    *("meter_ohm", "meter_percent", "mains_Hz", "note", "ambient"),
)
SPREAD_PERCENT = {"mu": 10.0, "plate_resistance_ohm": 20.0, "transconductance_mA_per_volt": 20.0}


def with_error(
    function: Calculation, arguments: Mapping[str, Any], percent: Mapping[str, float] | None = None
) -> Figure:
    """The figure with its band; without one where nothing that goes in carries an error.

    percent: error of single arguments by name, over the usual ones of PERCENT.
    """
    worked = function(**arguments)
    if worked.chosen:
        return worked
    changes: list[float] = []
    for parameter in parameters(function):
        if parameter.word:
            continue
        value = arguments.get(parameter.name, parameter.default)
        error = _percent(parameter.name, parameter.unit, percent or {})
        if isinstance(value, int | float) and value and error:
            changes.append(_change(function, arguments, parameter.name, float(value), error, worked.value))
    return replace(worked, error=math.hypot(*changes)) if changes else worked


def _percent(name: str, unit: str, percent: Mapping[str, float]) -> float:
    if name in percent:
        return percent[name]
    if name in SPREAD_PERCENT:
        return SPREAD_PERCENT[name]
    return 0.0 if name.startswith(GIVEN) else PERCENT.get(unit, 0.0)


def _change(
    function: Calculation, arguments: Mapping[str, Any], name: str, value: float, error: float, middle: float
) -> float:
    """Half of what the figure moves when one argument goes from one end of its error to the other."""
    ends = []
    for sign in (-1, 1):
        try:
            ends.append(function(**{**arguments, name: value * (1 + sign * error / 100)}).value)
        except ValueError:
            ends.append(middle)
    return abs(ends[1] - ends[0]) / 2


def judge(figure: Figure, low: float | None = None, high: float | None = None) -> str:
    """'below', 'within', 'above', or "can't tell" when the figure's band straddles a limit."""
    band = figure.error or 0.0
    least, most = figure.value - band, figure.value + band
    if low is not None and most < low:
        return "below"
    if high is not None and least > high:
        return "above"
    if (low is None or least >= low) and (high is None or most <= high):
        return "within"
    return "can't tell"
