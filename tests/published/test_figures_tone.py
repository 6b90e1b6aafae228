"""Tone networks where they come down to dividers that are worked by hand: textbook identities.

Far above the corners a capacitor is a short, far below it is not there. In between they stand against ngspice.
"""

from __future__ import annotations

import math

import pytest
from chopstick.engine.bench import coupling, tone

LOW_HZ, HIGH_HZ = 1e-3, 10e6


def dB(share: float) -> float:
    return 20 * math.log10(share)


def beside(*ohms: float) -> float:
    return 1 / sum(1 / ohm for ohm in ohms)


def test_tone_stack_above_its_corners() -> None:
    # all three capacitors shorts, the mid control at nothing: what hangs below the wiper stands on chassis
    given = {"note_Hz": HIGH_HZ, "mid_percent": 0.0}
    on_top = beside(100e3, 250e3, 1e6)
    assert tone.stack_dB(treble_percent=100, **given).value == pytest.approx(dB(on_top / (38e3 + on_top)), abs=1e-3)
    foot = beside(125e3, 1e6)
    seen = beside(100e3, 125e3 + foot)
    half = dB(seen / (38e3 + seen) * foot / (125e3 + foot))
    assert tone.stack_dB(treble_percent=50, **given).value == pytest.approx(half, abs=1e-3)
    # mid control of 10 k full up, treble down: slope resistor over it
    below = beside(10e3, 1e6)
    mid = dB(below / (below + beside(100e3, 250e3) + 38e3))
    assert tone.stack_dB(note_Hz=HIGH_HZ, mid_percent=100, treble_percent=0).value == pytest.approx(mid, abs=1e-3)


@pytest.mark.parametrize("bass_percent", [0.0, 10.0, 100.0])
def test_tone_stack_with_its_bass_capacitor_alone(bass_percent: float) -> None:
    # a short there, the two others lifted, treble down: bass and the whole of the mid control below slope and source
    below = beside(250e3 * bass_percent / 100 + 10e3, 1e6)
    for mid_percent in (0.0, 30.0, 100.0):
        worked = tone.stack_dB(
            note_Hz=HIGH_HZ, treble_percent=0, bass_percent=bass_percent, mid_percent=mid_percent, treble_F=0, mid_F=0
        )
        assert worked.value == pytest.approx(dB(below / (below + 138e3)), abs=1e-3)


def test_tone_stack_with_its_mid_capacitor_alone() -> None:
    # a short there, the others lifted, bass at nothing: a wiper's part of the mid control below slope and source
    below = 3e3
    level = dB(below / (below + 138e3))
    worked = tone.stack_dB(note_Hz=HIGH_HZ, treble_percent=0, bass_percent=0, mid_percent=30, treble_F=0, bass_F=0)
    assert worked.value == pytest.approx(level + dB(1e6 / (1e6 + 7e3)), abs=0.06)


def test_tone_stack_far_below_passes_nothing_and_more_bass_passes_more() -> None:
    assert tone.stack_dB(note_Hz=LOW_HZ).value < -80
    levels = [tone.stack_dB(note_Hz=60, bass_percent=bass).value for bass in (0, 10, 50, 100)]
    assert levels == sorted(levels)
    assert levels[-1] - levels[0] > 6


def test_one_knob_tone_control_at_both_ends_of_the_band() -> None:
    assert tone.cut_dB(note_Hz=LOW_HZ, setting_percent=50).value == pytest.approx(dB(1 / 1.05), abs=1e-3)
    down = beside(125e3, 1e6)
    assert tone.cut_dB(note_Hz=HIGH_HZ, setting_percent=50).value == pytest.approx(dB(down / (50e3 + down)), abs=1e-3)
    # turned right down the capacitor alone is left: 22 nF and 50 k beside 1 M turn at 151.9 Hz
    corner = 1 / (2 * math.pi * beside(50e3, 1e6) * 22e-9)
    assert tone.cut_dB(note_Hz=corner, setting_percent=0).value == pytest.approx(dB(1 / 1.05) - 3.0103, abs=1e-3)


def test_volume_control_with_its_bright_capacitor() -> None:
    # lows: 20 % of 1 M beside the load; highs: the two capacitors divide, with a stiff source
    below = beside(200e3, 1e6)
    lows = tone.treble_bleed_dB(note_Hz=LOW_HZ, setting_percent=20, bleed_F=120e-12)
    assert lows.value == pytest.approx(dB(below / (below + 800e3 + 50e3)), abs=1e-3)
    highs = tone.treble_bleed_dB(note_Hz=HIGH_HZ, setting_percent=20, bleed_F=120e-12, source_ohm=0)
    assert highs.value == pytest.approx(dB(120 / 270), abs=1e-3)
    beside_it = tone.treble_bleed_dB(note_Hz=LOW_HZ, setting_percent=20, bleed_F=120e-12, source_ohm=0, bleed_ohm=200e3)
    assert beside_it.value == pytest.approx(dB(below / (below + beside(800e3, 200e3))), abs=1e-3)
    open_ = tone.treble_bleed_dB(note_Hz=LOW_HZ, setting_percent=100, bleed_F=120e-12)
    assert open_.value == pytest.approx(dB(beside(1e6, 1e6) / (beside(1e6, 1e6) + 50e3)), abs=1e-3)


def test_a_volume_control_turned_down_is_silent() -> None:
    assert tone.treble_bleed_dB(note_Hz=1000, setting_percent=0, bleed_F=0).value < -140
    nothing_else = {"volume_ohm": 1e12, "source_ohm": 1e12, "load_ohm": 1e12}
    assert tone.treble_bleed_dB(note_Hz=1000, setting_percent=0, bleed_F=0.01, **nothing_else).value == -300


def test_the_response_runs_from_20_Hz_to_20_kHz_and_names_its_deepest_note() -> None:
    worked = tone.stack_dB(note_Hz=1000)
    assert worked.curve is not None
    assert worked.curve.x_log
    ((_, notes, levels),) = worked.curve.lines
    assert (notes[0], notes[-1], len(notes)) == (pytest.approx(20), pytest.approx(20e3), 73)
    assert notes[1] / notes[0] == pytest.approx(notes[-1] / notes[-2])
    for note, level in list(zip(notes, levels, strict=True))[::12]:
        assert tone.stack_dB(note_Hz=note).value == pytest.approx(level)
    deepest = notes[levels.index(min(levels))]
    assert f"{min(levels):.3g} dB at {deepest:.4g} Hz" in worked.steps[-1]


def test_cathode_bypass_is_full_above_and_its_shelf_below() -> None:
    stage = {"cathode_resistor_ohm": 1500.0, "load_ohm": 82e3, "unbypassed_ohm": 100.0}
    shelf = coupling.bypass_shelf_dB(**stage).value
    below = coupling.bypass_level_dB(note_Hz=LOW_HZ, bypass_F=25e-6, **stage)
    assert below.value == pytest.approx(shelf, abs=1e-6)
    assert f"its foot {shelf:.3g} dB" in below.steps[0]
    assert coupling.bypass_level_dB(note_Hz=HIGH_HZ, bypass_F=25e-6, **stage).value == pytest.approx(0, abs=1e-6)
    corner = coupling.bypass_corner_Hz(bypass_F=25e-6, **stage).value
    # at the upper corner 3 dB are missing, less what the lower one still adds
    zero = 1 / (2 * math.pi * 1500 * 25e-6)
    at_corner = coupling.bypass_level_dB(note_Hz=corner, bypass_F=25e-6, **stage)
    assert at_corner.value == pytest.approx(-3.0103 + 10 * math.log10(1 + (zero / corner) ** 2), abs=1e-3)
    assert at_corner.curve is not None
    ((_, notes, levels),) = at_corner.curve.lines
    assert (notes[0], notes[-1], len(notes)) == (pytest.approx(10), pytest.approx(10e3), 61)
    assert levels[30] == pytest.approx(coupling.bypass_level_dB(note_Hz=notes[30], bypass_F=25e-6, **stage).value)
    # an unbypassed resistor stands (mu + 1) times in parallel with plate resistance and load
    assert shelf == pytest.approx(dB((62.5e3 + 82e3 + 101 * 100) / (62.5e3 + 82e3 + 101 * 1600)))


def test_settings_are_said_in_ohm_and_per_cent() -> None:
    cut = tone.cut_dB(note_Hz=1000, setting_percent=10)
    assert cut.steps[0] == "25 kΩ in series with 22 nF to chassis"
    bleed = tone.treble_bleed_dB(note_Hz=1000, setting_percent=10, bleed_F=120e-12)
    assert bleed.steps[0] == "wiper at 10 % of 1 MΩ, 120 pF from top to wiper"
