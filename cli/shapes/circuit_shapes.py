"""The JSON of `chopstick circuit`. The rules of shapes.py hold here too: a shape only ever grows."""

from __future__ import annotations

from typing import Literal

from .shapes import Shape


class PointShape(Shape):
    """One test point: expected volts and the band of sound parts and meter; changed_V beside it when asked for."""

    point: str
    volts: float
    low_V: float
    high_V: float
    changed_V: float | None


class LimitShape(Shape):
    """One figure against its published limit, the rating system it holds under, and its source."""

    of: str
    value: float
    limit: float
    unit: str
    system: str
    source: str
    seen: bool
    over: bool


class ChartShape(Shape):
    """What `circuit volts --json` prints. tubes and supplies: figures by name, units in the names."""

    shape: Literal["chopstick circuit volts 1"] = "chopstick circuit volts 1"
    circuit: str
    title: str
    fault: str
    changes: dict[str, str]
    points: tuple[PointShape, ...]
    tubes: dict[str, dict[str, float]]
    supplies: dict[str, dict[str, float]]
    limits: tuple[LimitShape, ...]
    caution: str


class FaultShape(Shape):
    """One fault of a ranking.

    fault: its id, DESIGNATOR.kind; severity: the likeliest degree; same_readings: the faults that no reading at any
    test point of this circuit can tell from it, itself among them; checks: what can; predicted: volts it would give at
    the points that were read.
    """

    fault: str
    part: str
    stage: str
    kind: str
    text: str
    severity: str
    probability: float
    same_readings: tuple[str, ...]
    checks: tuple[str, ...]
    predicted: dict[str, float]


class NextShape(Shape):
    """A test point not yet read, what a reading there is expected to tell (bits), and the band to expect."""

    point: str
    bits: float
    low_V: float
    high_V: float


class NearestShape(Shape):
    """A fault that alone comes near the readings, how far they are from it, and the point worth reading again."""

    fault: str
    text: str
    severity: str
    fit: float
    read_again: str


class RankedShape(Shape):
    """The ranking for one readings file.

    healthy: probability that no fault is there; best: the likeliest set of faults; explained: whether that set accounts
    for the readings; fit: how far they are from it, in standard deviations beyond what tolerances give. nearest: the
    single faults that come nearest, each for itself; while `faults` behind the first may be what would be added to it.
    """

    file: str
    readings: dict[str, float]
    healthy: float
    best: tuple[str, ...]
    explained: bool
    fit: float
    faults: tuple[FaultShape, ...]
    nearest: tuple[NearestShape, ...]
    next_points: tuple[NextShape, ...]


class RankingsShape(Shape):
    """What `circuit rank --json` prints: one entry of `results` a readings file, in the order given.

    not_converged: faults for which no operating point was found and which therefore take no part.
    """

    shape: Literal["chopstick circuit rank 1"] = "chopstick circuit rank 1"
    circuit: str
    title: str
    results: tuple[RankedShape, ...]
    not_converged: tuple[str, ...]
    caution: str
