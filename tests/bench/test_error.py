"""How far a figure may be off, by the errors of kb/reference/errors.yaml, beside sums worked by hand."""

from __future__ import annotations

import math

import pytest
from chopstick.engine.bench import catalogue, stage
from chopstick.engine.bench.error import banded, with_error
from chopstick.engine.bench.figure import Figure


def worked(name: str, errors: dict[str, float] | None = None, **known: float | str) -> Figure:
    return with_error(catalogue.find(name), known, errors)


def test_one_reading_against_a_figure_that_is_given_is_off_by_the_meter_alone() -> None:
    # 0.8 percent of 200 V on 400 V
    found = worked("compare.of_expected_percent", measured_V=200.0, expected_V=400.0)
    assert found.error == pytest.approx(0.4)
    assert found.error_from == "measured_V"


def test_volts_and_ohms_are_two_meters() -> None:
    # 0.8 percent, and 1.5 percent with 0.1 ohm of leads
    found = worked("compare.current_mA", drop_V=10.0, resistance_ohm=1000.0)
    assert found.error == pytest.approx(10 * math.hypot(0.008, 0.0151), rel=1e-3)
    assert found.error_from == "resistance_ohm"


def test_a_reading_of_nothing_has_no_error_to_share_out() -> None:
    assert worked("compare.current_mA", drop_V=0.0, resistance_ohm=1000.0).error is None


@pytest.mark.parametrize("sign", [1, -1])
def test_a_meters_scale_drops_out_of_a_comparison_whatever_its_sign(sign: int) -> None:
    found = worked("compare.difference_percent", one_V=sign * 40.0, other_V=sign * 41.0)
    assert found.error == pytest.approx(0.3 * 2**0.5, rel=0.01)
    # and counts in a difference: 0.3 percent of each apart, the rest of 0.8 percent on what is between them
    bias = worked("inverter.bias_V", grid_V=sign * 58.5, cathode_V=sign * 60.0)
    common = math.sqrt(0.8**2 - 0.3**2) / 100 * 1.5
    assert bias.error == pytest.approx(math.hypot(0.003 * 58.5, 0.003 * 60, common), rel=1e-6)


def test_small_currents_are_off_by_the_last_digit_of_the_meter() -> None:
    # 1.5 percent and 0.05 mA; against each other 0.3 percent and the same digit, what is left of the whole in common
    found = worked("bias.pair_mismatch_percent", one_mA=2.0, other_mA=1.0)
    apart = [0.003 * mA + 0.05 for mA in (2.0, 1.0)]
    # d(200 (a - b) / (a + b)): 400 b da / (a + b)^2, and 400 a db / (a + b)^2
    common = [math.sqrt((0.015 * mA + 0.05) ** 2 - own**2) for mA, own in zip((2.0, 1.0), apart, strict=True)]
    moved = math.hypot(apart[0], 2 * apart[1], common[0] - 2 * common[1])
    assert found.error == pytest.approx(400 / 9 * moved, rel=0.01)


def test_an_end_that_can_not_be_counts_as_the_reading_itself() -> None:
    # a plate that reads as much as its supply may read more: no current is not less than none
    found = worked("stage.plate_current_mA", supply_V=300.0, plate_V=300.0, plate_load_ohm=100e3)
    assert found.value == 0
    assert found.error is not None
    assert found.error < 1000 * 0.01 * 300 / 100e3


def test_a_figure_that_has_an_error_of_its_own_keeps_the_larger_one_named() -> None:
    known = {"supply_V": 300.0, "plate_load_ohm": 100e3, "cathode_resistor_ohm": 1500.0}
    own = stage.expected_current_mA(**known)
    both = worked("stage.expected_current_mA", **known)
    exact = worked("stage.expected_current_mA", dict.fromkeys(known, 0.0), **known)
    assert exact.error == own.error
    assert own.error is not None
    assert both.error is not None
    assert both.error > own.error
    assert both.error_from == own.error_from == "the tube itself"
    wild = worked("stage.expected_current_mA", {"supply_V": 100.0}, **known)
    assert wild.error_from == "supply_V"


def test_what_stands_on_a_limit_is_told_with_every_verdict_it_may_have_and_every_warning() -> None:
    found = worked("limits.mains_percent", mains_V=105.2, designed_V=100.0)
    assert found.verdict == "can't tell: near or high"
    assert any("lower tap" in warning for warning in found.warnings)
    low = worked("limits.mains_percent", mains_V=104.8, designed_V=100.0)
    assert low.verdict == "can't tell: near or high"
    assert low.warnings == found.warnings
    assert worked("limits.mains_percent", mains_V=100.0, designed_V=100.0).verdict == "near"


def test_what_can_not_tell_already_says_no_more() -> None:
    meter = {"measured_ohm": 110.5e3, "marked_ohm": 100e3}
    assert worked("parts.tolerance_share_percent", **meter).verdict == "can't tell"


def test_what_is_chosen_from_a_list_has_no_band() -> None:
    assert worked("preferred.nearest_ohm", wanted_ohm=4600.0).error is None
    assert worked("pot.best_spread_percent", control="tone shunt").error is None


def test_errors_that_cancel_or_are_none_leave_the_figure_as_it_is() -> None:
    figure = catalogue.find("compare.of_expected_percent")(measured_V=200, expected_V=400)
    assert banded(figure, lambda _: figure, ("anything",)) == figure
    assert banded(figure, lambda _: figure, ()) == figure


def test_a_resistor_fitted_to_read_the_current_is_better_known_than_one_measured() -> None:
    """35 mV across 1 ohm of 1 percent: a good milliampere either way (common practice, no source). An ohmmeter's leads
    would make it four."""
    fitted = worked("bias.sense_current_mA", sense_mV=35.0)
    assert fitted.error == pytest.approx(35 * 0.022, rel=0.1)
    measured = worked("bias.sense_current_mA", {"sense_ohm": 0.115}, sense_mV=35.0)
    assert measured.error == pytest.approx(4.0, rel=0.1)
