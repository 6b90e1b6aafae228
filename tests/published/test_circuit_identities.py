"""Handbook arithmetic for single networks, on circuits small enough to reckon by hand (textbook identities)."""

import numpy as np
import pytest
from chopstick.engine.circuit.netlist import Circuit
from chopstick.engine.circuit.network import compile_circuit
from chopstick.engine.circuit.response import Response, capacitor_effects, capacitor_for_corner
from chopstick.engine.circuit.solve import Solver, port_currents


def stage(coupling_F: float, bypass_F: float) -> Response:
    model = {
        "title": "stage", "summary": "one 12AX7 stage", "input": "in",
        "supplies": {"ht": {"node": "ht", "volts": 250}},
        "parts": {
            "R1": {"kind": "resistor", "ohm": "1M", "nodes": ["in", "chassis"]},
            "R2": {"kind": "resistor", "ohm": "100k", "nodes": ["ht", "plate"]},
            "R3": {"kind": "resistor", "ohm": "1k5", "nodes": ["cathode", "chassis"]},
            "R4": {"kind": "resistor", "ohm": "470k", "nodes": ["out", "chassis"]},
            "C1": {"kind": "capacitor", "farad": bypass_F, "nodes": ["cathode", "chassis"]},
            "C2": {"kind": "capacitor", "farad": coupling_F, "nodes": ["plate", "out"]},
        },
        "tubes": {"V1": {"type": "12AX7", "grid": "in", "plate": "plate", "cathode": "cathode"}},
        "stages": {"one": {"title": "one"}}, "test_points": ["plate"],
    }  # fmt: skip
    return Response(Solver(compile_circuit(Circuit.model_validate(model))).healthy)


def tube(response: Response) -> tuple[float, float]:
    """Amplification factor and plate resistance at the operating point."""
    _, slopes = port_currents(response.solution.batch, response.solution.port_V, np.ones(1))
    values = {(rows.start, columns.start): v[0, 0] for rows, columns, v in slopes if v.shape[1] == 1}
    gm, gp = values[(1, 0)], values[(1, 1)]
    return float(gm / gp), float(1 / gp)


def test_coupling_corner() -> None:
    # f = 1/(2 pi C (Rout + Rg)), Rout = rp || Rp
    response = stage(22e-9, 0.01)
    _, rp = tube(response)
    expected = 1 / (2 * np.pi * 22e-9 * (1 / (1 / rp + 1 / 100e3) + 470e3))
    low, high = response.corners_Hz("in", "out")
    assert low == pytest.approx(expected, rel=0.02)
    assert high is None or high > 20e3
    assert response.level_dB("in", "out", [2 * expected])[0] == pytest.approx(-0.969, abs=0.02)


def test_cathode_bypass() -> None:
    # low A' = mu RL/(rp + RL + (mu+1) Rk), mid A = mu RL/(rp + RL), zero at 1/(2 pi Rk Ck)
    response = stage(0.001, 25e-6)
    mu, rp = tube(response)
    load = 1 / (1 / 100e3 + 1 / 470e3)
    middle, lowest = np.abs(response.gain("in", "out", [1000.0, 0.01]))
    assert middle == pytest.approx(mu * load / (rp + load), rel=0.01)
    assert lowest == pytest.approx(mu * load / (rp + load + (mu + 1) * 1500), rel=0.01)
    pole = (1 / (2 * np.pi * 1500 * 25e-6)) * (1 + (mu + 1) * 1500 / (rp + load))
    effect = next(e for e in capacitor_effects(response, "in", "out", least_dB=0.0) if e.name == "C1")
    assert effect.corner_Hz == pytest.approx(pole, rel=0.02)


def test_the_capacitor_that_puts_the_corner_where_it_is_wanted() -> None:
    # Preferred values of IEC 60063, E12: the nearest to 1/(2 pi 40 Hz (Rout + 470 k)) = 7.8 nF is 8.2 nF.
    assert capacitor_for_corner(stage(22e-9, 0.01), "C2", 40.0) == pytest.approx(8.2e-9)
