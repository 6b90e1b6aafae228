"""One reading against another, by sums a child can check."""

from __future__ import annotations

import pytest
from chopstick.engine.bench import compare


def test_shares_drops_and_differences() -> None:
    assert compare.of_expected_percent(measured_V=300, expected_V=400).value == pytest.approx(75)
    assert compare.of_marked_percent(measured_ohm=120e3, marked_ohm=100e3).value == pytest.approx(120)
    assert compare.of_marked_capacitance_percent(measured_F=16e-6, marked_F=20e-6).value == pytest.approx(80)
    assert compare.of_limit_percent(dissipated_W=1, rated_W=2).value == pytest.approx(50)
    assert compare.drop_percent(before_V=400, after_V=360).value == pytest.approx(10)
    assert compare.difference_percent(one_V=190, other_V=210).value == pytest.approx(10)
    assert compare.difference_percent(one_V=-40, other_V=-40).value == 0
    assert compare.difference_ohm_percent(one_ohm=95, other_ohm=105).value == pytest.approx(10)


def test_the_higher_of_two_and_the_current_in_a_resistor() -> None:
    assert compare.higher_V(one_V=410, other_V=425).value == 425
    assert compare.higher_ohm(one_ohm=220e3, other_ohm=100e3).value == 220e3
    assert compare.current_mA(drop_V=10, resistance_ohm=1000).value == pytest.approx(10)


def test_nothing_is_compared_with_nothing() -> None:
    with pytest.raises(ValueError, match="more than zero"):
        compare.of_expected_percent(measured_V=300, expected_V=0)
    with pytest.raises(ValueError, match="mean is zero"):
        compare.difference_percent(one_V=5, other_V=-5)
    with pytest.raises(ValueError, match="both are zero: there is nothing to compare"):
        compare.difference_percent(one_V=0, other_V=0)
