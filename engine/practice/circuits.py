"""Amps to practise on from circuits: one part of a circuit is bad, and its test points read as they then would.

The volts come from the dictionary of the circuit's faults (engine/circuit), with the spread of good parts and the
error of the meter, drawn by the seed; what is no volt of a test point is answered as amps.py does.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from ..knowledge import model
from ..reasoning.script import AnswerFile, Told
from ..reasoning.session import Session
from ..reasoning.voltages import KnownCircuit
from .amps import AMONG, Amp, files, read

MOST_COMPLAINTS = 3
CLEAR = 3.0  # standard deviations by which a test point must be off


def choose(session: Session, root: Path | None, seed: int) -> Amp:
    """The amp that a seed stands for: one that came with the program as a sample job, or one of a circuit. Raises
    LookupError when there is none."""
    paths = files(root)
    there: list[Path | str] = [*paths, *session.circuits.names()]
    if not there:
        raise LookupError("there is no amp to practise on: no sample job in practice/, no circuit in amps/")
    chosen = random.Random(seed).choice(there)
    return read(chosen, session) if isinstance(chosen, Path) else amp(chosen, session, seed)


def amp(name: str, session: Session, seed: int) -> Amp:
    """An amp of that circuit with one fault that its volts show. Raises LookupError when it has none."""
    known = session.known(name)
    if not isinstance(known, KnownCircuit):
        raise LookupError(known)
    by_chance = random.Random(f"{name} {seed}")
    cause, row = by_chance.choice(list(_bad(known)))
    symptoms = _complaints(known, cause)
    bad, sound = (_volts(known, one, np.random.default_rng(seed + one)) for one in (row, 0))
    file = AnswerFile(
        job=f"{known.circuit.title}: {known.base.causes[cause].name}",
        amp={fact: value for fact, value in known.circuit.fits.items() if fact in known.base.amp_facts},
        complaints=tuple(Told(says=by_chance.choice(known.base.symptoms[one].says), symptom=one) for one in symptoms),
        checks=bad,
        repairs=dict.fromkeys(known.base.causes[cause].repairs, sound),
        truth=(cause,),
    )
    return Amp(known.base, file, circuit=name)


def _bad(known: KnownCircuit) -> Iterator[tuple[str, int]]:
    """The causes to choose from, each with the rows of the dictionary that stand for it: what a player notices, and a
    meter shows."""
    book = known.book
    sound, sigma = (np.array([known.chart[point][one] for point in book.points]) for one in (0, 1))
    off = (np.abs(book.expected.mean - sound) > CLEAR * sigma).any(axis=1) & book.expected.converged
    for cause, faults in known.shares.items():
        if cause in known.silent or not _complaints(known, cause):
            continue
        ours = {number for number, _ in faults}
        for row, owner in enumerate(book.row_fault.tolist()):
            if owner in ours and off[row]:
                yield cause, row


def _complaints(known: KnownCircuit, cause: str) -> tuple[str, ...]:
    """What a player would notice of a cause, most often first."""
    base = known.base
    often = {one: base.how_often(word) for one, word in base.causes[cause].shows.items() if one in base.symptoms}
    noticed = sorted((one for one, chance in often.items() if chance >= AMONG), key=lambda one: -often[one])
    return tuple(noticed[:MOST_COMPLAINTS])


def _volts(known: KnownCircuit, row: int, draw: np.random.Generator) -> dict[str, dict[str, float]]:
    """What every check of test points reads, by check and reading."""
    book = known.book
    mean = book.expected.mean[row]
    spread = book.expected.covariance[row] + np.diag(book.meter.variance(mean))
    volts = dict(zip(book.points, draw.multivariate_normal(mean, spread), strict=True))
    found: dict[str, dict[str, float]] = {}
    for check in known.base.checks.values():
        points = {name: known.points(reading) for name, reading in check.readings.items()}
        if points and all(len(one) == 1 and one[0] in volts for one in points.values()):
            found[check.id] = {
                name: _entered(float(volts[one[0]]), check.readings[name]) for name, one in points.items()
            }
    return found


def _entered(volts: float, reading: model.ReadingAsked) -> float:
    """Volts as a check asks for them: four figures, in its unit, with its sign."""
    scale = 1000.0 if reading.unit == "mV" else 1.0
    return float(f"{(-volts if reading.dc == 'minus' else volts) * scale:.4g}")
