"""The tube laws: what they must do whatever the tube."""

import numpy as np
import pytest
from chopstick.engine.devices.library import UnknownPart, standard_library
from chopstick.engine.devices.tubes import Pentode, Triode, scalar_flow
from hypothesis import given
from hypothesis import strategies as st

TUBES = sorted({id(law): name for name, law in standard_library().tubes.items()}.values())
names = st.sampled_from(TUBES)
grid_V = st.floats(-60, 30)
plate_V = st.one_of(st.floats(-20, -1), st.floats(1, 500))  # the slope itself bends at nought


@given(name=names, grid=grid_V, plate=plate_V, screen=plate_V)
def test_the_slopes_are_the_slopes(name: str, grid: float, plate: float, screen: float) -> None:
    law, step = standard_library().tube(name), 1e-4
    at = [grid, plate, screen]
    flow = scalar_flow(law, *at)
    for j in range(len(flow.current)):
        up, down = list(at), list(at)
        up[j] += step
        down[j] -= step
        high, low = scalar_flow(law, *up), scalar_flow(law, *down)
        for i in range(len(flow.current)):
            slope = (float(high.current[i]) - float(low.current[i])) / (2 * step)
            assert float(flow.slope[i][j]) == pytest.approx(slope, rel=2e-2, abs=3e-7)


@given(name=names, grid=grid_V, plate=plate_V, screen=plate_V)
def test_no_current_flows_backwards(name: str, grid: float, plate: float, screen: float) -> None:
    assert all(
        float(current) >= 0.0 for current in scalar_flow(standard_library().tube(name), grid, plate, screen).current
    )


@given(name=names, grid=st.floats(-40, 0), plate=st.floats(20, 450), more=st.floats(0.5, 10))
def test_a_more_negative_grid_draws_less(name: str, grid: float, plate: float, more: float) -> None:
    law = standard_library().tube(name)
    less = float(scalar_flow(law, grid - more, plate, 250.0).current[1])
    assert less <= float(scalar_flow(law, grid, plate, 250.0).current[1])


def test_a_screen_takes_over_when_the_plate_is_open() -> None:
    # Bench fact (common practice, no source): with an open plate circuit the screen glows.
    law = standard_library().tube("6V6GT")
    assert isinstance(law, Pentode)
    working = float(scalar_flow(law, -12.5, 250.0, 250.0).current[2])
    assert float(scalar_flow(law, -12.5, 0.0, 250.0).current[2]) > 4 * working


def test_other_names_of_a_type_share_its_law() -> None:
    library = standard_library()
    assert library.tube("ECC83") == library.tube("12AX7")
    assert library.tube("6BQ5") == library.tube("EL84")
    assert library.rectifier("GZ34").perveance == library.rectifier("5AR4").perveance
    assert isinstance(library.tube("7025"), Triode)


def test_an_unknown_type_is_told_with_the_nearest() -> None:
    with pytest.raises(UnknownPart, match=r"no model for the tube type '12AX8'\. Did you mean '12AX7'"):
        standard_library().tube("12AX8")
    with pytest.raises(UnknownPart, match="rectifier"):
        standard_library().rectifier("9Z9")


def test_the_drop_of_a_rectifier_is_the_printed_one() -> None:
    # 5V4GA: 25 V at 175 mA, RCA Receiving Tube Manual RC-30 (from memory).
    law = standard_library().rectifier("5V4GA")
    assert (0.175 / law.perveance) ** (2 / 3) == pytest.approx(25.0)
    assert np.isclose(standard_library().rectifier("silicon").threshold_V, 0.6)
