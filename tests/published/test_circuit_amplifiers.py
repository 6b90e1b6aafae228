"""Complete small circuits that a tube maker published with gain and response.

Brimar (STC) 12AX7 application report VAD/513.5, March 1950, drawings VAD/313.64 to .66, and 12AU7 report, drawing
VAD/313.60 (all seen). The reports don't state the capacitance of wiring and measuring gear. One figure for every plate
and grid of a drawing accounts for the losses printed at 10 kHz: 80 pF for the six conditions of the cascade, 30 pF for
the inverters. One row misses and is left out: the first paraphase, -2.2 dB at 10 kHz, where the second, at half the
resistances, prints -0.25 dB; no capacitance gives both.

The printed gains of the 250 V circuits are left out as checks of gain: like Brimar's 250 V table they lie 15 percent a
stage under what Brimar's own worked example reckons (see test_circuit_resistance_coupled.py).
"""

import numpy as np
import pytest
from chopstick.engine.circuit.netlist import Circuit
from chopstick.engine.circuit.network import compile_circuit
from chopstick.engine.circuit.response import Response
from chopstick.engine.circuit.solve import Solver

STRAY_F = 80e-12
INVERTER_STRAY_F = 30e-12
STAGES_SHORTFALL = 0.20  # a stage's printed gain against the solved one, at most, for the circuits named above

# Plate load, grid resistor, cathode resistor, printed gain, dB at 10 kHz, dB at 20 kHz
CASCADES = [
    (100e3, 220e3, 1500, 2080, -1.4, -4.2), (100e3, 470e3, 1500, 2420, -1.8, -4.7), (220e3, 470e3, 3300, 2940, -3.8, -8.2),
    (220e3, 1e6, 3300, 3370, -4.1, -8.6), (470e3, 1e6, 6800, 3420, -7.2, -12.0), (470e3, 2.2e6, 6800, 3590, -7.3, -12.6),
]  # fmt: skip


def circuit(ht_V: float, parts: dict, tubes: dict, stray_F: float = INVERTER_STRAY_F) -> Response:
    described = {}
    for name, (value, a, b) in parts.items():
        kind, key = ("resistor", "ohm") if name[0] == "R" else ("capacitor", "farad")
        described[name] = {"kind": kind, key: value, "nodes": [a, b]}
    model = {
        "title": "circuit", "summary": "a published circuit", "input": "in",
        "supplies": {"ht": {"node": "ht", "volts": ht_V}}, "parts": described,
        "tubes": {n: dict(zip(("type", "grid", "plate", "cathode"), t, strict=True)) for n, t in tubes.items()},
        "stages": {"all": {"title": "all"}}, "test_points": ["ht"],
    }  # fmt: skip
    return Response(Solver(compile_circuit(Circuit.model_validate(model))).healthy, stray_F=stray_F)


def cascade(tube: str, ht_V: float, load: float, leak: float, cathode: float) -> Response:
    parts = {
        "R1": (1e6, "in", "chassis"), "R2": (22e3, "ht", "ht1"), "C2": (2e-6, "ht1", "chassis"), "R3": (load, "ht1", "p1"),
        "R4": (cathode, "k1", "chassis"), "C1": (50e-6, "k1", "chassis"), "C3": (0.1e-6, "p1", "g2"),
        "R5": (leak, "g2", "chassis"), "R6": (load, "ht", "p2"), "R7": (cathode, "k2", "chassis"),
        "C4": (50e-6, "k2", "chassis"), "C5": (0.1e-6, "p2", "out"), "R8": (leak, "out", "chassis"),
    }  # fmt: skip
    return circuit(ht_V, parts, {"V1": (tube, "in", "p1", "k1"), "V2": (tube, "g2", "p2", "k2")}, STRAY_F)


def between(response: Response, first: str, second: str, Hz: list[float]) -> np.ndarray:
    return np.abs(response.gain("in", first, Hz) - response.gain("in", second, Hz))


@pytest.mark.parametrize(("load", "leak", "cathode", "printed", "dB_10k", "dB_20k"), CASCADES)
def test_two_12ax7_stages(
    load: float, leak: float, cathode: float, printed: float, dB_10k: float, dB_20k: float
) -> None:
    response = cascade("12AX7", 250, load, leak, cathode)
    level = response.level_dB("in", "out", [10e3, 20e3])
    assert level[0] == pytest.approx(dB_10k, abs=1.0)
    assert level[1] == pytest.approx(dB_20k, abs=1.5)
    a_stage = float(np.sqrt(np.abs(response.gain("in", "out", [1000.0]))[0]))
    assert 1.0 - STAGES_SHORTFALL < np.sqrt(printed) / a_stage < 1.0


@pytest.mark.parametrize(
    ("load", "cathode", "printed", "dB_50", "dB_30k"),
    [(100e3, 2200, 174, -0.35, -0.35), (220e3, 6800, 155, -0.35, -0.85)],
)
def test_two_12au7_stages(load: float, cathode: float, printed: float, dB_50: float, dB_30k: float) -> None:
    response = cascade("12AU7", 300, load, 470e3, cathode)
    assert np.abs(response.gain("in", "out", [1000.0]))[0] == pytest.approx(printed, rel=0.15)
    level = response.level_dB("in", "out", [50.0, 30e3])
    assert level[0] == pytest.approx(dB_50, abs=1.0)
    assert level[1] == pytest.approx(dB_30k, abs=2.0)


def test_split_load_inverter() -> None:
    # VAD/313.66: gain 108 grid to grid, -0.2 dB at 50 Hz, -0.4 dB at 10 kHz. Each output of the inverter itself carries
    # mu R/(rp + (mu + 2) R + (mu + 1) Rb), R = 100 k || 220 k and Rb the unbypassed 3300 ohm (identity): 0.926 with the
    # sheet's mu of 100 and rp of 80 k.
    parts = {
        "R1": (1e6, "in", "chassis"), "R3": (220e3, "ht", "p1"), "R4": (3300, "k1", "chassis"), "C1": (50e-6, "k1", "chassis"),
        "C3": (0.1e-6, "p1", "g2"), "R5": (470e3, "g2", "tail"), "R6": (3300, "k2", "tail"), "R7": (100e3, "tail", "chassis"),
        "R8": (100e3, "ht", "p2"), "C4": (0.1e-6, "p2", "o1"), "R9": (220e3, "o1", "chassis"), "C5": (0.1e-6, "tail", "o2"),
        "R10": (220e3, "o2", "chassis"),
    }  # fmt: skip
    response = circuit(250, parts, {"V1": ("12AX7", "in", "p1", "k1"), "V2": ("12AX7", "g2", "p2", "k2")})
    low, middle, high = between(response, "o1", "o2", [50.0, 1000.0, 10e3])
    assert 20 * np.log10(low / middle) == pytest.approx(-0.2, abs=1.0)
    assert 20 * np.log10(high / middle) == pytest.approx(-0.4, abs=1.0)
    assert 1.0 - STAGES_SHORTFALL < 108 / middle < 1.0
    quiet = Response(response.solution)
    one, two = np.abs(quiet.gain("g2", "o1", [1000.0]))[0], np.abs(quiet.gain("g2", "o2", [1000.0]))[0]
    assert one == pytest.approx(100 * 68.75 / (80 + 102 * 68.75 + 101 * 3.3), rel=0.03)
    assert one == pytest.approx(two, rel=0.03)


@pytest.mark.parametrize(
    ("load", "shared", "leak", "upper", "lower", "dB_50", "dB_10k"),
    [(220e3, 1500, 470e3, 470e3, 7500, 0.1, None), (100e3, 680, 220e3, 220e3, 4300, 0.0, -0.25)],
)
def test_paraphase_inverter(
    load: float, shared: float, leak: float, upper: float, lower: float, dB_50: float, dB_10k: float | None
) -> None:
    # VAD/313.65. A paraphase balances when its divider takes one part in the stage's gain; the divider printed
    # (7.5 k under 470 k; 4.3 k under 220 k) is thus Brimar's own figure for the gain of a stage: 63.7 and 52.2.
    parts = {
        "R1": (1e6, "in", "chassis"), "R3": (load, "ht", "p1"), "R4": (load, "ht", "p2"), "R5": (shared, "k", "chassis"),
        "C3": (0.1e-6, "p1", "o1"), "R6": (upper, "o1", "tap"), "R7": (lower, "tap", "chassis"), "C4": (0.1e-6, "p2", "o2"),
        "R8": (leak, "o2", "chassis"), "C6": (50e-6, "k", "chassis"),
    }  # fmt: skip
    response = circuit(250, parts, {"V1": ("12AX7", "in", "p1", "k"), "V2": ("12AX7", "tap", "p2", "k")})
    first = np.abs(response.gain("in", "o1", [1000.0]))[0]
    assert first == pytest.approx((upper + lower) / lower, rel=0.15)
    second = np.abs(response.gain("in", "o2", [1000.0]))[0]
    assert second == pytest.approx(first, rel=0.1)
    low, middle, high = between(response, "o1", "o2", [50.0, 1000.0, 10e3])
    assert 20 * np.log10(low / middle) == pytest.approx(dB_50, abs=1.0)
    if dB_10k is not None:
        assert 20 * np.log10(high / middle) == pytest.approx(dB_10k, abs=1.0)
