"""Supplies in the periodic steady state: laws that hold for any of them."""

from dataclasses import replace

import numpy as np
import pytest
from chopstick.engine.devices.supply import CURVE_POINTS, SupplySpec, curve
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ..amount import amount
from .at_a_load import printed_level

SPEC = SupplySpec(300, 100, 3e-4, 0.0, 2, 60.0, 20e-6)
specs = st.builds(
    SupplySpec, st.floats(30, 500), st.floats(20, 5000), st.floats(1e-4, 1.0), st.floats(0, 2), st.sampled_from([1, 2]),
    st.sampled_from([50.0, 60.0]), st.floats(1e-8, 3e-4), st.sampled_from([0.0, 0.0, 5.0, 15.0]), st.floats(0, 300),
    st.sampled_from([0.0, 0.5, 1.0]),
)  # fmt: skip


@settings(max_examples=amount(25, 500))
@given(specs)
def test_the_more_is_drawn_the_lower_it_falls(spec: SupplySpec) -> None:
    assume(not spec.choke_H or spec.reservoir_F > 1e-6)  # a choke rings with a dried reservoir
    found = curve(spec)
    assert len(found.current_A) == CURVE_POINTS
    assert (np.diff(found.current_A) <= 1e-9 + 1e-6 * found.current_A.max()).all()
    assert found.top_V <= 1.01 * spec.open_circuit_V * np.sqrt(2)
    assert abs(found.current_A[-1]) < 1e-6
    assert (found.ripple_pp_V >= 0).all()


def test_a_weaker_rectifier_gives_less_and_a_bigger_reservoir_more() -> None:
    level, ripple_V, _ = printed_level(SPEC, 0.1)
    assert printed_level(replace(SPEC, perveance=1e-4), 0.1)[0] < level - 20
    dried = printed_level(replace(SPEC, reservoir_F=2e-6), 0.1)
    assert dried[0] < level
    assert dried[1] > 4 * ripple_V


def test_one_dead_plate_doubles_the_ripple_and_puts_it_at_the_mains_frequency() -> None:
    whole, half = curve(SPEC), curve(replace(SPEC, second_section=0.0))
    at = whole.level(0.05)
    lower = half.level(0.05)
    assert lower < at - 5
    assert half.at(lower, half.ripple_pp_V) > 1.8 * whole.at(at, whole.ripple_pp_V)
    once, twice = (np.abs(half.harmonics_V[k]).max() for k in (0, 1))
    assert once > twice
    assert np.abs(whole.harmonics_V[0]).max() < 1e-3


def test_half_wave_negative_and_positive_are_one_law() -> None:
    level, ripple_V, _ = printed_level(SupplySpec(45, 500, 5.0, 0.6, 1, 60.0, 25e-6), 0.001)
    assert 55 < level < 45 * np.sqrt(2)
    assert ripple_V == pytest.approx(0.001 / (60 * 25e-6), rel=0.25)  # I/(f C), less the conduction time
