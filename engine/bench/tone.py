"""Tone stacks, tone controls and treble-bleed volume controls: level at a note, with the response.

Passive networks are solved node by node; a setting is the wiper's share of the track, after its taper.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..late import late
from .figure import Curve, Figure, figure, positive
from .notation import show

with late():
    import numpy as np

LOWEST_HZ, DECADES, POINTS = 20.0, 3.0, 73
Part = tuple[str, int, int, float]  # kind R or C, two nodes (0 is chassis), ohm or farad
SILENCE = 1e-15  # of the source: -300 dB
LEAST_OHM = 1e-3  # a wiper at its stop: next to nothing, so that every node keeps a path


def transfer(parts: Sequence[Part], output: int, frequency_Hz: float, source_ohm: float) -> float:
    """Level in dB at a node for a source of that resistance into node 1, by nodal analysis."""
    size = max(max(a, b) for _, a, b, _ in parts)
    matrix = np.zeros((size, size), dtype=complex)
    for kind, a, b, value in (*parts, ("R", 0, 1, source_ohm)):
        admittance = 1 / max(value, LEAST_OHM) if kind == "R" else 2j * math.pi * frequency_Hz * value
        for node in (a, b):
            if node:
                matrix[node - 1, node - 1] += admittance
        if a and b:
            matrix[a - 1, b - 1] -= admittance
            matrix[b - 1, a - 1] -= admittance
    drive = np.zeros(size, dtype=complex)
    drive[0] = 1 / max(source_ohm, LEAST_OHM)
    level = abs(np.linalg.solve(matrix, drive)[output - 1])
    return 20 * math.log10(max(level, SILENCE))


def _worked(
    name: str,
    parts: Sequence[Part],
    output: int,
    note_Hz: float,
    source_ohm: float,
    steps: Sequence[str],
    rests_on: str,
) -> Figure:
    positive(note_Hz=note_Hz)
    value = transfer(parts, output, note_Hz, source_ohm)
    axis = tuple(LOWEST_HZ * 10 ** (index * DECADES / (POINTS - 1)) for index in range(POINTS))
    levels = tuple(transfer(parts, output, frequency, source_ohm) for frequency in axis)
    deepest = min(zip(levels, axis, strict=True))
    return Figure(
        name=f"level at {show(note_Hz, 'Hz')}",
        value=value,
        unit="dB",
        steps=(
            *steps,
            f"at {show(note_Hz, 'Hz')} the network passes {value:.3g} dB",
            f"lowest from 20 Hz to 20 kHz: {deepest[0]:.3g} dB at {show(deepest[1], 'Hz')}",
        ),
        rests_on=rests_on,
        source="textbook-identity",
        curve=Curve(name, "Hz", "dB", (("level", axis, levels),), x_log=True),
    )


def _track(top: int, wiper: int, bottom: int, total_ohm: float, percent: float) -> tuple[Part, Part]:
    if not 0 <= percent <= 100:
        raise ValueError("a setting runs from 0 to 100 percent of the track")
    below = total_ohm * percent / 100
    return ("R", top, wiper, total_ohm - below), ("R", wiper, bottom, below)


@figure
def stack_dB(
    *,
    note_Hz: float,
    treble_percent: float = 50.0,
    bass_percent: float = 50.0,
    mid_percent: float = 50.0,
    slope_ohm: float = 100e3,
    treble_F: float = 250e-12,
    bass_F: float = 100e-9,
    mid_F: float = 47e-9,
    treble_ohm: float = 250e3,
    bass_ohm: float = 250e3,
    mid_ohm: float = 10e3,
    source_ohm: float = 38e3,
    load_ohm: float = 1e6,
) -> Figure:
    """Level of a treble-bass-mid stack at a note; settings are shares of each track."""
    # nodes: 1 drive, 2 treble top, 3 output (treble wiper), 4 slope, 5 treble foot and bass top, 6 mid top, 7 mid wiper
    parts: list[Part] = [
        ("C", 1, 2, treble_F),
        *_track(2, 3, 5, treble_ohm, treble_percent),
        ("R", 1, 4, slope_ohm),
        ("C", 4, 5, bass_F),
        ("R", 5, 6, bass_ohm * bass_percent / 100),
        *_track(6, 7, 0, mid_ohm, mid_percent),
        ("C", 4, 7, mid_F),
        ("R", 3, 0, load_ohm),
    ]
    return _worked(
        "tone stack",
        parts,
        3,
        note_Hz,
        source_ohm,
        (f"treble {treble_percent:g} %, bass {bass_percent:g} %, mid {mid_percent:g} % of their tracks",),
        "Treble capacitor to the treble track, slope resistor, bass and mid capacitors to the foot; output at the "
        "treble wiper. Relative to the unloaded source.",
    )


@figure
def cut_dB(
    *,
    note_Hz: float,
    setting_percent: float,
    capacitor_F: float = 22e-9,
    pot_ohm: float = 250e3,
    source_ohm: float = 50e3,
    load_ohm: float = 1e6,
) -> Figure:
    """Level of a one-knob tone control at a note: pot and capacitor in series to chassis."""
    parts: list[Part] = [
        ("R", 1, 2, pot_ohm * setting_percent / 100),
        ("C", 2, 0, capacitor_F),
        ("R", 1, 0, load_ohm),
    ]
    return _worked(
        "tone control",
        parts,
        1,
        note_Hz,
        source_ohm,
        (f"{show(pot_ohm * setting_percent / 100, 'ohm')} in series with {show(capacitor_F, 'F')} to chassis",),
        "The control hangs on a stage of source_ohm with load_ohm beside it.",
    )


@figure
def treble_bleed_dB(
    *,
    note_Hz: float,
    setting_percent: float,
    bleed_F: float,
    volume_ohm: float = 1e6,
    bleed_ohm: float = 0.0,
    source_ohm: float = 50e3,
    load_ohm: float = 1e6,
    load_F: float = 150e-12,
) -> Figure:
    """Level of a volume control at a note, a bright capacitor from its top to its wiper.

    bleed_ohm: a resistor beside that capacitor, 0 for none; load_F: input and wiring capacitance after the wiper.
    """
    parts: list[Part] = [
        *_track(1, 2, 0, volume_ohm, setting_percent),
        ("C", 1, 2, bleed_F),
        ("R", 2, 0, load_ohm),
        ("C", 2, 0, load_F),
    ]
    if bleed_ohm:
        parts.append(("R", 1, 2, bleed_ohm))
    return _worked(
        "volume control with a bright capacitor",
        parts,
        2,
        note_Hz,
        source_ohm,
        (f"wiper at {setting_percent:g} % of {show(volume_ohm, 'ohm')}, {show(bleed_F, 'F')} from top to wiper",),
        "Relative to the unloaded source; load_F is the next tube's input and the wiring.",
    )
