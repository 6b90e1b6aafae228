"""What a circuit should read, and the faults that its readings point to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Literal

from ..caution import STANDING
from ..circuit.advise import NextPoint, Unread, next_points, unread
from ..circuit.chart import Chart, Signals
from ..circuit.classes import fault_class
from ..circuit.dictionary import Dictionary
from ..circuit.files import CircuitFile
from ..circuit.rank import FaultRanking
from ..circuit.readings import Readings
from ..report import Report

MOST_POINTS = 5


class PointExpected(Report):
    """One test point: expected volts and the band of good parts and meter; changed_V beside it when asked for."""

    point: str
    volts: float
    low_V: float
    high_V: float
    changed_V: float | None


class SignalExpected(Report):
    """One AC reading, in V RMS without a signal (ripple, hum) or with the generator at the input; a gain or a balance
    has no unit. low to high with good parts; changed beside it when asked for."""

    name: str
    unit: str
    reading: float
    low: float
    high: float
    changed: float | None


class FigureAgainstLimit(Report):
    """One figure against its published limit, the rating system it holds under, and its source."""

    of: str
    value: float
    limit: float
    unit: str
    system: str
    source: str
    seen: bool
    over: bool


class VoltageChart(Report):
    """tubes and supplies: figures by name, units in the names. driven_V: what the generator is set to for `signals`."""

    shape: Literal["chopstick circuit volts 1"] = "chopstick circuit volts 1"
    circuit: str
    title: str
    fault: str
    changes: dict[str, str]
    points: tuple[PointExpected, ...]
    driven_V: float
    signals: tuple[SignalExpected, ...]
    tubes: dict[str, dict[str, float]]
    supplies: dict[str, dict[str, float]]
    limits: tuple[FigureAgainstLimit, ...]
    caution: str = STANDING


class FaultToSuspect(Report):
    """One fault of a ranking.

    fault: its id, DESIGNATOR.kind; severity: the likeliest degree; same_readings: the faults that no reading at any
    test point of this circuit can tell from it, itself among them; checks: what can; predicted: what it would give
    where something was read.
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


class FaultNearReadings(Report):
    """A fault that alone comes near the readings, how far they are from it (as `fit`), and the point whose reading is
    worth taking again."""

    fault: str
    text: str
    severity: str
    fit: float
    read_again: str


class RankedReadings(Report):
    """The ranking for one readings file.

    healthy: probability that no fault is there; best: the likeliest set of faults; explained: whether that set accounts
    for the readings; fit: how far they are from it, in standard deviations beyond what tolerances give. nearest: the
    single faults that come nearest, each for itself, while `faults` behind the first may be what would be added to it.
    next_points: test points not yet read, what a reading there is expected to tell (bits), and the band to expect.
    unread: while no fault is likely, what was not read yet and the faults that it would show.
    """

    file: str
    readings: dict[str, float]
    healthy: float
    best: tuple[str, ...]
    explained: bool
    fit: float
    faults: tuple[FaultToSuspect, ...]
    nearest: tuple[FaultNearReadings, ...]
    next_points: tuple[NextPoint, ...]
    unread: tuple[Unread, ...] = ()


class RankingOfCircuit(Report):
    """One entry of `results` per readings file, in the order given. not_converged: faults for which no operating point
    was found and which therefore take no part."""

    shape: Literal["chopstick circuit rank 1"] = "chopstick circuit rank 1"
    circuit: str
    title: str
    results: tuple[RankedReadings, ...]
    not_converged: tuple[str, ...]
    caution: str = STANDING


def voltage_chart(
    loaded: CircuitFile,
    sound: Chart,
    other: Chart | None,
    fault: str,
    changes: Mapping[str, str],
    heard: tuple[Signals, Signals | None],
) -> VoltageChart:
    """The chart of a circuit; other: with a fault or a change, whose figures then stand for it. heard: its signals,
    without and with."""
    pairs = zip(sound.rows, [row.volts for row in other.rows] if other else [None] * len(sound.rows), strict=True)
    return VoltageChart.made_of(
        other or sound,
        circuit=loaded.name,
        title=loaded.circuit.title,
        fault=fault,
        changes=dict(changes),
        points=tuple(PointExpected.made_of(row, changed_V=volts) for row, volts in pairs),
        driven_V=heard[0].driven_V,
        signals=tuple(
            SignalExpected.made_of(row, changed=heard[1].rows[k].reading if heard[1] else None)
            for k, row in enumerate(heard[0].rows)
        ),
    )


def ranking_of_circuit(
    loaded: CircuitFile, ranked: Iterable[tuple[Readings, FaultRanking, Dictionary]], most: int
) -> RankingOfCircuit:
    """The rankings of a circuit's faults; most: how many faults are listed of each."""
    found = list(ranked)
    return RankingOfCircuit(
        circuit=loaded.name,
        title=loaded.circuit.title,
        results=tuple(_ranked(one, ranking, dictionary, most) for one, ranking, dictionary in found),
        not_converged=tuple(dict.fromkeys(name for _, _, dictionary in found for name in dictionary.failed)),
    )


def _ranked(one: Readings, ranking: FaultRanking, dictionary: Dictionary, most: int) -> RankedReadings:
    return RankedReadings.made_of(
        ranking,
        file=one.name,
        readings=dict(one.values),
        faults=tuple(_faults(ranking, dictionary, one, most)),
        nearest=tuple(
            FaultNearReadings.made_of(near, text=dictionary.fault(near.fault).text) for near in ranking.nearest
        ),
        next_points=tuple(next_points(dictionary, ranking, tuple(one.values))[:MOST_POINTS]),
        unread=tuple(unread(dictionary, ranking, tuple(one.values))[:MOST_POINTS]) if ranking.healthy > 0.5 else (),
    )


def _faults(ranking: FaultRanking, dictionary: Dictionary, one: Readings, most: int) -> Iterator[FaultToSuspect]:
    for candidate in ranking.candidates[:most]:
        fault = dictionary.fault(candidate.fault)
        same = fault_class(dictionary, candidate.row, one.values)
        yield FaultToSuspect.made_of(
            fault, fault=fault.id, severity=candidate.severity, probability=candidate.probability,
            same_readings=same.faults, checks=same.checks,
            predicted={name: float(f"{dictionary.predicted(candidate.row, name):.4g}") for name in one.values},
        )  # fmt: skip
