"""Facts of the trade as check values: common practice, no source.

A 2x6V6GT push-pull amp with a 5V4GA rectifier stood at 453.5 V on the plates; with tubes rated 14 W it idled at
62 and 65 per cent. With a 5Y3GT and 22 k in place of 27 k in the bias supply it came down to 415 V, where tubes
rated 13.2 W idled at 63.4 and 64.8 per cent.
"""

from __future__ import annotations

import pytest
from chopstick.engine.bench import bias, bias_divider, compare, limits, pot, rectifier_swap, speaker, stage


@pytest.mark.parametrize(
    ("plate_V", "rating_W", "percent", "plate_mA"),
    [
        (453.5, 14, 62, 19.14),
        (453.5, 14, 65, 20.07),
        (415, 13.2, 63.4, 20.17),
        (415, 13.2, 64.8, 20.61),
    ],
)
def test_idle_dissipation_of_the_amp(plate_V: float, rating_W: float, percent: float, plate_mA: float) -> None:
    share = bias.plate_dissipation_percent(plate_V=plate_V, cathode_mA=plate_mA, screen_mA=0, rating_W=rating_W)
    assert share.value == pytest.approx(percent, abs=0.05)
    back = bias.idle_current_mA(plate_V=plate_V, wanted_percent=percent, rating_W=rating_W)
    assert back.value == pytest.approx(plate_mA, abs=0.01)
    assert bias.idle_outside_percent(dissipation_percent=share.value).verdict == "within the usual window"


def test_the_ratings_of_the_two_sets_of_tubes_are_on_file() -> None:
    first = bias.plate_dissipation_percent(plate_V=453.5, cathode_mA=19.14, screen_mA=0, tube="6V6GTA")
    second = bias.plate_dissipation_percent(plate_V=415, cathode_mA=20.17, screen_mA=0, tube="6V6GT current production")
    assert first.value == pytest.approx(62, abs=0.05)
    assert second.value == pytest.approx(63.4, abs=0.05)


def test_about_100_V_over_the_plate_rating_and_150_over_the_screen_rating() -> None:
    # the ratings usually published for a 6V6: 350 V plate, 285 to 315 V screen; the screens stand a few volts
    # below the plates
    assert limits.plate_voltage_over_V(plate_V=453.5, tube="6V6GTA").value == pytest.approx(100, abs=5)
    by_sheet = [limits.screen_voltage_over_V(screen_V=450, tube=kind).value for kind in ("6V6GT", "6V6GTA")]
    assert min(by_sheet) < 150 < max(by_sheet)


def test_the_pair_was_matched() -> None:
    assert bias.pair_mismatch_percent(one_mA=19.14, other_mA=20.07).verdict == "matched"


def test_a_5y3gt_in_place_of_a_5v4ga_brings_the_supply_down_by_tens_of_volts() -> None:
    # 453.5 V came down to 415 V; the bias was changed as well, so 38.5 V is not the rectifier's alone
    swap = rectifier_swap.new_supply_V(present_V=453.5, load_mA=70, present="5V4GA", wanted="5Y3GT")
    assert swap.value == pytest.approx(415, abs=8)
    assert rectifier_swap.drop_in_count(
        present="5V4GA", wanted="5Y3GT", load_mA=70, first_capacitor_F=20e-6
    ).verdict == "drops in"  # fmt: skip


def test_the_amp_came_down_by_an_eleventh_or_so_with_the_weaker_rectifier() -> None:
    # 453.5 V to 415 V
    assert compare.drop_percent(before_V=453.5, after_V=415).value == pytest.approx(8.5, abs=0.05)
    assert compare.of_expected_percent(measured_V=415, expected_V=453.5).value == pytest.approx(91.5, abs=0.05)


def test_22_k_in_place_of_27_k_at_the_chassis_end_idles_the_tubes_hotter() -> None:
    change = bias_divider.change_V(source_V=-60, from_ohm=27_000, to_ohm=22_000, other_ohm=30_000)
    assert change.value > 0
    assert change.verdict == "hotter"
    assert bias_divider.change_V(
        source_V=-60, from_ohm=27_000, to_ohm=22_000, other_ohm=30_000, position="series"
    ).verdict == "colder"  # fmt: skip


@pytest.mark.parametrize(("designed_V", "mains_V"), [(117, 125), (110, 120), (220, 240)])
def test_an_older_amp_on_todays_mains_runs_high_everywhere(designed_V: float, mains_V: float) -> None:
    high = limits.mains_percent(mains_V=mains_V, designed_V=designed_V)
    assert high.verdict == "high"
    heater = limits.heater_voltage_percent(heater_V=6.3 * mains_V / designed_V)
    assert heater.value == pytest.approx(high.value)
    assert limits.mains_corrected_V(
        reading_V=415 * mains_V / designed_V, mains_V=mains_V, designed_V=designed_V
    ).value == pytest.approx(415)  # fmt: skip


def test_117_to_125_V_is_7_per_cent() -> None:
    # common practice: a 117 V set on 125 V raises every voltage by 7 per cent
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
