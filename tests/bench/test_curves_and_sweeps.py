"""What sweeps, load lines and the laws of tubes are made of, beside sums worked by hand."""

from __future__ import annotations

import re

import pytest
from chopstick.engine.bench import pot, power_stage, stage
from chopstick.engine.bench.laws import triode_law
from chopstick.engine.reference.tables import load


def test_what_is_left_at_the_stops_is_said_for_each() -> None:
    worked = pot.end_hop_percent(readings="0=500 5=125k 10=245k", total_ohm=250e3)
    assert worked.steps == ("counter-clockwise stop 0.2 %, clockwise stop 2 %; usual to 1 %",)
    assert worked.value == pytest.approx(2)
    assert worked.verdict == "high"
    assert pot.end_hop_percent(readings="0=15k 5=125k 10=250k", total_ohm=250e3).verdict == "open or worn end"


def test_readings_of_a_sweep_are_off_by_one_meter_and_never_by_more_than_they_are() -> None:
    against, plus = load().spreads["same_meter"].percent / 100, load().errors["ohm"].plus
    sweep = pot.read_sweep("1=0 5=25k 12=250k", 0, 1, 12)
    assert sweep.positions == (0, pytest.approx(4 / 11), 1)
    assert sweep.shares == (0, pytest.approx(0.1), 1)
    assert sweep.errors == (0, pytest.approx((against * 25e3 + plus) / 250e3), pytest.approx(against + plus / 250e3))
    levels = pot.read_sweep("0=-40dB 5=-20dB 10=0dB", 0, 0, 10)
    assert levels.shares == pytest.approx((0.01, 0.1, 1))
    assert levels.errors[2] == pytest.approx(against + load().errors["V"].plus)
    assert (levels.unit, sweep.unit) == ("ratio", "ohm")
    assert pot.read_sweep("0=0 5=1V 10=4V", 0, 0, 10).unit == "V"
    assert pot.read_sweep("0=0 5=25k 10=50k", 100e3, 0, 10).shares == pytest.approx((0, 0.25, 0.5))


def test_the_plot_of_a_sweep_is_in_per_cent_of_dial_and_whole() -> None:
    curve = pot.taper_curve(pot.read_sweep("0=0 5=25k 10=250k", 0, 0, 10), 0.1, "exponential")
    (_, dial, fit), (_, read_at, read) = curve.lines
    assert (dial[0], dial[20], dial[-1], len(dial)) == (0, 50, 100, 41)
    assert (fit[0], fit[20], fit[-1]) == pytest.approx((0, 10, 100))
    assert (read_at, read) == ((0, 50, 100), pytest.approx((0, 10, 100)))


def test_the_curves_of_an_output_stage_stand_at_quarters_of_its_bias() -> None:
    curve = power_stage.single_output_W(tube="6V6GT", plate_V=250, screen_V=250, bias_V=-12.5, load_ohm=5000).curve
    assert curve is not None
    names = [name for name, _, _ in curve.lines]
    assert names == ["grid 0 V", "grid -3.12 V", "grid -6.25 V", "grid -9.38 V", "grid -12.5 V", "load line", "idle"]
    lines = {name: (x, y) for name, x, y in curve.lines}
    (rest_V,), (rest_mA,) = lines["idle"]
    volts, amperes = lines["grid -12.5 V"]
    assert rest_V == 250
    assert rest_mA == pytest.approx(45, rel=0.15)  # AWV data sheet 1944: 45 mA
    assert (volts[0], len(volts)) == (0, 61)
    assert min(mA for at, mA in zip(volts, amperes, strict=True) if at > 250) > 0.9 * rest_mA
    across, drawn = lines["load line"]
    assert list(across) == sorted(across)
    assert volts[-1] == pytest.approx(across[-1])
    # a resistive load: where the plate stands lower by a volt, 0.2 mA more flow
    slopes = [(b - a) / (y - x) for x, y, a, b in zip(across, across[1:], drawn, drawn[1:], strict=False) if y - x > 1]
    assert slopes == pytest.approx([-1 / 5] * len(slopes), rel=1e-3)


def test_a_tube_of_the_drawer_differs_by_what_the_reference_says() -> None:
    # with next to no resistance in the way the current is the tube's own, and so is its band
    worked = stage.expected_current_mA(supply_V=250, plate_load_ohm=1, cathode_resistor_ohm=0)
    assert worked.error == pytest.approx(worked.value * load().spreads["plate_current"].percent / 100, rel=0.02)
    assert worked.error_from == "the tube itself"


@pytest.mark.parametrize("pair", [False, True])
def test_what_an_output_stage_draws_goes_into_the_load_and_the_plates(pair: bool) -> None:
    tube = {"tube": "6L6GC", "plate_V": 450.0, "screen_V": 400.0, "bias_V": -37.0}
    worked = (
        power_stage.pair_output_W(**tube, plate_to_plate_ohm=5600)
        if pair
        else power_stage.single_output_W(**tube, load_ohm=5600)
    )
    load, currents, swing, heat = ([float(n) for n in re.findall(r"\d+(?:\.\d+)?", step)] for step in worked.steps)
    idle_mA, drawn_mA, peak_mA = currents
    watts, idle_W, heat_W = heat
    tubes = 2 if pair else 1
    assert load == ([5.6, 1.4] if pair else [5.6])
    assert idle_W == pytest.approx(0.450 * idle_mA, rel=0.01)
    assert tubes * (0.450 * drawn_mA - heat_W) == pytest.approx(watts, rel=0.02)
    assert watts == pytest.approx(worked.value, rel=0.005)
    assert worked.steps[1].startswith("each tube" if pair else "the tube")
    assert worked.curve is not None
    lines = {name: (x, y) for name, x, y in worked.curve.lines}
    assert swing == pytest.approx([min(lines["load line"][0]), max(lines["load line"][0])], rel=0.01)
    assert peak_mA == pytest.approx(max(lines["load line"][1]), rel=0.01)


def test_gain_without_the_bypass() -> None:
    # textbook identity: mu RL / (rp + RL + (mu + 1) Rk), mu and rp as the bypassed stage says them
    given = {"supply_V": 300.0, "plate_load_ohm": 100e3, "cathode_resistor_ohm": 1500.0}
    bypassed, bare = stage.gain_ratio(**given), stage.gain_ratio(**given, bypassed="no")
    law = triode_law("12AX7")
    current, across, cathode_V = stage.operating_point(law, 300, 100e3, 1500)
    _, gm, conductance = stage.plate_current(law, -cathode_V, across)
    mu, rp, load = gm / conductance, 1 / conductance, 100e3 / 1.1
    assert bypassed.value == pytest.approx(mu * load / (rp + load))
    assert bare.value == pytest.approx(mu * load / (rp + load + (mu + 1) * 1500))
    assert stage.gain_ratio(**given, bypassed=" False ").value == bare.value
    assert current * (100e3 + 1500) + across == pytest.approx(300)
