"""Preferred values against IEC 60063 (table values from memory; E96 also by its own rule)."""

from __future__ import annotations

import eseries
import pytest
from chopstick.engine.bench.preferred import nearest, nearest_ohm
from hypothesis import given
from hypothesis import strategies as st

# IEC 60063:2015, from memory
PRINTED = {
    "E6": [1.0, 1.5, 2.2, 3.3, 4.7, 6.8],
    "E12": [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2],
    "E24": [1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
            3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1],
}  # fmt: skip


@pytest.mark.parametrize("series", PRINTED)
@pytest.mark.parametrize("decade", [1e-12, 1e-9, 1e-6, 1.0, 1e3, 1e5])
def test_printed_values_are_their_own_nearest(series: str, decade: float) -> None:
    for value in PRINTED[series]:
        assert nearest(value * decade, series) == pytest.approx(value * decade, rel=1e-12)


def test_e96_is_the_rounded_geometric_series() -> None:
    # IEC 60063 rule: round(10^(n/96), 2), n = 0..95
    for n in range(96):
        assert nearest(10 ** (n / 96), "E96") == pytest.approx(round(10 ** (n / 96), 2))


@given(st.floats(min_value=1e-12, max_value=1e9), st.sampled_from(["E6", "E12", "E24", "E96"]))
def test_no_other_value_of_the_series_is_nearer_by_ratio(value: float, series: str) -> None:
    chosen = nearest(value, series)
    neighbours = eseries.erange(eseries.ESeries[series], value / 3, value * 3)
    assert max(chosen / value, value / chosen) <= min(max(n / value, value / n) for n in neighbours) * (1 + 1e-9)


def test_a_bias_resistor_is_named_as_its_ink_shows_it() -> None:
    assert nearest_ohm(wanted_ohm=23_400, series="E12").value == 22_000
    assert nearest_ohm(wanted_ohm=26_000, series="e12").value == 27_000


def test_a_series_that_is_none_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="e12"):
        nearest_ohm(wanted_ohm=1000, series="E13")
