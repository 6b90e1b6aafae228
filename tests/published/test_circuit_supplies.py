"""Rectifier regulation against printed operation tables, and supplies against textbook identities."""

from dataclasses import replace

import numpy as np
import pytest
from chopstick.engine.devices.library import standard_library
from chopstick.engine.devices.supply import SupplySpec

from tests.circuit.at_a_load import printed_level


def spec(rectifier: str, rms_V: float, source_ohm: float, reservoir_F: float, **more: float) -> SupplySpec:
    law = standard_library().rectifier(rectifier)
    return SupplySpec(rms_V, source_ohm, law.perveance, law.threshold_V, 2, 50.0, reservoir_F, **more)


# A current maker's GZ34S sheet (seen), 60 uF. The perveance comes from another source (17 V at 225 mA, a GE 5AR4 sheet,
# from memory), so these rows are a check of the whole chain.
@pytest.mark.parametrize(
    ("rms_V", "source_ohm", "load_mA", "printed_V"),
    [(300, 75, 250, 330), (400, 125, 250, 430), (500, 175, 200, 560), (550, 200, 160, 640)],
)
def test_5ar4_with_capacitor_input(rms_V: float, source_ohm: float, load_mA: float, printed_V: float) -> None:
    level, _, _ = printed_level(spec("5AR4", rms_V, source_ohm, 60e-6), load_mA / 1e3)
    assert level == pytest.approx(printed_V, rel=0.05)


# The same sheet, choke input, 10 H; winding and choke resistance are not printed and taken as slight.
@pytest.mark.parametrize(
    ("rms_V", "load_mA", "printed_V"), [(300, 250, 250), (400, 250, 330), (500, 250, 420), (550, 225, 465)]
)
def test_5ar4_with_choke_input(rms_V: float, load_mA: float, printed_V: float) -> None:
    supply = spec("5AR4", rms_V, 20, 60e-6, choke_H=10.0, choke_ohm=30.0)
    level, _, _ = printed_level(supply, load_mA / 1e3)
    assert level == pytest.approx(printed_V, rel=0.05)


# Mazda (Thorn-AEI) EZ80 sheet, issue 1, August 1963 (seen), 50 uF, 90 mA; the perveance is read off its printed curve.
@pytest.mark.parametrize(
    ("rms_V", "source_ohm", "printed_V"), [(250, 125, 265), (275, 175, 285), (300, 215, 310), (350, 300, 360)]
)
def test_ez80_with_capacitor_input(rms_V: float, source_ohm: float, printed_V: float) -> None:
    level, _, peak_A = printed_level(spec("EZ80", rms_V, source_ohm, 50e-6), 0.090)
    assert level == pytest.approx(printed_V, rel=0.03)
    assert 1e3 * peak_A == pytest.approx(270, rel=0.15)  # the sheet's limit; its rows run right up to it


def test_ripple_of_a_capacitor_input_filter() -> None:
    # Textbook identity: peak to peak about I/(2 f C), 20.8 V at 100 mA, 40 uF, 60 Hz; the conduction time, which the
    # identity leaves out, takes up to a third off it.
    _, ripple_V, _ = printed_level(replace(spec("silicon", 300, 30, 40e-6), mains_Hz=60.0), 0.100)
    assert 0.65 * 20.83 < ripple_V < 20.83


def test_choke_input_gives_the_mean_of_the_wave() -> None:
    # Textbook identity: with enough current the output is the mean of the rectified sine, 0.9 of its RMS.
    supply = replace(spec("silicon", 300, 1, 50e-6, choke_H=20.0, choke_ohm=1.0), threshold_V=0.0)
    level, _, _ = printed_level(supply, 0.2)
    assert level == pytest.approx(300 * 2 * np.sqrt(2) / np.pi, rel=0.01)


def test_no_load_sits_at_the_peak() -> None:
    level, ripple_V, _ = printed_level(spec("5Y3GT", 300, 100, 20e-6), 1e-7)
    assert level == pytest.approx(300 * np.sqrt(2), rel=0.01)
    assert ripple_V < 0.5
