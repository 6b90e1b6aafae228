"""What sweeps, load lines and the laws of tubes are made of, beside sums worked by hand."""

from __future__ import annotations

import math
import re

import pytest
from chopstick.engine.bench import bias, pot, power_stage, stage
from chopstick.engine.bench.laws import triode_law
from chopstick.engine.bench.notation import show
from chopstick.engine.bench.ratings import screen_share
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


@pytest.mark.parametrize(
    ("control", "tenth", "nine_tenths"),
    [("volume", 10**-1.8, 10**-0.2), ("tone divider", 10**-0.9, 10**-0.1)],  # of 40 and of 20 dB, on a straight track
)
def test_where_the_useful_range_of_a_control_begins_and_ends(control: str, tenth: float, nine_tenths: float) -> None:
    worked = pot.spread_percent(taper="linear", control=control)
    assert worked.value == pytest.approx(100 * (nine_tenths - tenth))
    assert worked.steps[0] == (
        f"a tenth of the effect at {100 * tenth:.3g} % of the dial, nine tenths at {100 * nine_tenths:.3g} %"
    )
    assert worked.verdict == "spread"


def test_a_pot_in_series_with_its_capacitor_is_bunched_unless_its_taper_follows() -> None:
    # at a note where the capacitor is a short the level is that of pot and source alone
    known = {"control": "tone shunt", "pot_ohm": 250e3, "capacitor_F": 1e-3, "source_ohm": 50e3, "note_Hz": 2000.0}
    worked = pot.spread_percent(taper="linear", **known)
    reactance = 1 / (2 * math.pi * 2000 * 1e-3)
    bottom, top = reactance / math.hypot(50e3, reactance), 250 / 300
    ends = [bottom * (top / bottom) ** effect for effect in (0.1, 0.9)]
    shares = [level / (1 - level) * 50 / 250 for level in ends]
    assert worked.value == pytest.approx(100 * (shares[1] - shares[0]), rel=1e-3)
    assert worked.verdict == "bunched"
    best = pot.best_spread_percent(control="tone shunt")
    spreads = {name: pot.spread_percent(taper=name, control="tone shunt").value for name in load().tapers}
    assert best.value == spreads[best.verdict] == max(spreads.values())
    assert [step.split(":")[0] for step in best.steps] == list(load().tapers)
    with pytest.raises(ValueError, match="audio 10"):
        pot.spread_percent(taper="audio 11")


@pytest.mark.parametrize("mid_percent", [2, 10, 15.5, 50, 89, 98])
@pytest.mark.parametrize("law", pot.LAWS)
def test_a_sweep_without_error_gives_its_taper_exactly(mid_percent: float, law: str) -> None:
    sweep = " ".join(f"{dial}={1e6 * pot.share_at(dial / 10, mid_percent / 100, law):.9g}" for dial in range(11))
    worked = pot.taper_mid_percent(readings=sweep)
    assert worked.value == pytest.approx(mid_percent)
    nearest = min(load().tapers, key=lambda name: abs(load().tapers[name].mid_percent - mid_percent))
    assert worked.steps[1].split(", ")[1] == f"{'linear' if nearest == 'linear' else law} taper" or mid_percent == 50
    assert nearest in worked.verdict


def test_a_taper_is_looked_for_from_2_to_98_per_cent() -> None:
    for mid, found in ((0.005, 2), (0.995, 98)):
        sweep = " ".join(f"{dial}={1e6 * pot.share_at(dial / 10, mid):.9g}" for dial in range(11))
        assert pot.taper_mid_percent(readings=sweep).value == pytest.approx(found)


@pytest.mark.parametrize(
    ("tube", "load_ohm", "cathode_ohm"),
    [("12AX7", 100e3, 1500), ("12AX7", 100e3, 820), ("12AX7", 100e3, 3300), ("12AU7", 47e3, 1200), ("12AU7", 47e3, 2200),
     ("12AU7", 22e3, 3300), ("6SN7GT", 10e3, 10e3), ("12AU7", 1e3, 47e3)],
)  # fmt: skip
def test_the_grid_volts_of_a_load_line_are_round_and_reach_past_the_bias(
    tube: str, load_ohm: float, cathode_ohm: float
) -> None:
    curve = stage.load_line(tube, 300, load_ohm, cathode_ohm)
    bias_V = stage.operating_point(triode_law(tube), 300, load_ohm, cathode_ohm)[2]
    step = next(step for step, most in ((0.5, 2), (1, 4), (2, 8), (5, 20), (10, 1000)) if bias_V <= most)
    assert [name for name, _, _ in curve.lines[:6]] == [
        f"grid {-step * index if index else 0:g} V" for index in range(6)
    ]
    assert curve.lines[6][0] == "load line"
    volts = {at for _, x, _ in curve.lines[:6] for at in x}
    assert volts <= {7.5 * index for index in range(41)}
    assert 0 in volts
    assert curve.title == f"{tube} with {show(load_ohm, 'ohm')}"
    # what is drawn stops a tenth above the load line's top
    assert max(mA for _, _, y in curve.lines[:6] for mA in y) <= 1.1 * curve.lines[6][2][0]


def test_a_sheet_that_was_read_goes_before_one_remembered() -> None:
    for family in load().tubes.values():
        points = [one for one in family.operating_points if one.plate_mA and one.transconductance_uA_per_V]
        if not points:
            continue
        best = ([one for one in points if one.seen] or points)[0]
        _, step, source = bias.drive(10.0, family.name, None)
        assert source == best.source
        assert f"sheet {best.transconductance_uA_per_V / 1000:.3g} mA/V at {best.plate_mA:.3g} mA" in step


def test_the_screen_share_is_that_of_a_sheet_that_was_read_before_one_remembered() -> None:
    for family in load().tubes.values():
        points = [one for one in family.operating_points if one.plate_mA and one.screen_mA]
        if points:
            best = ([one for one in points if one.seen] or points)[0]
            share, where, source = screen_share(family.name)
            assert share == pytest.approx(best.screen_mA / best.plate_mA)
            assert source == best.source
            assert f"{best.screen_mA:g} mA of screen" in where


def test_next_to_no_resistance_is_refused_in_words() -> None:
    for expected in (stage.expected_current_mA, stage.expected_plate_V):
        with pytest.raises(ValueError, match="no finite result; check each of them"):
            expected(supply_V=2, plate_load_ohm=1e-308, cathode_resistor_ohm=0)
