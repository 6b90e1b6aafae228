"""The output stage's load line against the outputs that data sheets print, and rectifier peaks against theirs."""

import pytest
from chopstick.engine.bench import power_stage, rectifier_swap
from chopstick.engine.reference.model import OperatingPoint
from chopstick.engine.reference.tables import load

PAIRS = [
    pytest.param(point.type or tube.name, point, id=f"{tube.name} {point.plate_V:g} V, {point.source}")
    for tube in load().tubes.values()
    for point in tube.push_pull
    if point.plate_V and point.screen_V and point.grid_V and point.plate_to_plate_load_ohm and point.output_W
    and not point.shared_screen_resistor_ohm  # there the screen does not stand still
]  # fmt: skip


@pytest.mark.parametrize(("tube", "point"), PAIRS)
def test_a_pair_gives_what_its_sheet_prints(tube: str, point: OperatingPoint) -> None:
    """The sheet each point names in kb/reference/tubes.yaml (RCA, GE, AWV, Philips ...); 18 points and more."""
    worked = power_stage.pair_output_W(
        tube=tube, plate_V=point.plate_V, screen_V=point.screen_V, bias_V=point.grid_V,
        plate_to_plate_ohm=point.plate_to_plate_load_ohm,
    )  # fmt: skip
    assert 0.75 * point.output_W < worked.value < 1.1 * point.output_W
    assert len(PAIRS) >= 18


@pytest.mark.parametrize(
    ("tube", "plate_V", "screen_V", "bias_V", "load_ohm", "sheet_W"),
    [
        ("6V6GT", 250, 250, -12.5, 5000, 4.5),  # AWV data sheet 1944
        ("6V6GT", 315, 225, -13, 8500, 5.5),  # the same
        ("EL84", 250, 250, -7.3, 5200, 5.7),  # Philips data sheet 1955
    ],
)
def test_a_single_tube_gives_what_its_sheet_prints(
    tube: str, plate_V: float, screen_V: float, bias_V: float, load_ohm: float, sheet_W: float
) -> None:
    worked = power_stage.single_output_W(
        tube=tube, plate_V=plate_V, screen_V=screen_V, bias_V=bias_V, load_ohm=load_ohm
    )
    assert worked.value == pytest.approx(sheet_W, rel=0.15)


def test_half_the_load_makes_the_tubes_hotter_and_twice_the_load_swings_further() -> None:
    # common practice, no source: what a mismatched speaker does to a pair
    def at(load_ohm: float) -> tuple[float, float]:
        worked = power_stage.pair_output_W(
            tube="6L6GC", plate_V=450, screen_V=400, bias_V=-37, plate_to_plate_ohm=load_ohm
        )
        assert worked.curve is not None
        volts = next(x for name, x, _ in worked.curve.lines if name == "load line")
        return float(worked.steps[-1].split("idle, ")[1].split(" W")[0]), max(volts)

    (hot, _), (matched, usual), (_, far) = at(2800), at(5600), at(11200)
    assert hot > matched
    assert far >= usual


@pytest.mark.parametrize("name", ["5Y3GT", "5V4GA", "5U4G", "6X4", "6X5GT"])
def test_peak_inverse_volts_of_the_highest_winding_are_the_sheets_own(name: str) -> None:
    """RCA sheets rate a winding for choke input and the peak inverse volts it makes: 2.83 times its RMS a side."""
    limit = next(one for one in load().rectifier(name).limits if one.peak_inverse_V and one.choke_input_rms_V)
    worked = rectifier_swap.peak_inverse_percent(winding_rms_V=limit.choke_input_rms_V, rectifier=name)
    assert worked.value == pytest.approx(100, abs=2.5)
