"""A capacitor-input supply through one mains cycle: level, ripple and rectifier peaks once it has settled.

The cycle is stepped by the devices room (engine/devices/supply.py); here it is put to the load current wanted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..late import late
from .figure import choice, positive
from .laws import rectifier_law

with late():
    import numpy as np

    from ..devices import supply

WAVES = {"full wave": 2, "half wave": 1}
LOADS = 33  # worked through, with the load wanted between two of them
RESTS_ON = (
    "A winding whose volts are read under load, a resistance a side (winding and series resistor), one first capacitor "
    "and a steady load. What was guessed about the winding throws it off more than the arithmetic does."
)


@dataclass(frozen=True)
class Settled:
    """A supply that has settled: mean volts, ripple peak to peak and RMS, peak current of one rectifier section."""

    level_V: float
    ripple_V: float
    ripple_rms_V: float
    peak_mA: float


def pulses(rectification: str) -> int:
    """Charging pulses in a mains cycle. Raises ValueError for a word that is neither full wave nor half wave."""
    return WAVES[choice("rectification", rectification, tuple(WAVES))]


def settled(
    *,
    winding_rms_V: float,
    load_mA: float,
    reservoir_F: float,
    rectifier: str,
    source_per_plate_ohm: float,
    mains_Hz: float,
    rectification: str,
) -> Settled:
    """The supply at that load. Raises ValueError when the winding can't deliver it, or nothing settles."""
    positive(winding_rms_V=winding_rms_V, load_mA=load_mA, reservoir_F=reservoir_F, mains_Hz=mains_Hz)
    waves, law = pulses(rectification), rectifier_law(rectifier)
    spec = supply.SupplySpec(
        winding_rms_V, source_per_plate_ohm, law.perveance, law.threshold_V, waves, mains_Hz, reservoir_F
    )
    around_ohm = 1000 * winding_rms_V / load_mA
    loads = np.geomspace(0.15, 1.45, LOADS)[None, :] * around_ohm
    found = supply.steady_state([spec], loads)
    good = found.converged[0]
    amperes = found.current_A[0][good]
    order = np.argsort(amperes)
    if len(order) < 2 or not amperes.min() <= load_mA / 1000 <= amperes.max():
        raise ValueError(f"a winding of {winding_rms_V:.4g} V can't give {load_mA:.4g} mA like this; check the values")

    def at(table: object) -> float:
        return float(np.interp(load_mA / 1000, amperes[order], np.asarray(table)[good][order]))

    ripple_rms = np.sqrt((np.abs(found.harmonics_V[:, 0, :]) ** 2).sum(axis=0) / 2)
    return Settled(at(found.level_V[0]), at(found.ripple_pp_V[0]), at(ripple_rms), 1000 * at(found.peak_A[0]))


def words(found: Settled, rectifier: str, winding_rms_V: float, source_per_plate_ohm: float, load_mA: float) -> str:
    """What was worked through, as a step."""
    return (
        f"one cycle of {winding_rms_V:.4g} V RMS a side ({winding_rms_V * math.sqrt(2):.4g} V peak) through "
        f"{rectifier} and {source_per_plate_ohm:.3g} ohm, stepped until it repeats: {found.level_V:.4g} V at "
        f"{load_mA:.4g} mA"
    )
