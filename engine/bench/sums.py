"""The sums that many figures share, each in one place: Ohm's law, resistances side by side, how far two are apart."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

HALVINGS = 48  # what is left is then far below the last figure shown


def beside(*ohms: float) -> float:
    """Resistance (ohm) of several side by side."""
    return 1 / sum(1 / ohm for ohm in ohms)


def milliamperes(drop_V: float, resistance_ohm: float) -> float:
    """Current (mA) in a resistance from the volts across it."""
    return 1000 * drop_V / resistance_ohm


def watts(drop_V: float, resistance_ohm: float) -> float:
    """Heat (W) in a resistance from the volts, DC or RMS, across it."""
    return drop_V * drop_V / resistance_ohm


def apart_percent(one: float, other: float) -> float:
    """How far two that should be alike are apart, as a share of their mean; positive when the first is larger.

    Raises ValueError when that mean is zero."""
    if one + other == 0:
        raise ValueError("both are zero: there is nothing to compare" if one == 0 else "their mean is zero")
    return 100 * (one - other) / abs((one + other) / 2)


def off_percent(found: float, meant: float) -> float:
    """How far something is from what it is meant to be, in percent; positive is upward."""
    return 100 * (found / meant - 1)


def short_percent(one: float, other: float) -> float:
    """How far the smaller of two falls short of the larger, as a share of the larger."""
    return 100 * abs(one - other) / max(one, other)


def halved(high: Any, too_low: Callable[[Any], Any]) -> Any:
    """Where, from 0 up to `high`, it stops being too low; for one number, or for each of an array on its own."""
    found, step = 0 * high, high
    for _ in range(HALVINGS):
        step = step / 2
        found = found + step * too_low(found + step)
    return found
