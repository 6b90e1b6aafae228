"""What a known circuit adds to a job: what its test points should read, and what the volts read say of each cause.

The volts are ranked against every fault of the circuit (engine/circuit). A stage whose volts are off becomes a finding
that is there, shown by each cause as well as its faults explain the volts; so two causes that each explain them do not
add up. What the volts point away from is a factor. See circuit/evidence.py for the bounds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ..bench.notation import show
from ..circuit import dictionary_files
from ..circuit.classes import fault_class
from ..circuit.dictionary import Dictionary, sound_chart, sound_signals
from ..circuit.evidence import weigh
from ..circuit.faults import Fault
from ..circuit.files import CircuitFile
from ..circuit.matching import faults_of, matching
from ..circuit.quantities import offered, quantity
from ..circuit.rank import FaultRanking, rank
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from .circuit_checks import BAND, Chart, stage_finding, with_circuit
from .expected_readings import WouldRead, points_of
from .facts import Facts, Said, VoltsRead
from .ranking import Causes, Volts
from .subsets import Array
from .suspects import Suspect

ACCOUNTS = 0.1  # a cause repaired accounts for a stage that was off when it explains it at least this well
LIKELY = 0.05  # faults less probable than this are not named
MOST_NAMED = 4


class KnownCircuit:
    """A circuit that was chosen for a job. Its dictionary is made, or read from the disk, when first asked for."""

    def __init__(self, file: CircuitFile, base: KnowledgeBase) -> None:
        """Raises ArithmeticError when the circuit has no operating point."""
        self.file, self.name, self.circuit = file, file.name, file.circuit
        self.chart: Chart = sound_chart(file.circuit)
        bench = sound_signals(file.circuit)
        self.signals = {name: bench.column(quantity(file.circuit, name)).band() for name in offered(file.circuit)}
        self.driven_V = bench.drive_V(file.circuit.input) if file.circuit.input else 0.0
        self.base = with_circuit(base, file.name, file.circuit, self.chart, self.signals, self.driven_V)
        self._ranked: dict[tuple[tuple[str, float], ...], FaultRanking] = {}

    def band(self, name: str) -> tuple[float, float, float]:
        """What is read when all is healthy, and the lowest and highest with good parts."""
        if name not in self.chart:
            return self.signals[name]
        volts, sigma = self.chart[name]
        return volts, volts - BAND * sigma, volts + BAND * sigma

    @cached_property
    def book(self) -> Dictionary:
        return dictionary_files.dictionary(self.circuit)

    @cached_property
    def _faults(self) -> tuple[Fault, ...]:
        return faults_of(self.circuit)

    @cached_property
    def shares(self) -> Mapping[str, tuple[tuple[int, float], ...]]:
        """For each cause that is a fault of this circuit: the faults, and each one's share by how common it is."""
        faults = self._faults

        def roles(one: model.CircuitFault) -> tuple[str, ...]:
            return self.base.parts_list.roles(one.part)

        found: dict[str, tuple[tuple[int, float], ...]] = {}
        for cause in self.base.causes.values():
            ours = dict.fromkeys(n for one in cause.circuit for n in matching(faults, roles(one), one.fault, one.stage))
            total = sum(faults[n].weight for n in ours)
            if ours:
                found[cause.id] = tuple((n, faults[n].weight / total) for n in ours)
        return found

    @cached_property
    def silent(self) -> frozenset[str]:
        """Causes whose faults no DC reading shows, so that it says nothing of them either way."""
        faults = self._faults
        return frozenset(id_ for id_, ours in self.shares.items() if all(faults[n].only_ac for n, _ in ours))

    def points(self, reading: model.ReadingAsked) -> tuple[str, ...]:
        return points_of(self.circuit, reading)

    def rank(self, readings: Mapping[str, float]) -> FaultRanking:
        """The faults by readings {test point: volts}; the last few answers are kept."""
        wanted = tuple(readings.items())
        if wanted not in self._ranked:
            if len(self._ranked) >= 8:
                del self._ranked[next(iter(self._ranked))]
            self._ranked[wanted] = rank(self.book, readings)
        return self._ranked[wanted]

    def movers(self, point: str) -> frozenset[str]:
        """The causes with a fault that moves a test point out of its healthy band."""
        mean, sigma = self.book.readout(point)
        far = np.abs(mean - mean[0]) > BAND * sigma[0]
        moved = set(self.book.row_fault[far & self.book.expected.converged].tolist())
        return frozenset(id_ for id_, ours in self.shares.items() if any(n in moved for n, _ in ours))

    def causes_of(self, fault: str) -> tuple[str, ...]:
        """The causes that a fault of this circuit may be."""
        number = self.number(fault)
        return tuple(id_ for id_, ours in self.shares.items() if any(n == number for n, _ in ours))

    def number(self, fault: str) -> int:
        """Where a fault stands in the dictionary."""
        return self._numbers[fault]

    @cached_property
    def _numbers(self) -> Mapping[str, int]:
        return {fault.id: number for number, fault in enumerate(self.book.faults)}


@dataclass(frozen=True)
class Epoch:
    """The volts read between two repairs that could change them, {test point: volts}. entry: the last one's."""

    readings: Mapping[str, float]
    entry: int
    check: str
    repaired: frozenset[str]


@dataclass(frozen=True)
class Voltages:
    """What the volts of a job say. said: the stages that are off, as statements; volts: how that enters the belief."""

    known: KnownCircuit
    epochs: tuple[Epoch, ...] = ()
    said: tuple[Said, ...] = ()
    volts: Volts = field(default_factory=Volts)

    @property
    def readings(self) -> Mapping[str, float]:
        """The volts read since the last repair that could change them."""
        return self.epochs[-1].readings if self.epochs else {}

    @cached_property
    def ranking(self) -> FaultRanking | None:
        """The faults ranked by the latest volts; None while there are none."""
        return self.known.rank(self.readings) if self.readings else None

    @property
    def explained(self) -> bool:
        """Whether some set of the circuit's faults accounts for the volts."""
        return self.ranking is None or self.ranking.explained

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """The faults that the latest volts point to, most probable first; each class of alike ones once."""
        if self.ranking is None:
            return ()
        book, named, found = self.known.book, set[str](), list[Suspect]()
        titles = {stage: entry.title for stage, entry in self.known.circuit.stages.items()}
        for one in self.ranking.candidates:
            if one.probability < LIKELY or len(found) == MOST_NAMED:
                break
            if one.fault in named:
                continue
            alike = fault_class(book, one.row, self.readings)
            named.update(alike.faults)
            predicted = {point: book.predicted(one.row, point) for point in self.readings}
            fault = book.fault(one.fault)
            causes = dict.fromkeys(id_ for name in alike.faults for id_ in self.known.causes_of(name))
            found.append(
                Suspect(
                    one.fault, f"{fault.part} {fault.text}", titles.get(one.stage, one.stage), one.probability,
                    predicted, alike.faults, alike.checks if len(alike.faults) > 1 else (), tuple(causes),
                )
            )  # fmt: skip
        return tuple(found)

    def dealt_with(self, facts: Facts, causes: Causes) -> tuple[str, ...]:
        """The stages that were off and have had a cause repaired since that may well account for it."""
        latest = {said.finding: said for said in self.said}
        dealt = []
        for finding, said in latest.items():
            link, _ = self.volts.links[finding, said.entry]
            since = [one.cause for one in facts.repairs if one.entry > said.entry and one.cause in causes.column]
            if any(link[causes.column[cause]] >= ACCOUNTS for cause in since):
                dealt.append(finding)
        return tuple(dealt)

    def moved_at(self, check: model.Check) -> frozenset[str]:
        """The causes with a fault that would clearly move what a check reads, when it reads one test point."""
        point = self._single(check)
        return frozenset() if point is None else self.known.movers(point)

    def _single(self, check: model.Check) -> str | None:
        """The test point that a check reads, when it is one and no more."""
        points = [point for reading in check.readings.values() for point in self.known.points(reading)]
        return points.pop() if len(points) == 1 else None

    def would_read(self, check: model.Check, probability: Mapping[str, float]) -> tuple[WouldRead, ...]:
        """What a check of one test point would read with the most probable causes that move it clearly."""
        point = self._single(check)
        if point is None:
            return ()
        movers = self.known.movers(point)
        likely = sorted((id_ for id_ in movers if id_ in probability), key=lambda id_: (-probability[id_], id_))
        mean, sigma = self.known.book.readout(point)
        found: list[WouldRead] = []
        for id_ in likely:
            row = self._lead(id_, point)
            volts = self.known.book.predicted(row, point)
            if abs(mean[row] - mean[0]) > BAND * sigma[0]:
                found.append(WouldRead(id_, self.known.book.faults[int(self.known.book.row_fault[row])].id, volts))
            if len(found) == MOST_NAMED:
                break
        return tuple(found)

    def _lead(self, cause: str, point: str) -> int:
        """The dictionary row that stands for a cause: of its faults the one that fits the volts best; before any are
        read, the middle degree of the most common one that moves the point."""
        book, ours = self.known.book, dict(self.known.shares[cause])
        if self.ranking is not None:
            return next(one.row for one in self.ranking.candidates if self.known.number(one.fault) in ours)
        rows = [row for row, owner in enumerate(book.row_fault.tolist()) if owner in ours]
        mean, sigma = book.readout(point)
        moving = [row for row in rows if abs(mean[row] - mean[0]) > BAND * sigma[0]]
        first = max(ours, key=lambda n: (any(book.row_fault[row] == n for row in moving), ours[n]))
        degrees = [row for row in moving if book.row_fault[row] == first]
        return degrees[len(degrees) // 2]

    def factor(self, cause: str, causes: Causes) -> float:
        """What the volts leave of a cause's odds, what points to it aside."""
        return 1.0 if self.volts.factors is None else float(self.volts.factors[causes.column[cause]])

    def predicted(self, cause: str) -> Mapping[str, float]:
        """What the points read would show with a cause, by the likeliest of its faults; {} for one that is none."""
        ours = {self.known.book.faults[n].id for n, _ in self.known.shares.get(cause, ())}
        unheard = cause in self.known.silent and not any(one in self.known.signals for one in self.readings)
        if self.ranking is None or not ours or unheard:
            return {}
        lead = next((one for one in self.ranking.candidates if one.fault in ours), None)
        return {point: self.known.book.predicted(lead.row, point) for point in self.readings} if lead else {}


def told(volts: float) -> str:
    """Volts in words: tenths, and what is below a volt in its own prefix."""
    return f"{volts:.1f} V" if abs(volts) >= 1.0 or volts == 0.0 else show(float(f"{volts:.3g}"), "V")


def listen(known: KnownCircuit, facts: Facts, causes: Causes) -> Voltages:
    """What the volts in a job's facts say of its causes."""
    epochs = _epochs(known, facts)
    if not epochs:
        return Voltages(known)
    size = len(causes.ids)
    factors = np.ones(size)
    links: dict[tuple[str, int], tuple[Array, float]] = {}
    said: list[Said] = []
    for epoch in epochs:
        ranking = known.rank(epoch.readings)
        evidence = weigh(ranking)
        faults = known.book.faults
        stages = {off.stage: (off, np.zeros(size)) for off in evidence.off}
        for id_, ours in known.shares.items():
            if id_ not in causes.column or id_ in epoch.repaired:
                continue
            column = causes.column[id_]
            left = [(n, share * evidence.factors[faults[n].id]) for n, share in ours]
            total = sum(weight for _, weight in left)
            factors[column] *= total
            for off, link in stages.values():
                link[column] = sum(weight / total * off.explains[faults[n].id] for n, weight in left)
        for stage, (off, link) in stages.items():
            finding = stage_finding(stage)
            how = "the volts read: " + ", ".join(f"{point} {told(volts)}" for point, volts in epoch.readings.items())
            said.append(Said(finding, True, epoch.entry, how, epoch.repaired, epoch.check))
            links[finding, epoch.entry] = (np.clip(link, 0.0, 1.0), off.leak)
    points = frozenset(reading.point for _, reading, _ in _taken_in(known, facts) if reading.point)
    heard = any(one in known.signals for epoch in epochs for one in epoch.readings)
    aside = frozenset(known.shares) - (frozenset() if heard else known.silent)
    return Voltages(known, epochs, tuple(said), Volts(factors, links, points, aside))


def _taken_in(known: KnownCircuit, facts: Facts) -> Iterator[tuple[VoltsRead, model.ReadingAsked, str]]:
    """The DC readings that are meant for one single test point of the circuit, which is told last."""
    for one in facts.volts:
        reading = known.base.checks[one.check].readings[one.reading]
        match known.points(reading):
            case (point,):
                yield one, reading, point


def _epochs(known: KnownCircuit, facts: Facts) -> tuple[Epoch, ...]:
    found: dict[frozenset[str], Epoch] = {}
    for one, _, point in _taken_in(known, facts):
        repaired = one.repaired.intersection(known.shares)
        before = found.get(repaired)
        readings = {**(before.readings if before else {}), point: one.volts}
        found[repaired] = Epoch(readings, one.entry, one.check, repaired)
    return tuple(sorted(found.values(), key=lambda epoch: epoch.entry))
