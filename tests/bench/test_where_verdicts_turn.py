"""Where each verdict turns, on both sides of its limit. What stands at the limit itself is still as allowed.

Common practice, no source, where none is named; the limits that are sheets' or standards' own name them in kb/reference.
"""

from __future__ import annotations

import pytest
from chopstick.engine.bench import catalogue

OVER_A_TENTH = "too thin or too long"
TURNS = [
    # 12 W at 400 V are 30 mA
    ("bias.plate_dissipation_percent", {"plate_V": 400.0, "screen_mA": 0.0, "rating_W": 12.0}, "cathode_mA",
     [(30.0, ""), (30.1, "over the rating")]),
    ("bias.pair_mismatch_percent", {"other_mA": 95.0}, "one_mA", [(105.0, "matched"), (105.2, "mismatched")]),
    ("bias.idle_outside_percent", {}, "dissipation_percent",
     [(49.5, "colder than usual"), (50.0, "within the usual window"), (70.0, "within the usual window"),
      (70.5, "hotter than usual")]),
    ("bias.idle_outside_percent", {"bias": "cathode"}, "dissipation_percent",
     [(79.5, "colder than usual"), (80.0, "within the usual window"), (100.0, "within the usual window"),
      (100.5, "hotter than usual")]),
    ("bias.idle_outside_percent", {"bias": "fixed", "amp_class": "single-ended"}, "dissipation_percent",
     [(89.5, "colder than usual"), (90.0, "within the usual window")]),
    ("bias.idle_outside_percent", {"bias": "cathode", "amp_class": "a"}, "dissipation_percent",
     [(89.5, "colder than usual"), (90.0, "within the usual window")]),
    ("bias.bias_change_V", {"present_mA": 30.0, "tube": "6V6GT"}, "wanted_mA",
     [(29.9, "more negative (colder)"), (30.0, "as it is"), (30.1, "less negative (hotter)")]),
    ("bias_divider.change_V", {"source_V": -60.0, "from_ohm": 27e3, "other_ohm": 15e3}, "to_ohm",
     [(26.9e3, "hotter"), (27e3, "as before"), (27.1e3, "colder")]),
    ("bias_divider.change_V", {"source_V": -60.0, "from_ohm": 15e3, "other_ohm": 27e3, "position": "series"}, "to_ohm",
     [(14.9e3, "colder"), (15e3, "as before"), (15.1e3, "hotter")]),
    ("bias_divider.hottest_end_percent",
     {"present_V": -36.0, "hottest_V": -36.0, "plate_V": 400.0, "tube": "6V6GT", "rating_W": 12.0}, "present_mA",
     [(29.95, "safe over its whole travel"), (30.05, "unsafe end")]),
    # 12 W at 400 V are the 30 mA that flow now: the hot end, -30 V, may just be where it stands
    ("bias_divider.safe_travel_percent",
     {"source_V": -60.0, "series_ohm": 10e3, "ground_ohm": 20e3, "trimmer_ohm": 10e3, "present_mA": 30.0,
      "plate_V": 400.0, "rating_W": 12.0, "transconductance_mA_per_volt": 1.0}, "present_V",
     [(-30.0, "safe over its whole travel"), (-30.1, "the hot end is unsafe")]),
    ("inverter.split_load_imbalance_percent", {"cathode_load_ohm": 100e3}, "plate_load_ohm",
     [(94.9e3, "unbalanced"), (95.1e3, "balanced"), (104.9e3, "balanced"), (105.1e3, "unbalanced")]),
    ("inverter.long_tail_current_mismatch_percent",
     {"supply_V": 300.0, "one_load_ohm": 100e3, "other_load_ohm": 100e3, "other_plate_V": 210.0}, "one_plate_V",
     [(190.1, "even"), (189.9, "tipped over: look for DC on one grid, a weak section, a drifted load")]),
    ("inverter.split_load_current_mismatch_percent",
     {"supply_V": 300.0, "plate_load_ohm": 50e3, "cathode_load_ohm": 50e3, "plate_V": 250.0}, "cathode_V",
     [(44.9, "more in the plate load: its coupling capacitor leaks, or the load has drifted low"),
      (45.0, "they agree"), (55.5, "they agree"),
      (55.6, "more in the cathode load: grid current, heater leakage, or the load has drifted low")]),
    ("inverter.bias_V", {"cathode_V": 60.0}, "grid_V",
     [(59.9, "biased"), (60.0, "grid at or above its cathode: leaky capacitor before it")]),
    # 10 megohm of meter beside 10 megohm of grid leak: 5 megohm, and 100 megohm are 20 times that
    ("leakage.leakage_ohm", {"source_V": 210.0, "grid_leak_ohm": 10e6}, "grid_V",
     [(10.0, "good"), (10.01, "replace")]),
    ("leakage.bias_shift_V", {"grid_leak_ohm": 200e3, "leakage_ohm": 199.8e6}, "source_V",
     [(50.0, "good"), (50.1, "replace")]),
    ("leakage.grid_leak_share_percent", {}, "grid_mV",
     [(50.0, "good"), (50.5, "replace the capacitor"), (-50.5, "replace the capacitor")]),
    ("leakage.grid_leak_share_percent", {"stage": "preamp"}, "grid_mV", [(5.0, "good"), (5.5, "replace the capacitor")]),
    ("limits.plate_voltage_percent", {"rating_V": 315.0}, "plate_V", [(315.0, "within"), (315.5, "over")]),
    ("limits.plate_voltage_over_V", {"rating_V": 315.0}, "plate_V", [(315.0, "within"), (315.5, "over")]),
    ("limits.heater_voltage_percent", {"nominal_V": 100.0}, "heater_V",  # RCA 12AX7-A sheet, 10-60
     [(89.5, "low"), (90.0, "within"), (110.0, "within"), (110.5, "high")]),
    ("limits.mains_percent", {"designed_V": 100.0}, "mains_V",
     [(94.5, "low"), (95.0, "near"), (105.0, "near"), (105.5, "high")]),
    ("parts.tolerance_share_percent", {"marked_ohm": 1000.0, "tolerance_percent": 12.5, "meter_percent": 1.0},
     "measured_ohm", [(1115.0, "within"), (1116.0, "can't tell"), (1134.0, "can't tell"), (1136.0, "outside")]),
    ("parts.lamp_light_percent", {"lamp": "47"}, "lamp_V",  # 60 percent of the light is 86.4 of the volts
     [(5.43, "dim"), (5.45, "as meant"), (6.3 * 1.15, "as meant"), (7.25, "short-lived")]),
    ("pot.end_hop_percent", {"readings": "0=500 5=125k 10=250k"}, "total_ohm", [(250e3, "usual"), (251e3, "usual")]),
    ("pot.dead_zone_percent", {}, "readings",
     [("0=0 0.4=0 2.5=50k 5=115k 7.5=180k 10=250k", "none found"),
      ("0=0 0.5=0 2.5=50k 5=115k 7.5=180k 10=250k", "can't tell: none found or dead spot"),
      ("0=0 0.7=0 2.5=50k 5=115k 7.5=180k 10=250k", "dead spot")]),
    ("pot.total_drift_percent", {"marked_ohm": 250e3}, "measured_ohm",
     [(199e3, "out of tolerance"), (200e3, "within tolerance"), (300e3, "within tolerance"),
      (301e3, "out of tolerance")]),
    ("preferred.drift_percent", {"marked_ohm": 1000.0}, "measured_ohm",
     [(795.0, "replace"), (805.0, "keep unless the place is critical"), (895.0, "keep unless the place is critical"),
      (905.0, "keep"), (1095.0, "keep"), (1105.0, "keep unless the place is critical"),
      (1195.0, "keep unless the place is critical"), (1205.0, "replace")]),
    ("rectifier_swap.output_current_percent", {"rectifier": "5Y3GT"}, "load_mA", [(125.0, "within"), (125.5, "over")]),
    ("speaker.resistance_share_percent", {"impedance_ohm": 100.0}, "dc_ohm",
     [(64.5, "unusual"), (65.0, "usual"), (95.0, "usual"), (95.5, "unusual")]),
    ("speaker.lead_loss_percent", {"length_m": 5.0, "gauge": 18.0}, "load_ohm",
     [(3.97, OVER_A_TENTH), (3.99, "fine")]),
    ("stage.current_mismatch_percent",
     {"supply_V": 300.0, "plate_load_ohm": 100e3, "cathode_resistor_ohm": 1000.0, "plate_V": 200.0}, "cathode_V",
     [(0.79, "more in the plate: plate load low, or a coupling capacitor leaks from the plate"),
      (0.8, "they agree"), (1.25, "they agree"),
      (1.26, "more in the cathode: cathode resistor low or bypass leaky, plate load high, or heater leakage")]),
    ("supply.hum_multiple_ratio", {"mains_Hz": 50.0}, "hum_Hz",
     [(46.5, "neither line nor twice line frequency"), (47.5, "line frequency"), (52.5, "line frequency"),
      (53.5, "neither line nor twice line frequency"), (93.5, "neither line nor twice line frequency"),
      (94.5, "twice line frequency"), (105.5, "twice line frequency"),
      (106.5, "neither line nor twice line frequency")]),
    ("transformer.load_mismatch_ratio", {"tap_ohm": 8.0}, "load_ohm",
     [(3.7, "mismatched"), (4.0, "within two to one"), (6.4, "within two to one"), (6.6, "matched"), (9.8, "matched"),
      (9.9, "within two to one"), (16.0, "within two to one"), (17.2, "mismatched")]),
    ("transformer.halves_mismatch_percent", {"one_ohm": 100.0}, "other_ohm",
     [(84.5, "suspect: test the halves with AC for shorted turns"), (85.0, "usual"), (117.0, "usual"),
      (118.0, "suspect: test the halves with AC for shorted turns")]),
    ("transformer.halves_turns_percent", {"one_V": 100.0}, "other_V",
     [(96.5, "shorted turns or a tap that is not at the center"), (97.0, "good"), (103.0, "good"),
      (103.5, "shorted turns or a tap that is not at the center")]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "known", "moved", "said"), TURNS)
def test_both_sides_of_the_limit(
    name: str, known: dict[str, float | str], moved: str, said: list[tuple[float, str]]
) -> None:
    for value, verdict in said:
        assert catalogue.find(name)(**known, **{moved: value}).verdict == verdict, value


HOTTER = "never turn"
BEWARE = [
    ("bias.plate_dissipation_percent", {"plate_V": 400.0, "screen_mA": 0.0, "rating_W": 12.0}, "cathode_mA", "bias colder",
     [(30.0, False), (30.1, True)]),
    ("bias.cathode_current_mA", {"cathode_V": 10.0, "cathode_resistor_ohm": 250.0}, "tubes", "hides a mismatch",
     [(1.0, False), (2.0, True)]),
    ("bias_divider.hottest_end_percent",
     {"present_V": -36.0, "hottest_V": -36.0, "plate_V": 400.0, "tube": "6V6GT", "rating_W": 12.0}, "present_mA", HOTTER,
     [(29.95, False), (30.05, True)]),
    ("bias_divider.safe_travel_percent",
     {"source_V": -60.0, "series_ohm": 10e3, "ground_ohm": 20e3, "trimmer_ohm": 10e3, "present_mA": 30.0,
      "plate_V": 400.0, "rating_W": 12.0, "transconductance_mA_per_volt": 1.0}, "present_V", HOTTER,
     [(-30.0, False), (-30.1, True)]),
    ("leakage.bias_shift_V", {"grid_leak_ohm": 1e6, "leakage_ohm": 99e6}, "source_V", "runs hot",
     [(100.0, False), (105.0, True)]),
    ("limits.mains_percent", {"designed_V": 100.0}, "mains_V", "lower tap", [(105.0, False), (105.5, True)]),
    ("pot.taper_mid_percent", {}, "readings", "fit no taper",
     [("0=0 2.5=62.5k 5=125k 7.5=187.5k 10=250k", False), ("0=0 2.5=10k 5=240k 7.5=245k 10=250k", True)]),
    # the swing up is twice the supply and more into a high load alone
    ("power_stage.pair_output_W", {"tube": "6L6GC", "plate_V": 450.0, "screen_V": 400.0, "bias_V": -37.0},
     "plate_to_plate_ohm", "over twice its supply", [(5600.0, False)]),
    ("power_stage.single_output_W", {"tube": "6V6GT", "plate_V": 250.0, "screen_V": 250.0, "bias_V": -12.5}, "load_ohm",
     "over twice its supply", [(5000.0, False), (20e3, True)]),
    ("speaker.lead_loss_percent", {"length_m": 5.0, "gauge": 18.0}, "load_ohm", "in the cable", [(3.97, True), (3.99, False)]),
    ("transformer.load_mismatch_ratio", {"tap_ohm": 8.0}, "load_ohm", "arcing", [(8.0, False), (9.8, False), (9.9, True)]),
    ("transformer.load_mismatch_ratio", {"tap_ohm": 8.0}, "load_ohm", "more plate current",
     [(6.6, False), (6.4, True), (9.9, False)]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "known", "moved", "words", "said"), BEWARE)
def test_a_warning_comes_with_what_it_warns_of(
    name: str, known: dict[str, float | str], moved: str, words: str, said: list[tuple[float | str, bool]]
) -> None:
    for value, there in said:
        warnings = catalogue.find(name)(**known, **{moved: value}).warnings
        assert any(words in warning for warning in warnings) == there, value


TAKEN = [
    ("bias.plate_dissipation_W", {"plate_V": 400.0, "cathode_mA": 40.0}, "screen_mA", [39.9], [40.0]),
    ("bias.plate_dissipation_W", {"plate_V": 400.0, "cathode_mA": 40.0}, "cathode_V", [399.0], [400.0]),
    ("bias_divider.ground_resistor_ohm", {"source_V": -60.0, "series_ohm": 15e3}, "wanted_V", [-0.5, -59.5],
     [0.0, -60.0, 36.0]),
    ("bias_divider.ground_resistor_ohm", {"source_V": -60.0, "series_ohm": 15e3, "trimmer_ohm": 30e3}, "wanted_V",
     [-21.0], [-20.0]),
    ("bias_divider.series_resistor_ohm", {"source_V": -60.0, "ground_ohm": 15e3, "trimmer_ohm": 30e3}, "wanted_V",
     [-39.0], [-40.0]),
    ("inverter.long_tail_headroom_V", {"plate_V": 200.0, "cathode_V": 50.0}, "supply_V", [200.0], [199.0]),
    ("inverter.long_tail_headroom_V", {"plate_V": 200.0, "supply_V": 300.0}, "cathode_V", [199.0], [200.0]),
    ("inverter.split_load_headroom_V", {"plate_V": 200.0, "cathode_V": 50.0}, "supply_V", [200.0], [199.0]),
    ("inverter.split_load_headroom_V", {"plate_V": 200.0, "supply_V": 300.0}, "cathode_V", [199.0], [200.0]),
    ("leakage.leakage_ohm", {"source_V": 250.0, "grid_leak_ohm": 1e6}, "grid_V", [249.0], [250.0]),
    ("parts.colour_ohm", {}, "bands",
     ["brown black red", "brown black black red brown", "brown black black red brown red"],
     ["brown black", "brown black black red brown red red"]),
    ("parts.code_for_F", {}, "capacitance_F", [0.1e-12, 990e-6], [0.099e-12, 996e-6]),
    ("parts.bands_for_ohm", {}, "resistance_ohm", [0.01, 99e9], [0.0099, 1e12]),
    ("parts.fuse_A", {"mains_V": 100.0}, "consumption_W", [600.0], [601.0]),  # 10 A is the largest
    ("pot.taper_mid_percent", {}, "readings", ["0=1k 5=2k 10=9k"], ["0=1k 10=9k", "0=1k 5=2k 10.1=9k", "-0.1=1k 5=2k 10=9k"]),
    ("pot.taper_mid_percent", {"readings": "5=1k 6=2k 7=9k", "dial_low": 5.0}, "dial_high", [7.0], [5.0, 6.9]),
    ("pot.end_hop_percent", {"total_ohm": 9e3}, "readings", ["0=0 5=2k 10=9k"], ["1=0 5=2k 10=9k", "0=0 5=2k 9=9k"]),
    ("power_stage.single_output_W", {"tube": "6V6GT", "plate_V": 250.0, "screen_V": 250.0, "load_ohm": 5e3}, "bias_V",
     [-0.5], [0.0, 0.5]),
    ("preferred.resistor_rating_W", {"dissipated_W": 0.1}, "ambient_C", [154.0], [155.0, 156.0]),
    ("speaker.lead_ohm", {"length_m": 1.0}, "gauge", [-3.0, 40.0], [-3.5, 40.5]),
    ("stage.plate_current_mA", {"supply_V": 300.0, "plate_load_ohm": 100e3}, "plate_V", [300.0], [300.1]),
    ("supply.dropper_ohm", {"from_V": 300.0, "current_mA": 5.0}, "to_V", [299.9], [300.0]),
    # 20 H and 8 uF against 120 Hz are far below resonance; a hundredth of each is above it
    ("supply.choke_ripple_rms_V", {"output_V": 300.0, "filter_F": 8e-6}, "choke_H", [0.23], [0.2]),
    ("supply.section_ripple_ratio", {"filter_F": 8e-6}, "choke_H", [0.23], [0.2]),
    ("tone.cut_dB", {"setting_percent": 50.0}, "note_Hz", [20.0], [0.0]),
    ("tone.stack_dB", {"note_Hz": 1e3}, "treble_percent", [0.0, 100.0], [-0.5, 100.5]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "known", "moved", "fine", "refused"), TAKEN)
def test_what_can_be_is_taken_and_what_can_not_be_is_refused(
    name: str, known: dict[str, float | str], moved: str, fine: list[float | str], refused: list[float | str]
) -> None:
    for value in fine:
        assert catalogue.find(name)(**known, **{moved: value}).name
    for value in refused:
        with pytest.raises(ValueError, match=r"\w{3,} \w+"):
            catalogue.find(name)(**known, **{moved: value})
