"""A rectifier supply whose first capacitor has dried out or come off, with the next filter capacitor behind it.

Without its reservoir a supply does not fall to the mean of a rectified wave: the next capacitor, fed through a dropper
or choke, stands at its level all through the cycle and feeds back when the wave is low. Over a cycle the load is then
a steady current, and what the next capacitor takes or gives through the dropper's impedance at the ripple's frequency.
Stepped by the implicit Euler rule until the cycles repeat, for a range of loads at once.
"""

from __future__ import annotations

import numpy as np

from .tubes import Array

STEPS = 96
CYCLES = 14
LOADS = 26
STRAY_F = 2e-9


def cycle(
    open_circuit_V: float,
    source_ohm: float,
    perveance: float,
    threshold_V: float,
    waves: int,
    mains_Hz: float,
    reservoir_F: float,
    next_ohm: float,
    second_section: float = 1.0,
) -> tuple[Array, Array]:
    """Volts at the reservoir's node over a mains cycle, and the rectifier's current (A), each (STEPS, loads), the loads
    rising from nearly nothing to what pulls the level to zero. Arguments as in supply.SupplySpec."""
    peak = open_circuit_V * float(np.sqrt(2.0))
    most = peak / (source_ohm + (peak / perveance**2) ** (1 / 3))  # about what flows into a short
    load = np.concatenate([[0.0], np.geomspace(most * 1e-4, most * 0.7, LOADS - 1)])
    step = 1.0 / mains_Hz / STEPS
    gain = max(reservoir_F, STRAY_F) / step
    back = 1.0 / next_ohm
    v = np.full(LOADS, 0.9 * peak)
    level = v.copy()
    phases = np.sin(2.0 * np.pi * np.arange(1, STEPS + 1) / STEPS)
    volts, amps = np.empty((STEPS, LOADS)), np.empty((STEPS, LOADS))
    for _ in range(CYCLES):
        for n, wave in enumerate(phases):
            drive = peak * (abs(wave) if waves == 2 else wave) - threshold_V
            second = second_section if n >= STEPS // 2 else 1.0
            new = v
            for _ in range(4):
                current, slope = _rectifier(drive - new, perveance * max(second, 1e-12), source_ohm)
                miss = gain * (new - v) - current + load + back * (new - level)
                new = new - miss / (gain + slope + back)
            v = new
            volts[n], amps[n] = v, current
        level = volts.mean(axis=0)
        # What goes in over a cycle must come out: the level is moved by what is left over.
        level = level + (amps.mean(axis=0) - load) * 0.5 / back * np.minimum(1.0, back * source_ohm * 20)
    return volts, amps


def _rectifier(across: Array, perveance: float, source_ohm: float) -> tuple[Array, Array]:
    """Current through rectifier and windings for the volts across both, and its slope."""
    positive = np.maximum(across, 0.0)
    w = np.minimum(np.sqrt(positive), np.cbrt(positive / (perveance * source_ohm)))
    cubic = perveance * source_ohm
    for _ in range(3):
        w = w - (w * w * (1.0 + cubic * w) - positive) / np.maximum(w * (2.0 + 3.0 * cubic * w), 1e-30)
    w = np.maximum(w, 0.0)
    return perveance * w**3, np.where(across > 0.0, perveance * 1.5 * w / (1.0 + 1.5 * cubic * w), 0.0)
