"""Faults that give the same readings, and the check that would tell them apart."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from .dictionary import Dictionary
from .faults import Fault

#: Two faults whose readings differ by less than this many standard deviations, over every test point, count as one
#: class: even the best use of all readings would confuse them almost one time in three.
SEPARABLE = 1.0


@dataclass(frozen=True)
class FaultClass:
    """Faults that no reading can tell apart, the one asked about first, and the checks that can."""

    faults: tuple[str, ...]
    checks: tuple[str, ...]


def fault_class(dictionary: Dictionary, row: int, read: Collection[str] = ()) -> FaultClass:
    """The class of one dictionary row, with a check for each of its faults. read: what was read, of which signals,
    ripple and ohms tell faults apart that volts do not."""
    names = alike(dictionary, row, read)
    owner = int(dictionary.row_fault[row])
    first = dictionary.faults[owner].id if owner >= 0 else ""
    ordered = tuple(dict.fromkeys([name for name in (first, *names) if name]))
    checks = (check(dictionary, dictionary.fault(name)) for name in ordered)
    return FaultClass(ordered, tuple(dict.fromkeys(text for text in checks if text)))


def alike(dictionary: Dictionary, row: int, read: Collection[str] = ()) -> tuple[str, ...]:
    """The faults that no reading at any test point can tell from the one of dictionary row `row`, nor any of `read`,
    nearest first."""
    far = distances(dictionary, row, read)
    return tuple(sorted((name for name in far if far[name] < SEPARABLE), key=lambda name: far[name]))


def distances(dictionary: Dictionary, row: int, read: Collection[str] = ()) -> dict[str, float]:
    """How far each fault at its nearest degree is from one dictionary row, in standard deviations, all points read, and
    what else was read.

    Between two neighboring degrees of a fault its readings are taken to lie on the straight line between theirs.
    """
    expected = dictionary.expected
    noise = dictionary.meter.variance(expected.mean[row])
    shift = expected.mean - expected.mean[row]
    weighed = shift @ np.linalg.inv(expected.covariance[row] + np.diag(noise))
    other = dictionary.logged({name: dictionary.predicted(row, name) for name in read if not dictionary.direct(name)})
    if other is not None:
        more = other.mean - other.mean[row]
        shift, weighed = np.hstack([shift, more]), np.hstack([weighed, more @ other.precision])
    square = np.einsum("ri,ri->r", weighed, shift)
    cross = np.einsum("ri,ri->r", weighed[:-1], shift[1:])
    # Nearest point of the segment between rows k and k+1: |s0 + t (s1 - s0)|^2 at its least over 0 <= t <= 1.
    length = np.maximum(square[:-1] + square[1:] - 2.0 * cross, 1e-12)
    t = np.clip((square[:-1] - cross) / length, 0.0, 1.0)
    between = square[:-1] + t * (t * length - 2.0 * (square[:-1] - cross))
    same = (dictionary.row_fault[:-1] == dictionary.row_fault[1:]) & expected.converged[:-1] & expected.converged[1:]
    found: dict[str, float] = {}
    for k, owner in enumerate(dictionary.row_fault):
        if owner < 0 or not expected.converged[k]:
            continue
        name = dictionary.faults[owner].id
        least = min(float(square[k]), float(between[k]) if k < len(between) and same[k] else np.inf)
        found[name] = min(found.get(name, np.inf), float(np.sqrt(max(least, 0.0))))
    return found


def check(dictionary: Dictionary, fault: Fault) -> str:
    """The check, other than a voltage, that settles one fault (common practice, no source)."""
    part = fault.part
    kind = "tube" if part in dictionary.network.circuit.tubes else ""
    spec = dictionary.network.circuit.parts.get(part)
    if kind == "tube":
        return f"{part}: swap in a tube known to be good and read again"
    if part in dictionary.network.circuit.supplies:
        return f"{part}: check the rectifier and its winding; swap in a rectifier known to be good"
    if part == "mains":
        return "mains: measure the line voltage at the outlet"
    if part == "output_transformer":
        return "output transformer: unplugged and discharged, measure each half's resistance and the turns ratio"
    if spec is None:
        return ""
    if spec.kind in ("capacitor", "electrolytic"):
        if fault.kind in ("open", "dried"):
            return f"{part}: bridge it with a good one of the same rating, or measure its capacitance out of circuit"
        return f"{part}: unplugged and discharged, lift one end; measure its leakage or read the volts again without it"
    return f"{part}: unplugged and discharged, measure its resistance (lift one end if anything is across it)"
