"""Sums worked by hand beside the bench's own, for each that no published figure covers."""

from __future__ import annotations

import pytest
from chopstick.engine.bench import (
    bias,
    bias_divider,
    coupling,
    inverter,
    leakage,
    limits,
    parts,
    pot,
    preferred,
    rectifier_swap,
    speaker,
    stage,
    supply,
    transformer,
)
from chopstick.engine.bench.laws import triode_law


def test_screen_current_by_its_resistor() -> None:
    assert bias.screen_drop_current_mA(drop_V=2.35, screen_resistor_ohm=470).value == pytest.approx(5)


def test_bias_divider_with_its_trimmer_in_the_middle() -> None:
    # -60 V, 15 k, 10 k trimmer at half, ground resistor 22 k: (22 + 5) / 47 of it is -34.47 V
    given = {"source_V": -60.0, "series_ohm": 15e3, "trimmer_ohm": 10e3, "trimmer_percent": 50.0}
    assert bias_divider.bias_V(ground_ohm=22e3, **given).value == pytest.approx(-34.47, abs=0.01)
    assert bias_divider.ground_resistor_ohm(wanted_V=-34.47, **given).value == 22e3


def test_inverter_headroom_and_currents() -> None:
    # 300 V, plate 230, cathode 60: up 70, cathode down 60, toward each other (170 - 25) / 2 = 72.5
    assert inverter.split_load_headroom_V(supply_V=300, plate_V=230, cathode_V=60).value == pytest.approx(60)
    assert inverter.split_load_headroom_V(supply_V=300, plate_V=250, cathode_V=60).value == pytest.approx(50)
    assert inverter.split_load_headroom_V(supply_V=300, plate_V=150, cathode_V=75).value == pytest.approx(25)
    assert inverter.long_tail_headroom_V(supply_V=300, plate_V=200, cathode_V=50).value == pytest.approx(100)
    assert inverter.long_tail_headroom_V(supply_V=300, plate_V=150, cathode_V=50).value == pytest.approx(75)
    even = inverter.long_tail_current_mismatch_percent(
        supply_V=300, one_plate_V=218, one_load_ohm=82e3, other_plate_V=210, other_load_ohm=100e3
    )
    assert even.value == pytest.approx(100 * 0.1 / 0.95)  # 1.0 and 0.9 mA
    assert even.verdict == "even"
    split = inverter.split_load_current_mismatch_percent(
        supply_V=300, plate_V=240, plate_load_ohm=60e3, cathode_V=48, cathode_load_ohm=60e3
    )
    assert split.value == pytest.approx(20)  # 1.0 and 0.8 mA
    assert inverter.bias_V(grid_V=58.5, cathode_V=60).value == pytest.approx(-1.5)
    assert "leaky" in inverter.bias_V(grid_V=61, cathode_V=60).verdict


def test_a_headroom_of_readings_out_of_order_is_questioned() -> None:
    with pytest.raises(ValueError, match="in that order"):
        inverter.long_tail_headroom_V(supply_V=300, plate_V=320, cathode_V=50)


def test_plate_against_cathode_current() -> None:
    # 1.5 mA in the plate, 0.667 mA in the cathode
    leaky = stage.current_mismatch_percent(
        supply_V=300, plate_V=150, plate_load_ohm=100e3, cathode_V=1.0, cathode_resistor_ohm=1500
    )
    assert leaky.value == pytest.approx(100 * (1.5 - 2 / 3) / 1.5)
    other = stage.current_mismatch_percent(
        supply_V=300, plate_V=250, plate_load_ohm=100e3, cathode_V=1.5, cathode_resistor_ohm=1500
    )
    assert other.value == pytest.approx(-50)
    assert "more in the cathode" in other.verdict


def test_the_curves_of_a_load_line_are_those_of_the_tube() -> None:
    curve = stage.load_line("12AX7", 300, 100e3, 1500)
    lines = {name: list(zip(x, y, strict=True)) for name, x, y in curve.lines}
    current, across, cathode_V = stage.operating_point(triode_law("12AX7"), 300, 100e3, 1500)
    for grid_V in (0.0, -1.0, -2.0):
        for plate_V, mA in lines[f"grid {grid_V:g} V"]:
            assert mA == pytest.approx(1000 * stage.plate_current(triode_law("12AX7"), grid_V, plate_V)[0])
    assert 1000 * stage.plate_current(triode_law("12AX7"), -cathode_V, across)[0] == pytest.approx(1000 * current)


def test_the_plot_of_a_cascade_and_of_a_sweep_show_what_was_worked_out() -> None:
    curve = coupling.loss_dB(frequency_Hz=100, corner_Hz=20, second_Hz=7).curve
    assert curve is not None
    _, x, y = curve.lines[0]
    at = min(range(len(x)), key=lambda index: abs(x[index] - 100))
    assert y[at] == pytest.approx(coupling.loss_dB(frequency_Hz=x[at], corner_Hz=20, second_Hz=7).value)
    sweep = pot.taper_mid_percent(readings="0=0 5=25k 10=250k").curve
    assert sweep is not None
    read = {name: (x, y) for name, x, y in sweep.lines}["read"]
    assert read == (pytest.approx((0, 50, 100)), pytest.approx((0, 10, 100)))


def test_grid_dc_and_board_leakage() -> None:
    # common practice, no source: 5 mV in a preamp, 50 mV on an output grid
    assert leakage.grid_leak_share_percent(grid_mV=60).verdict == "replace the capacitor"
    assert leakage.grid_leak_share_percent(grid_mV=60).value == pytest.approx(120)
    assert leakage.grid_leak_share_percent(grid_mV=4, stage="preamp").value == pytest.approx(80)
    # 1 V on 1 megohm beside a 10 megohm meter is 1.1 microampere
    assert leakage.grid_current_mA(grid_V=1, grid_leak_ohm=1e6).value == pytest.approx(0.0011)
    board = leakage.board_leakage_ohm(eyelet_V=0.5, nearby_V=300.5, resistance_ohm=10e6)
    assert board.value == pytest.approx(5e6 * 600)
    assert "until the parts are lifted" in board.warnings[0]


def test_volts_and_resistances_against_ratings() -> None:
    # AWV 6V6-GT sheet, Dec 1944: 315 V plate, 285 V screen, 0.1 megohm fixed bias, 0.5 megohm cathode bias
    assert limits.plate_voltage_percent(plate_V=340, tube="6V6GT").value == pytest.approx(100 * 340 / 315)
    assert limits.screen_voltage_percent(screen_V=300, cathode_V=15, tube="6V6").value == pytest.approx(100)
    assert limits.grid_resistor_percent(grid_resistor_ohm=220e3, tube="6V6GT").value == pytest.approx(220)
    assert limits.grid_resistor_percent(grid_resistor_ohm=220e3, tube="6V6GT", bias="cathode").value == pytest.approx(
        44
    )
    # US maker T 12AX7 data, 1947: heater to cathode 180 V
    follower = limits.heater_cathode_percent(cathode_V=150, heater_V=60, tube="12AX7")
    assert follower.value == pytest.approx(50)
    # US maker T 12AU7, Oct 1962: heater 200 V negative, 100 V positive
    assert limits.heater_cathode_percent(cathode_V=100, tube="12AU7").value == pytest.approx(50)
    assert limits.heater_cathode_percent(cathode_V=0, heater_V=50, tube="12AU7").value == pytest.approx(50)


def test_nearest_parts() -> None:
    assert preferred.nearest_ohm(wanted_ohm=5000).value == 5100
    assert preferred.nearest_ohm(wanted_ohm=5000, series="E12").value == 4700
    assert preferred.nearest_F(wanted_F=0.02e-6).value == pytest.approx(22e-9)


def test_rectifier_shares() -> None:
    # secondary tube record for 5Y3GT, read: 125 mA, 20 uF
    assert rectifier_swap.output_current_percent(load_mA=100, rectifier="5Y3GT").value == pytest.approx(80)
    assert rectifier_swap.first_capacitor_percent(first_capacitor_F=40e-6, rectifier="5Y3").value == pytest.approx(200)


def test_speaker_share() -> None:
    assert speaker.resistance_share_percent(dc_ohm=6.4, impedance_ohm=8).value == pytest.approx(80)
    assert speaker.resistance_share_percent(dc_ohm=3, impedance_ohm=8).verdict == "unusual"


def test_droppers_and_limiter_lamp() -> None:
    assert supply.dropper_ohm(from_V=400, to_V=350, current_mA=5).value == pytest.approx(10e3)
    assert "the bleeder takes 0.92 W" in supply.bleed_s(start_V=450, capacitance_F=1e-4, bleeder_ohm=220e3).steps[2]
    assert supply.dropper_W(drop_V=50, resistance_ohm=10e3).value == pytest.approx(0.25)
    # common practice, no source: 40 to 100 W for first power
    assert supply.limiter_lamp_W(consumption_W=55).value == 60


def test_output_transformer_windings() -> None:
    assert transformer.turns_ratio(primary_V=100, secondary_V=4).value == pytest.approx(25)
    assert transformer.halves_mismatch_percent(one_ohm=100, other_ohm=110).value == pytest.approx(100 / 11)
    assert transformer.halves_mismatch_percent(one_ohm=100, other_ohm=110).verdict == "usual"
    assert "shorted turns" in transformer.halves_turns_percent(one_V=50, other_V=40).verdict
    assert transformer.halves_turns_percent(one_V=50, other_V=49).value == pytest.approx(2)


def test_a_dial_marked_1_to_12_reads_like_one_marked_0_to_10() -> None:
    plain = pot.taper_mid_percent(readings="0=0 2.5=8k 5=25k 7.5=80k 10=250k")
    other = pot.taper_mid_percent(readings="1=0 3.75=8k 6.5=25k 9.25=80k 12=250k", dial_low=1, dial_high=12)
    assert other.value == plain.value
    assert other.steps == plain.steps


def test_the_miss_of_a_fit_is_its_root_mean_square() -> None:
    sweep = pot.read_sweep("0=0 5=60k 10=100k", 0, 0, 10)
    mid, law, miss = pot.fit(sweep)
    errors = [r - pot.share_at(x, mid, law) for x, r in zip(sweep.positions, sweep.shares, strict=True)]
    assert miss == pytest.approx((sum(error**2 for error in errors) / 3) ** 0.5)
    assert mid == pytest.approx(0.6)


def test_a_hot_resistor_is_derated() -> None:
    # 0.8 W twice over is 1.6 W; at 112.5 C half the rating is left, so 3.2 W and a 5 W part
    assert preferred.resistor_rating_W(dissipated_W=0.8, ambient_C=112.5).value == 5
    assert preferred.resistor_rating_W(dissipated_W=0.8).value == 2


def test_deviation_and_lead_verdicts() -> None:
    share = parts.tolerance_share_percent(measured_ohm=105e3, marked_ohm=100e3, tolerance_percent=10)
    assert share.value == pytest.approx(50)
    assert speaker.lead_loss_percent(length_m=1, load_ohm=8, gauge=18).verdict == "fine"
    assert speaker.lead_loss_percent(length_m=10, load_ohm=4, gauge=24).verdict == "too thin or too long"


def test_plots_span_what_matters() -> None:
    cascade = coupling.loss_dB(frequency_Hz=100, corner_Hz=20).curve
    assert cascade is not None
    _, frequencies, _ = cascade.lines[0]
    assert (frequencies[0], frequencies[-1]) == (pytest.approx(10), pytest.approx(10_000))
    curve = stage.load_line("12AX7", 300, 100e3, 1500)
    top = 1000 * 300 / 101.5e3
    drawn = max(mA for name, _, y in curve.lines if name.startswith("grid") for mA in y)
    assert 0.8 * top < drawn <= 1.1 * top


def test_unequal_speakers_in_series_parallel_share_the_power_by_their_arms() -> None:
    # arms of 4 + 8 and 8 + 16 ohm at 1 V: 1/12 and 1/24 A, so 2/3 and 1/3 of the power, each in proportion within
    four = {"one_ohm": 4.0, "two_ohm": 8.0, "three_ohm": 8.0, "four_ohm": 16.0}
    worked = speaker.together_ohm(**four, wiring="series parallel")
    assert worked.value == pytest.approx(8)
    assert worked.steps[1] == "share of the power: 22.2 %, 44.4 %, 11.1 %, 22.2 %"
    assert speaker.together_ohm(**four, wiring="series").steps[1].endswith("11.1 %, 22.2 %, 22.2 %, 44.4 %")
    with pytest.raises(ValueError, match="four speakers"):
        speaker.together_ohm(one_ohm=8, two_ohm=8, three_ohm=8, wiring="series parallel")


def test_four_coupling_networks_add_their_losses() -> None:
    # textbook identity: at the corner 3.01 dB each; at twice the corner 0.97
    worked = coupling.loss_dB(frequency_Hz=20, corner_Hz=20, second_Hz=20, third_Hz=10, fourth_Hz=10)
    assert worked.value == pytest.approx(-2 * 3.0103 - 2 * 0.9691, abs=1e-3)
    assert worked.steps[-1] == "together -7.96 dB"
    four = coupling.cascade_corner_Hz(corner_Hz=20, second_Hz=20, third_Hz=20, fourth_Hz=20)
    assert four.value == pytest.approx(20 / (2**0.25 - 1) ** 0.5)
    assert four.steps[0] == "corners 20 Hz, 20 Hz, 20 Hz, 20 Hz"


def test_a_choke_input_filter() -> None:
    # textbook identity: sqrt 2 / 3 of 400 V over (4 pi 60)^2 x 10 H x 10 uF - 1 = 55.85
    worked = supply.choke_ripple_rms_V(output_V=400, choke_H=10, filter_F=10e-6)
    assert worked.value == pytest.approx(188.56 / 55.849, rel=1e-4)


def test_an_even_difference_of_the_plates_is_told_with_its_sign() -> None:
    worked = inverter.long_tail_imbalance_percent(one_load_ohm=82e3, other_load_ohm=100e3, tail_ohm=10e3)
    # textbook identity: (R2 / R1) / (1 + (rp + R2) / ((mu + 1) Rt))
    ratio = (100 / 82) / (1 + 162.5 / (101 * 10))
    assert worked.value == pytest.approx(100 * (1 / ratio - 1))
