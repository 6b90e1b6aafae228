"""Facts of the trade as check values: common practice, no source."""

from __future__ import annotations

import pytest
from chopstick.engine.bench import limits, pot, speaker, stage


@pytest.mark.parametrize(("designed_V", "mains_V"), [(117, 125), (110, 120), (220, 240)])
def test_an_older_amp_on_todays_mains_runs_high_everywhere(designed_V: float, mains_V: float) -> None:
    high = limits.mains_percent(mains_V=mains_V, designed_V=designed_V)
    assert high.verdict == "high"
    heater = limits.heater_voltage_percent(heater_V=6.3 * mains_V / designed_V)
    assert heater.value == pytest.approx(high.value)
    assert limits.mains_corrected_V(
        reading_V=300 * mains_V / designed_V, mains_V=mains_V, designed_V=designed_V
    ).value == pytest.approx(300)  # fmt: skip


def test_117_to_125_V_is_7_per_cent() -> None:
    # common practice: a 117 V set on 125 V raises every voltage by 7 percent
    assert limits.mains_percent(mains_V=125, designed_V=117).value == pytest.approx(107, abs=0.5)


def test_an_audio_taper_tone_pot_bunches_the_highs_at_one_end_and_a_linear_one_spreads_them() -> None:
    audio = pot.spread_percent(taper="audio 10", control="tone divider")
    linear = pot.spread_percent(taper="linear", control="tone divider")
    assert audio.verdict == "bunched"
    assert linear.verdict == "spread"
    assert pot.best_spread_percent(control="tone divider").verdict == "linear"


def test_a_tone_capacitor_to_chassis_is_spread_by_a_taper_that_rises_slowly() -> None:
    # its work is done in the first few tens of kilohms, which a linear track passes in a fifth of its travel
    linear = pot.spread_percent(taper="linear", control="tone shunt")
    assert linear.value < pot.spread_percent(taper="audio 15", control="tone shunt").value
    # by hand: 22 nF at 2 kHz is 3.62 k; from 50 k the level runs from -22.8 to -1.6 dB
    assert linear.value == pytest.approx(36, abs=1)


def test_a_volume_control_wants_an_audio_taper() -> None:
    assert pot.best_spread_percent(control="volume").verdict.startswith("audio")


@pytest.mark.parametrize(("dc_ohm", "nominal"), [(3.2, 4), (6.4, 8), (6.0, 8), (12.8, 16), (13.5, 16)])
def test_dc_resistance_of_a_speaker_is_75_to_85_per_cent_of_nominal(dc_ohm: float, nominal: float) -> None:
    assert speaker.nominal_ohm(dc_ohm=dc_ohm).value == nominal


@pytest.mark.parametrize(("supply_V", "cathode_ohm"), [(250, 1500), (300, 1500), (300, 1800)])
def test_a_100_k_12ax7_stage_stands_at_55_to_75_per_cent_of_its_node(supply_V: float, cathode_ohm: float) -> None:
    plate = stage.expected_plate_V(supply_V=supply_V, plate_load_ohm=100e3, cathode_resistor_ohm=cathode_ohm)
    assert 55 <= 100 * plate.value / supply_V <= 75
