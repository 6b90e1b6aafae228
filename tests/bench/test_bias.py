"""Bias and dissipation as asked for on the bench."""

from __future__ import annotations

import pytest
from chopstick.engine.bench import bias, bias_divider
from hypothesis import given
from hypothesis import strategies as st


def test_the_sum_is_shown_in_steps_a_junior_can_follow() -> None:
    worked = bias.plate_dissipation_percent(plate_V=420, cathode_V=0.04, cathode_mA=40, screen_mA=3, tube="6V6GTA")
    assert worked.steps[0] == "plate to cathode = 420 V - 0.04 V = 420 V"
    assert worked.steps[1] == "plate current = 40 mA - 3 mA screen = 37 mA"
    assert "rating 14 W (6V6GTA, design maximum" in worked.steps[3]
    assert worked.verdict == "over the rating"


def test_a_screen_current_not_measured_is_estimated_and_said_so() -> None:
    worked = bias.plate_dissipation_W(plate_V=420, cathode_mA=40, tube="6V6GT")
    assert worked.value == pytest.approx(420 * 40 / 1.1 / 1000)
    assert any("estimated" in warning for warning in worked.warnings)


def test_readings_that_can_not_be_are_questioned() -> None:
    with pytest.raises(ValueError, match="check both readings"):
        bias.plate_dissipation_W(plate_V=20, cathode_V=25, cathode_mA=40)
    with pytest.raises(ValueError, match="decimal point"):
        bias.plate_dissipation_W(plate_V=4535, cathode_mA=40)
    with pytest.raises(ValueError, match="nearest: 6V6"):
        bias.plate_dissipation_percent(plate_V=420, cathode_mA=40, tube="6V7")
    with pytest.raises(ValueError, match="which tube is fitted"):
        bias.plate_dissipation_percent(plate_V=420, cathode_mA=40)


def test_a_tube_that_draws_nothing_is_a_reading_like_any_other() -> None:
    assert bias.plate_dissipation_percent(plate_V=420, cathode_mA=0, tube="6V6GT").value == 0
    assert bias.plate_dissipation_W(plate_V=420, cathode_mA=0, screen_mA=0).value == 0
    assert bias.pair_mismatch_percent(one_mA=0, other_mA=40).value == 200
    with pytest.raises(ValueError, match="nothing to compare"):
        bias.pair_mismatch_percent(one_mA=0, other_mA=0)
    for below in ({"one_mA": -1.0, "other_mA": 40.0}, {"one_mA": 40.0, "other_mA": -1.0}):
        with pytest.raises(ValueError, match="can't be below zero, and is -1"):
            bias.pair_mismatch_percent(**below)
    with pytest.raises(ValueError, match="cathode can't be below zero"):
        bias.plate_dissipation_W(plate_V=420, cathode_mA=-1)
    for screen in (40, 41):
        with pytest.raises(ValueError, match="whole cathode current"):
            bias.plate_dissipation_W(plate_V=420, cathode_mA=40, screen_mA=screen)


def test_four_ways_to_the_same_current() -> None:
    assert bias.sense_current_mA(sense_mV=35).value == 35
    assert bias.cathode_current_mA(cathode_V=17.5, cathode_resistor_ohm=250, tubes=2).value == pytest.approx(35)
    assert bias.primary_drop_current_mA(drop_V=4.2, primary_ohm=120).value == pytest.approx(35)
    assert bias.shunt_current_mA(meter_mA=34.7, primary_ohm=120).value == pytest.approx(35, abs=0.05)


def test_the_window_depends_on_class_and_bias() -> None:
    assert bias.idle_outside_percent(dissipation_percent=85).value == pytest.approx(15)
    assert bias.idle_outside_percent(dissipation_percent=85, bias="cathode").value == 0
    assert bias.idle_outside_percent(dissipation_percent=40).value == pytest.approx(-10)
    with pytest.raises(ValueError, match="fixed, cathode"):
        bias.idle_outside_percent(dissipation_percent=85, bias="grid")


def test_divider_resistor_gives_the_bias_wanted() -> None:
    wanted = bias_divider.ground_resistor_ohm(source_V=-60, wanted_V=-36, series_ohm=15_000)
    assert wanted.value == 22_000
    assert bias_divider.bias_V(source_V=-60, series_ohm=15_000, ground_ohm=22_000).value == pytest.approx(
        -35.68, abs=0.01
    )
    with pytest.raises(ValueError, match="sign of the source"):
        bias_divider.ground_resistor_ohm(source_V=-60, wanted_V=36, series_ohm=15_000)
    for as_much_and_more in (-60, -72):
        with pytest.raises(ValueError, match="and be smaller"):
            bias_divider.ground_resistor_ohm(source_V=-60, wanted_V=as_much_and_more, series_ohm=15_000)
    with pytest.raises(ValueError, match="and be smaller"):
        bias_divider.series_resistor_ohm(source_V=0, wanted_V=-36, ground_ohm=15_000)


@pytest.mark.parametrize("trimmer_percent", [0.0, 25.0, 50.0, 100.0])
def test_the_exact_resistor_is_the_one_that_gives_the_bias(trimmer_percent: float) -> None:
    trimmer = {"source_V": -60.0, "trimmer_ohm": 10e3, "trimmer_percent": trimmer_percent}
    wanted_V = bias_divider.bias_V(series_ohm=15.4e3, ground_ohm=23.6e3, **trimmer).value
    ground = bias_divider.ground_resistor_ohm(wanted_V=wanted_V, series_ohm=15.4e3, **trimmer)
    assert ground.steps[0] == "exact value 23.6 kΩ"
    given_V = bias_divider.bias_V(series_ohm=15.4e3, ground_ohm=22e3, **trimmer).value
    assert ground.steps[1:] == ("nearest in E12: 22 kΩ", f"it gives {given_V:.4g} V")
    series = bias_divider.series_resistor_ohm(wanted_V=wanted_V, ground_ohm=23.6e3, **trimmer)
    assert series.steps[0] == "exact value 15.4 kΩ"
    given_V = bias_divider.bias_V(series_ohm=15e3, ground_ohm=23.6e3, **trimmer).value
    assert series.steps[1:] == ("nearest in E12: 15 kΩ", f"it gives {given_V:.4g} V")


def test_a_divider_of_a_few_ohms_is_not_rounded() -> None:
    # one ohm each, the wiper at half: half of the source, a quarter of an ohm further a twelfth of it more
    one = {"source_V": -60.0, "series_ohm": 1.0, "ground_ohm": 1.0, "trimmer_ohm": 1.0}
    assert bias_divider.bias_V(**one, trimmer_percent=50).value == pytest.approx(-30)
    assert bias_divider.bias_V(**one, trimmer_percent=75).value == pytest.approx(-35)


def test_trimmer_span() -> None:
    span = bias_divider.trimmer_span_V(source_V=-60, series_ohm=15_000, ground_ohm=22_000, trimmer_ohm=10_000)
    assert span.value == pytest.approx(60 * 10 / 47)
    assert any("worn wiper" in warning for warning in span.warnings)


@given(
    st.floats(50, 1000), st.floats(1, 200), st.floats(0, 40), st.floats(0.1, 5)
)  # plate volts, milliamperes, cathode volts, more milliamperes
def test_more_current_or_more_volts_is_more_heat(plate_V: float, mA: float, cathode_V: float, more: float) -> None:
    watts = bias.plate_dissipation_W(plate_V=plate_V, cathode_V=cathode_V, cathode_mA=mA).value
    assert bias.plate_dissipation_W(plate_V=plate_V, cathode_V=cathode_V, cathode_mA=mA + more).value > watts
    assert bias.plate_dissipation_W(plate_V=plate_V + more, cathode_V=cathode_V, cathode_mA=mA).value > watts


@given(st.floats(5, 100), st.floats(5, 100))
def test_bias_change_there_and_back_is_nothing(present: float, wanted: float) -> None:
    there = bias.bias_change_V(present_mA=present, wanted_mA=wanted, tube="6V6GT").value
    back = bias.bias_change_V(present_mA=wanted, wanted_mA=present, tube="6V6GT").value
    assert there == pytest.approx(-back)


def test_the_hottest_end_of_the_trimmer_is_judged_before_anybody_turns_there() -> None:
    here = {"present_V": -36.0, "present_mA": 20.0, "plate_V": 385.0, "tube": "6V6GTA"}
    now = bias_divider.hottest_end_percent(hottest_V=-36, **here)
    assert now.value == pytest.approx(100 * 0.020 * 385 / 14)
    hot = bias_divider.hottest_end_percent(hottest_V=-28, **here)
    assert hot.verdict == "unsafe end"
    # and the change of bias that goes to that current is the one that was made
    current = hot.value * 14 / 385 * 10
    assert bias.bias_change_V(present_mA=20, wanted_mA=current, tube="6V6GTA").value == pytest.approx(8)


def test_series_and_ground_resistor_are_one_divider() -> None:
    # -60 V, 27 k to chassis, 30 k in series: -28.4 V; either resistor is found again from the other
    given = bias_divider.bias_V(source_V=-60, series_ohm=33e3, ground_ohm=27e3).value
    assert bias_divider.series_resistor_ohm(source_V=-60, wanted_V=given, ground_ohm=27e3).value == pytest.approx(33e3)
    assert bias_divider.ground_resistor_ohm(source_V=-60, wanted_V=given, series_ohm=33e3).value == pytest.approx(27e3)


def test_where_the_safe_travel_of_the_trimmer_ends_the_plates_are_at_their_rating() -> None:
    known = {"present_V": -38.0, "present_mA": 30.0, "plate_V": 430.0, "tube": "6L6GC"}
    divider = {"source_V": -60.0, "series_ohm": 15e3, "ground_ohm": 15e3, "trimmer_ohm": 22e3}
    safe = bias_divider.safe_travel_percent(**known, **divider)
    assert 0 < safe.value < 100
    assert safe.verdict == "the hot end is unsafe"
    there = bias_divider.bias_V(**divider, trimmer_percent=100 - safe.value).value
    assert bias_divider.hottest_end_percent(hottest_V=there, **known).value == pytest.approx(100, abs=0.01)
