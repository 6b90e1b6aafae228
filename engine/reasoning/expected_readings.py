"""What a check's DC readings should be, by the circuit that was chosen for a job or by the one nearest to the amp."""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from ..knowledge import model
from .circuit_checks import BAND, Chart

if TYPE_CHECKING:
    from ..circuit.netlist import Circuit

WIDE = 0.25  # how far the volts of an amp may be from those of the nearest archetype, as a share


@dataclass(frozen=True)
class ExpectedReading:
    """What a reading should be, at one test point. Volts as the check asks for them, with their sign."""

    reading: str
    point: str
    volts: float
    low: float
    high: float


@dataclass(frozen=True)
class Expectation:
    """What a check's DC readings should be. circuit: by which circuit; sure: the one that was chosen, else the one
    nearest to the amp, of whose facts `share` (0 to 1) agrees."""

    circuit: str = ""
    sure: bool = True
    share: float = 1.0
    points: tuple[ExpectedReading, ...] = ()


@dataclass(frozen=True)
class WouldRead:
    """What a test point would read with a cause, by the likeliest of its faults."""

    cause: str
    fault: str
    volts: float


def points_of(circuit: Circuit, reading: model.ReadingAsked) -> tuple[str, ...]:
    """The test points of a circuit that a reading may be of, or what else it reads there; one alone is meant for
    certain."""
    if reading.quantity is not None:
        return (reading.quantity,)
    if reading.point is None or reading.dc is None:
        return ()
    return tuple(point for point in circuit.test_points if fnmatchcase(point, reading.point))


def expected(circuit: Circuit, chart: Chart, check: model.Check, wide: float = 0.0) -> tuple[ExpectedReading, ...]:
    """What each DC reading of a check should be. wide: a further spread, as a share, for a circuit that is only like
    the amp's."""
    found = []
    for name, reading in check.readings.items():
        sign = -1.0 if reading.dc == "minus" else 1.0
        for point in points_of(circuit, reading):
            volts, sigma = chart[point]
            half = BAND * sigma + wide * abs(volts)
            found.append(ExpectedReading(name, point, sign * volts, sign * volts - half, sign * volts + half))
    return tuple(found)
