"""The bench's figures against printed conditions and textbook identities. The source stands beside each check."""

from __future__ import annotations

import math

import pytest
from chopstick.engine.bench import bias, coupling, leakage, limits, preferred, rectifier_swap, supply


# Philips EL84 sheets 2 and 3, 1953-55: printed cathode resistor, bias, plate and screen current
@pytest.mark.parametrize(
    ("resistor_ohm", "bias_V", "plate_mA", "screen_mA"), [(135, 7.3, 48, 5.5), (210, 8.4, 36, 4.1)]
)
def test_el84_cathode_current(resistor_ohm: float, bias_V: float, plate_mA: float, screen_mA: float) -> None:
    worked = bias.cathode_current_mA(cathode_V=bias_V, cathode_resistor_ohm=resistor_ohm)
    assert worked.value == pytest.approx(plate_mA + screen_mA, rel=0.015)


def test_el84_class_a_point_sits_on_its_12_W_rating() -> None:
    # Philips EL84 sheets 2 and 6: 250 V, 48 mA plate, 5.5 mA screen; 12 W limit
    share = bias.plate_dissipation_percent(plate_V=250, cathode_mA=53.5, screen_mA=5.5, tube="EL84")
    assert share.value == pytest.approx(100, abs=0.01)
    screen = limits.screen_dissipation_percent(screen_V=250, screen_mA=5.5, tube="EL84")
    assert screen.value == pytest.approx(100 * 250 * 0.0055 / 2, abs=0.01)


def test_el84_pair_on_its_shared_resistor() -> None:
    # Philips EL84 sheet 4: 130 ohm shared, 36 mA plate and 4 mA screen each at 300 V
    each = bias.cathode_current_mA(cathode_V=0.130 * 80, cathode_resistor_ohm=130, tubes=2)
    assert each.value == pytest.approx(40)


@pytest.mark.parametrize(
    # share of screen in plate current at the sheet's idle: AWV 1944, Philips 1955, US maker S 1961, a current maker
    ("tube", "percent"),
    [("6V6GT", 10.0), ("EL84", 11.5), ("7591", 13.3), ("6L6GC", 6.94)],
)
def test_screen_estimate_follows_the_sheet(tube: str, percent: float) -> None:
    estimate = bias.screen_current_mA(cathode_mA=50, tube=tube)
    assert 100 * estimate.value / (50 - estimate.value) == pytest.approx(percent, abs=0.05)
    assert "estimated" in estimate.warnings[0]


def test_plate_dissipation_identity() -> None:
    # textbook identity: 420 V x (40 - 3) mA = 15.54 W
    assert bias.plate_dissipation_W(plate_V=420, cathode_mA=40, screen_mA=3).value == pytest.approx(15.54)


def test_bias_change_agrees_with_two_printed_points_of_one_tube() -> None:
    # AWV 6V6-GT 1944, 250 V, single tube -12.5 V 45 mA against push-pull -15 V 35 mA each
    change = bias.bias_change_V(present_mA=45, wanted_mA=35, tube="6V6GT")
    assert change.value == pytest.approx(-2.5, abs=0.2)


def test_el84_bias_change_between_printed_points() -> None:
    # Philips EL84 sheets 2 and 3, 250 V: -7.3 V 48 mA against -8.4 V 36 mA
    assert bias.bias_change_V(present_mA=48, wanted_mA=36, tube="EL84").value == pytest.approx(-1.1, abs=0.1)


# textbook identities, computed apart from this code
def test_coupling_corner_with_and_without_the_stage_before() -> None:
    assert coupling.corner_Hz(coupling_F=22e-9, load_ohm=470e3).value == pytest.approx(15.39, abs=0.005)
    source = coupling.stage_output_ohm(plate_load_ohm=100e3, plate_resistance_ohm=62.5e3).value
    assert source == pytest.approx(38_500, rel=0.002)
    assert coupling.corner_Hz(coupling_F=22e-9, load_ohm=470e3, source_ohm=38_500).value == pytest.approx(
        14.23, abs=0.005
    )


@pytest.mark.parametrize(("times", "dB"), [(1, -3.01), (2, -0.9691), (0.5, -6.99), (10, -0.04321)])
def test_coupling_loss_at_multiples_of_the_corner(times: float, dB: float) -> None:
    assert coupling.loss_dB(frequency_Hz=20 * times, corner_Hz=20).value == pytest.approx(dB, rel=1e-3)


def test_cathode_bypass() -> None:
    # textbook identity: mu 100, rp 62.5 k, RL 82.46 k, Rk 1.5 k, Ck 25 uF: fz 4.244 Hz, fp 8.68 Hz, gain 56.88 / 27.81
    corner = coupling.bypass_corner_Hz(bypass_F=25e-6, cathode_resistor_ohm=1500, load_ohm=82_460)
    assert corner.value == pytest.approx(8.68, abs=0.01)
    shelf = coupling.bypass_shelf_dB(cathode_resistor_ohm=1500, load_ohm=82_460)
    assert shelf.value == pytest.approx(20 * math.log10(27.81 / 56.88), abs=0.002)


def test_brimar_inverter_circuit_falls_as_little_at_50_Hz_as_printed() -> None:
    # Brimar (STC) 12AX7 report VAD/513.5, Mar 1950, drawing VAD/313.66: -0.2 dB at 50 c/s; 0.1 uF couplers,
    # 470 k and 220 k grid leaks, 3.3 k with 50 uF at the first cathode (printed to 0.1 dB)
    first = coupling.corner_Hz(coupling_F=0.1e-6, load_ohm=470e3, source_ohm=48_700).value
    second = coupling.corner_Hz(coupling_F=0.1e-6, load_ohm=220e3).value
    cathode = coupling.bypass_corner_Hz(bypass_F=50e-6, cathode_resistor_ohm=3300, load_ohm=150e3).value
    level = coupling.loss_dB(frequency_Hz=50, corner_Hz=first, second_Hz=second, third_Hz=cathode)
    assert level.value == pytest.approx(-0.2, abs=0.1)


def test_two_equal_networks_turn_at_1_554_times_the_corner() -> None:
    # textbook identity: 1 / sqrt(sqrt 2 - 1)
    assert coupling.cascade_corner_Hz(corner_Hz=20, second_Hz=20).value == pytest.approx(
        20 / math.sqrt(math.sqrt(2) - 1)
    )


def test_capacitor_for_a_corner_is_the_value_that_gave_it() -> None:
    corner = coupling.corner_Hz(coupling_F=22e-9, load_ohm=470e3).value
    assert coupling.capacitor_F(target_Hz=corner, load_ohm=470e3).value == pytest.approx(22e-9)
    bypass = coupling.bypass_corner_Hz(bypass_F=22e-6, cathode_resistor_ohm=1500, load_ohm=82e3).value
    assert coupling.bypass_capacitor_F(
        target_Hz=bypass, cathode_resistor_ohm=1500, load_ohm=82e3
    ).value == pytest.approx(22e-6)  # fmt: skip


# textbook identities of the power supply, computed apart from this code
@pytest.mark.parametrize(("mains_Hz", "volts"), [(60, 20.83), (50, 25.0)])
def test_capacitor_input_ripple(mains_Hz: float, volts: float) -> None:
    worked = supply.ripple_peak_to_peak_V(load_mA=100, reservoir_F=40e-6, mains_Hz=mains_Hz)
    assert worked.value == pytest.approx(volts, abs=0.005)


def test_ripple_rms_and_the_capacitance_it_betrays() -> None:
    rms = supply.ripple_rms_V(load_mA=100, reservoir_F=40e-6)
    assert rms.value == pytest.approx(6.014, abs=0.001)
    assert supply.reservoir_F(ripple_rms_V=rms.value, load_mA=100).value == pytest.approx(40e-6)


def test_filter_sections() -> None:
    assert supply.section_ripple_ratio(filter_F=20e-6, resistance_ohm=10e3).value == pytest.approx(0.006631, rel=1e-3)
    assert supply.section_ripple_ratio(filter_F=20e-6, choke_H=5).value == pytest.approx(0.01791, rel=1e-3)


def test_critical_choke_at_60_Hz_is_load_over_1131() -> None:
    # textbook identity: R / (6 pi 60) = R / 1131
    assert supply.critical_choke_H(output_V=350, load_mA=100).value == pytest.approx(3500 / 1131, rel=1e-3)


def test_bleed_time_follows_the_exponential() -> None:
    # textbook identity: 220 k, 100 uF, 450 V to 50 V: 48.34 s
    worked = supply.bleed_s(start_V=450, capacitance_F=100e-6, bleeder_ohm=220e3)
    assert worked.value == pytest.approx(48.34, abs=0.005)
    assert 450 * math.exp(-worked.value / (220e3 * 100e-6)) == pytest.approx(50)
    minutes = supply.bleed_minutes(start_V=450, capacitance_F=100e-6, bleeder_ohm=220e3)
    assert minutes.value * 60 == pytest.approx(worked.value)
    assert any("Lethal" in warning for warning in worked.warnings)


@pytest.mark.parametrize(
    ("hum_Hz", "mains_Hz", "verdict"),
    [
        (60, 60, "line frequency"),
        (120, 60, "twice line frequency"),
        (50, 50, "line frequency"),
        (100, 50, "twice line frequency"),
        (180, 60, "neither line nor twice line frequency"),
    ],
)
def test_hum_sorted_by_frequency(hum_Hz: float, mains_Hz: float, verdict: str) -> None:
    # common practice, no source
    assert supply.hum_multiple_ratio(hum_Hz=hum_Hz, mains_Hz=mains_Hz).verdict == verdict


@pytest.mark.parametrize(("current_mA", "printed_V"), [(91, 25), (120, 30)])
def test_the_three_halves_law_follows_the_printed_ez80_curve(current_mA: float, printed_V: float) -> None:
    # Mazda (Thorn-AEI) EZ80 sheet, Aug 1963, curve: 20 V at 62 mA, 25 V at 91 mA, 30 V at 120 mA
    worked = rectifier_swap.rectifier_drop_V(rectifier="EZ80", load_mA=current_mA)
    assert worked.value == pytest.approx(printed_V, rel=0.04)


def test_the_three_halves_law_joins_the_two_figures_for_the_5u4gb() -> None:
    # RCA RC-30, from memory: 44 V at 225 mA and 50 V at 275 mA
    assert rectifier_swap.rectifier_drop_V(rectifier="5U4GB", load_mA=275).value == pytest.approx(50, rel=0.01)


def test_leakage_resistance_undoes_bias_shift() -> None:
    # Ohm's law: 220 k grid leak, 20 Mohm leak, 250 V on the plate before
    shift = leakage.bias_shift_V(source_V=250, leakage_ohm=20e6, grid_leak_ohm=220e3)
    assert shift.value == pytest.approx(250 * 0.22 / 20.22)
    shunt = 220e3 * 10e6 / 10.22e6
    read = 250 * shunt / (shunt + 20e6)
    assert leakage.leakage_ohm(grid_V=read, source_V=250, grid_leak_ohm=220e3).value == pytest.approx(20e6)
    assert leakage.unloaded_grid_V(
        grid_V=read, grid_leak_ohm=220e3, leakage_ohm=20e6
    ).value == pytest.approx(shift.value)  # fmt: skip


def test_a_20_megohm_coupling_capacitor_is_replaced_and_a_gigohm_kept() -> None:
    # common practice, no source: 100 megohm at least
    assert leakage.leakage_ohm(grid_V=2.6, source_V=250, grid_leak_ohm=220e3).verdict == "replace"
    assert leakage.leakage_ohm(grid_V=0.03, source_V=250, grid_leak_ohm=220e3).verdict == "good"


def test_heater_window() -> None:
    # RCA 12AX7-A sheet, 10-60: heater tolerance 10 percent
    assert limits.heater_voltage_percent(heater_V=6.9).verdict == "within"
    assert limits.heater_voltage_percent(heater_V=7.0).verdict == "high"
    assert limits.heater_voltage_percent(heater_V=5.6).verdict == "low"


def test_replacement_ratings() -> None:
    # common practice, no source
    assert preferred.capacitor_rating_V(working_V=462.5).value == 600
    assert preferred.capacitor_rating_V(working_V=425, kind="electrolytic").value == 500
    assert preferred.resistor_rating_W(dissipated_W=0.8).value == 2
    assert preferred.resistor_heat_W(drop_V=100, resistance_ohm=10_000).value == pytest.approx(1)
    assert preferred.drift_percent(measured_ohm=270e3, marked_ohm=220e3).verdict == "replace"


# supply volts by winding (RMS a side), source resistance a side and load: a current maker's GZ34S sheet (60 uF),
# Mazda (Thorn-AEI) EZ80 sheet, Aug 1963 (50 uF)
@pytest.mark.parametrize(
    ("rectifier", "winding_V", "source_ohm", "load_mA", "printed_V"),
    [
        ("GZ34", 300, 75, 250, 330),
        ("GZ34", 400, 125, 250, 430),
        ("GZ34", 500, 175, 200, 560),
        ("GZ34", 550, 200, 160, 640),
        ("EZ80", 250, 125, 90, 265),
        ("EZ80", 275, 175, 90, 285),
        ("EZ80", 300, 215, 90, 310),
        ("EZ80", 350, 300, 90, 360),
    ],
)
def test_printed_supply_volts(
    rectifier: str, winding_V: float, source_ohm: float, load_mA: float, printed_V: float
) -> None:
    worked = rectifier_swap.winding_supply_V(
        winding_rms_V=winding_V, load_mA=load_mA, rectifier=rectifier, source_per_plate_ohm=source_ohm
    )
    assert worked.value == pytest.approx(printed_V, rel=0.04)


def test_a_swap_for_itself_changes_nothing() -> None:
    for first in ("capacitor", "choke"):
        same = rectifier_swap.new_supply_V(present_V=345, load_mA=60, present="5Y3GT", wanted="5Y3GT", first=first)
        assert same.value == pytest.approx(345, abs=0.01)


def test_silicon_in_place_of_a_tube_brings_more_volts_and_is_not_a_drop_in() -> None:
    # common practice, no source
    assert rectifier_swap.new_supply_V(present_V=345, load_mA=60, present="5Y3GT", wanted="silicon").value > 370
    swap = rectifier_swap.drop_in_count(present="5Y3GT", wanted="silicon", load_mA=60, first_capacitor_F=20e-6)
    assert swap.verdict == "does not drop in"


def test_a_5u4gb_draws_more_than_the_winding_of_a_5y3gt_gives() -> None:
    # RCA RC-30, from memory: 3 A against 2 A
    swap = rectifier_swap.drop_in_count(present="5Y3GT", wanted="5U4GB", load_mA=60, first_capacitor_F=20e-6)
    assert "heater draws 3 A" in swap.steps[0]
