"""Bench cases of faults that only AC shows, on amps that the program did not make, and how the ranking does on them.

A fault counts when it moves a reading of that very amp by more than a sixth, and no DC volt by more than a tenth. Faults
that read the same at every test point, by DC and by what was read of AC, count as one. A power tube's bias has been set as its
owner would: an amp whose idle current makes less than half or more than twice the ripple that it should is drawn again.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from chopstick.engine.circuit.dictionary import Dictionary
from chopstick.engine.circuit.quantities import Quantity, SWEEP_Hz, offered
from chopstick.engine.circuit.rank import rank

from ..peers.stranger_amps import Amp, Rng, drawn, meter, nominal, volts
from ..peers.stranger_signals import Wanted, broken_for_ac, moved, shown_by_ac, shows, signals
from ..peers.stranger_tubes import FAMILIES
from .strangers import _moves, circuit, dictionary

OHM = 10e6


@dataclass(frozen=True)
class AcCase:
    """fault: none for a healthy amp. volts: DC at every test point; signals: AC by the names of quantities.py."""

    circuit: str
    family: str
    fault: str
    volts: dict[str, float]
    signals: dict[str, float]
    shown_at: frozenset[str]


def asked(name: str, swept: bool) -> dict[str, Quantity]:
    """What is read of AC on a circuit: levels at 1 kHz, ripple and hum; swept: levels at three frequencies."""
    one = circuit(name)
    names = offered(one, SWEEP_Hz if swept else (1000.0,))
    return {each: dictionary(name, OHM).quantity(each) for each in names}


def ac_cases(name: str, faulty: int, healthy: int, seed: int) -> Iterator[AcCase]:
    """Fewer than asked for, since not every fault counts."""
    rng = np.random.default_rng([seed, 7, *name.encode()])
    pool = shown_by_ac(circuit(name))
    for number in range(faulty + healthy):
        family = FAMILIES[number % len(FAMILIES)]
        sound = _set(name, family, rng)
        fault = pool[int(rng.integers(len(pool)))] if number < faulty else ""
        amp = broken_for_ac(sound, fault, rng) if fault else sound
        found = _case(name, fault, sound, amp, rng)
        if found is not None:
            yield found


def _set(name: str, family: str, rng: Rng) -> Amp:
    for _ in range(30):
        amp = drawn(circuit(name), family, rng)
        idle = {one: _idle(each) for one, each in (("own", amp), ("meant", nominal(circuit(name), family)))}
        if 0.5 < idle["own"] / idle["meant"] < 2.0:
            return amp
    raise AssertionError(f"{name}: no amp came out with its bias near what it should be")


def _idle(amp: Amp) -> float:
    """Ripple of its first supply, which goes with the current drawn."""
    first = next(iter(amp.windings.values()), None)
    if first is None:
        return 1.0
    found = signals(amp, Wanted(str(amp.circuit.input), (), (first.node,)))
    return found[1][first.node] if found else 1.0


def _case(name: str, fault: str, sound: Amp, amp: Amp, rng: Rng) -> AcCase | None:
    direct, before = volts(amp, OHM), volts(sound, OHM)
    read = _read(name, amp)
    if direct is None or before is None or read is None:
        return None
    shown_at = frozenset[str]()
    if fault:
        well = _read(name, sound)
        if well is None or _moves(direct, before):
            return None
        shown_at = frozenset(one for one in read if moved({one: read[one]}, {one: well[one]}))
        if not shown_at:
            return None
    used = meter(rng, OHM)
    return AcCase(
        name, amp.family, fault, {p: used.shows(v) for p, v in direct.items()},
        {one: shows(v, rng) for one, v in read.items()}, shown_at,
    )  # fmt: skip


def _read(name: str, amp: Amp) -> dict[str, float] | None:
    wanted, drive = asked(name, swept=True), dictionary(name, OHM).bench.drive_V
    source = circuit(name).input
    assert source is not None
    levels = tuple((one.a, one.Hz) for one in wanted.values() if one.kind == "level")
    hums = tuple(one.a for one in wanted.values() if one.kind == "hum")
    found = signals(amp, Wanted(source, levels, hums))
    if found is None:
        return None
    gains, hum = found
    return {
        each: gains[one.a, one.Hz] * drive(source) if one.kind == "level" else hum[one.a]
        for each, one in wanted.items()
    }


@dataclass(frozen=True)
class AcScore:
    case: AcCase
    place: int
    leaders: tuple[str, ...]
    accused: bool


def ac_score(case: AcCase, swept: bool) -> AcScore | None:
    """None when the fault shows in nothing that is read."""
    book = dictionary(case.circuit, OHM)
    names = asked(case.circuit, swept)
    if case.fault and not case.shown_at & set(names):
        return None
    ranking = rank(book, case.volts | {one: case.signals[one] for one in names})
    accused = bool(ranking.candidates) and ranking.candidates[0].probability > ranking.healthy
    same = _alike(book, case.fault, names) if case.fault else set[str]()
    leaders: list[str] = []
    taken: set[str] = set()
    place = 99
    for candidate in ranking.candidates:
        if candidate.fault in taken or len(leaders) == 6:
            continue
        taken |= _alike(book, candidate.fault, names)
        if candidate.fault in same:
            place = min(place, len(leaders))
        leaders.append(candidate.fault)
    if case.fault and not accused:
        place = max(place, 1)  # 'nothing wrong' stands first
    return AcScore(case, place, tuple(leaders), accused)


def _alike(book: Dictionary, fault: str, names: dict[str, Quantity]) -> set[str]:
    mean = book.expected.mean
    signal = np.stack([book.bench.column(one).mean for one in names.values()], axis=1)
    found = {fault}
    for row in np.flatnonzero(book.row_fault == [one.id for one in book.faults].index(fault)).tolist():
        near = (np.abs(mean - mean[row]) <= 0.02 * np.abs(mean[row]) + 0.1).all(axis=1)
        # At the floor, where wiring carries more of a signal than what is read, nothing is told apart.
        floor = np.maximum(signal, signal[row]) < 2.0
        near &= (
            ((np.abs(signal - signal[row]) <= 0.06) | floor).all(axis=1)
            & (book.row_fault >= 0)
            & book.expected.converged
        )
        found |= {book.faults[owner].id for owner in book.row_fault[near].tolist()}
    return found
