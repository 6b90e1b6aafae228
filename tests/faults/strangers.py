"""Bench cases of amps that the program did not make (tests/peers/stranger_amps.py), and how the ranking does on them.

A fault counts when it moves some test point of that very amp by more than 10 percent and a tenth of a volt (of two
faults, each with the other one there). Faults whose readings lie within what a meter can tell, at every test point, for
some degree of each, count as one; the dictionary's spread has no say in that.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

import numpy as np
from chopstick.engine.circuit.dictionary import Dictionary, build_dictionary
from chopstick.engine.circuit.expected import Meter
from chopstick.engine.circuit.files import archetypes, load_archetype, load_circuit
from chopstick.engine.circuit.netlist import Circuit
from chopstick.engine.circuit.rank import FaultRanking, rank

from ..peers.stranger_amps import broken, drawn, meter, nominal, shown_by_dc, volts
from ..peers.stranger_tubes import FAMILIES

OWN = Path(__file__).parents[1] / "peers" / "stranger_circuits"
#: Seeds: what a change may be tried on, and what is kept for the end.
TUNING, HELD_OUT = 1, 2
MOVED = 0.10


@dataclass(frozen=True)
class Case:
    """faults: none for a healthy amp. printed: what the makers' schematic would say, at 10 megohms, rounded."""

    circuit: str
    family: str
    faults: tuple[str, ...]
    meter_ohm: float
    readings: dict[str, float]
    printed: dict[str, float]


def circuits() -> tuple[str, ...]:
    """Every shipped circuit, and those written for this only."""
    return (*archetypes(), *(path.stem for path in sorted(OWN.glob("*.yaml"))))


@cache
def circuit(name: str) -> Circuit:
    own = OWN / f"{name}.yaml"
    return load_circuit(own).circuit if own.exists() else load_archetype(name).circuit


@lru_cache(maxsize=3)
def dictionary(name: str, ohm: float, family: str = "") -> Dictionary:
    """family: whose printed volts are given to the program, if any are."""
    told = circuit(name).model_copy(update={"printed": printed(name, family)} if family else {})
    return build_dictionary(told, Meter(ohm))


@cache
def printed(name: str, family: str) -> dict[str, float]:
    found = volts(nominal(circuit(name), family), 10e6) or {}
    return {point: float(f"{value:.3g}") for point, value in found.items()}


def cases(name: str, singles: int, pairs: int, healthy: int, seed: int) -> Iterator[Case]:
    """Bench cases of one circuit; fewer than asked for, since not every fault counts."""
    rng = np.random.default_rng([seed, *name.encode()])
    pool = shown_by_dc(circuit(name))
    for number in range(singles + pairs + healthy):
        count = 0 if number >= singles + pairs else 2 if number >= singles else 1
        family = FAMILIES[number % len(FAMILIES)]
        ohm = 1e6 if rng.random() < 1 / 3 else 10e6
        faults = tuple(pool[k] for k in rng.choice(len(pool), count, replace=False))
        found = _case(name, family, faults, ohm, rng)
        if found is not None:
            yield found


def _case(name: str, family: str, faults: Sequence[str], ohm: float, rng: np.random.Generator) -> Case | None:
    sound = drawn(circuit(name), family, rng)
    if len({fault.split(".")[0] for fault in faults}) < len(faults):
        return None
    amps = [sound]
    for fault in faults:
        amp = broken(amps[-1], fault, rng)
        if amp is None:
            return None
        amps.append(amp)
    true = volts(amps[-1], ohm)
    if true is None:
        return None
    if len(faults) == 1 and not _moves(true, volts(sound, ohm)):
        return None
    if len(faults) == 2:
        other = broken(sound, faults[1], rng)
        if other is None or not _moves(true, volts(amps[1], ohm)) or not _moves(true, volts(other, ohm)):
            return None
    used = meter(rng, ohm)
    return Case(
        name, family, tuple(faults), ohm, {p: used.shows(v) for p, v in true.items()}, printed(name, family)
    )  # fmt: skip


def _moves(true: dict[str, float], sound: dict[str, float] | None) -> bool:
    return sound is not None and any(abs(v - sound[p]) > max(MOVED * abs(sound[p]), 0.1) for p, v in true.items())


def same_readings(book: Dictionary, fault: str) -> set[str]:
    """The faults that some degree of gives the same readings as some degree of `fault`, to what a meter can tell."""
    return _same(book, fault, 0.02, 0.1)


def _same(book: Dictionary, fault: str, share: float, least_V: float) -> set[str]:
    ids = [one.id for one in book.faults]
    if fault not in ids:
        return {fault}
    mean = book.expected.mean
    found = {fault}
    for row in np.flatnonzero(book.row_fault == ids.index(fault)).tolist():
        off = np.abs(mean - mean[row]) <= share * np.abs(mean[row]) + least_V
        alike = off.all(axis=1) & (book.row_fault >= 0) & book.expected.converged
        found |= {ids[owner] for owner in book.row_fault[alike].tolist()}
    return found


@dataclass(frozen=True)
class Score:
    """Where each fault of a case stands among classes of faults that read the same (99: not among the first six)."""

    case: Case
    places: tuple[int, ...]
    leaders: tuple[str, ...]
    explained: bool
    accused: bool
    part_first: bool


def score(case: Case, with_printed: bool = False) -> Score:
    book = dictionary(case.circuit, case.meter_ohm, case.family if with_printed else "")
    return scored(book, case, rank(book, case.readings))


def scored(book: Dictionary, case: Case, ranking: FaultRanking) -> Score:
    leaders, places = places_of(book, ranking, case.faults)
    accused = bool(ranking.candidates) and ranking.candidates[0].probability > ranking.healthy
    parts = {fault.split(".")[0] for fault in case.faults}
    part_first = bool(leaders) and leaders[0].split(".")[0] in parts
    return Score(case, places, leaders, ranking.explained, accused, part_first or 0 in places)


def places_of(book: Dictionary, ranking: FaultRanking, faults: Sequence[str]) -> tuple[tuple[str, ...], tuple[int, ...]]:
    same = {fault: same_readings(book, fault) for fault in faults}
    found = dict.fromkeys(faults, 99)
    taken: set[str] = set()
    leaders: list[str] = []
    for candidate in ranking.candidates:
        if candidate.fault in taken or len(leaders) == 6:
            continue
        taken |= same_readings(book, candidate.fault)
        for fault in faults:
            if candidate.fault in same[fault]:
                found[fault] = min(found[fault], len(leaders))
        leaders.append(candidate.fault)
    return tuple(leaders), tuple(found.values())
