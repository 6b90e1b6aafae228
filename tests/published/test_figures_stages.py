"""Stages, inverters, transformers and speakers against printed examples. The source stands beside each check."""

from __future__ import annotations

import math

import pytest
from chopstick.engine.bench import inverter, speaker, stage, transformer


@pytest.mark.parametrize(
    ("mu", "plate_resistance_ohm", "load_ohm", "gain"),
    [
        (100, 80_000, 149_855, 65.2),  # tube tutorial page, examples 4.1 and 4.2: 12AX7, 220 k beside 470 k
        (60, 10_900, 3000, 12.9),  # the same page, 12AT7 into 3 k
        (17, 7700, 3000, 4.77),  # the same page, 12AU7
        (100, 80_000, 3000, 3.61),  # the same page, 12AX7
        (97, 109_000, 235_000, 66),  # Brimar (STC) 12AX7 report, Mar 1950, p. 3-4
        (15.4, 19_000, 82_000, 12.5),  # Brimar (STC) 12AU7 report, p. 4
    ],
)
def test_gain_of_a_stage_as_printed(mu: float, plate_resistance_ohm: float, load_ohm: float, gain: float) -> None:
    worked = stage.simple_gain_ratio(mu=mu, plate_resistance_ohm=plate_resistance_ohm, load_ohm=load_ohm)
    assert worked.value == pytest.approx(gain, rel=0.005)


# Philips ECC82 sheet 939 4715, p. 2: supply V, load, next grid leak, cathode resistor (ohm), plate mA, gain
ECC82 = [
    (100, 47e3, 150e3, 1200, 1.2, 13.5),
    (250, 47e3, 150e3, 1200, 3.02, 13.5),
    (400, 47e3, 150e3, 1200, 5.0, 13.5),
    (100, 100e3, 330e3, 2200, 0.66, 14),
    (250, 100e3, 330e3, 2200, 1.63, 14),
    (400, 100e3, 330e3, 2200, 2.62, 14),
]


@pytest.mark.parametrize(("supply_V", "load", "leak", "cathode", "plate_mA", "gain"), ECC82)
def test_ecc82_stage_current_and_gain(
    supply_V: float, load: float, leak: float, cathode: float, plate_mA: float, gain: float
) -> None:
    current = stage.expected_current_mA(
        supply_V=supply_V, plate_load_ohm=load, cathode_resistor_ohm=cathode, tube="ECC82"
    )
    assert current.value == pytest.approx(plate_mA, rel=0.03)
    worked = stage.gain_ratio(
        supply_V=supply_V, plate_load_ohm=load, cathode_resistor_ohm=cathode, next_grid_leak_ohm=leak, tube="ECC82"
    )
    assert worked.value == pytest.approx(gain, rel=0.06)


# Brimar (STC) 12AX7 report, Mar 1950, p. 3, at 250 V: load, next grid leak, cathode resistor, peak output
BRIMAR = [
    (100e3, 220e3, 1500, 47),
    (100e3, 470e3, 1700, 55),
    (220e3, 220e3, 2200, 45),
    (220e3, 470e3, 2800, 57),
    (470e3, 470e3, 4300, 51),
    (470e3, 1e6, 5200, 64),
]


@pytest.mark.parametrize(("load", "leak", "cathode", "peak_V"), BRIMAR)
def test_12ax7_peak_output_to_grid_current(load: float, leak: float, cathode: float, peak_V: float) -> None:
    worked = stage.headroom_V(
        supply_V=250, plate_load_ohm=load, cathode_resistor_ohm=cathode, next_grid_leak_ohm=leak, tube="12AX7"
    )
    assert worked.value == pytest.approx(peak_V, rel=0.08)


# RCA resistance-coupled chart for 12AX7, 300 V, from memory: load, next grid leak, cathode resistor, gain
@pytest.mark.parametrize(
    ("load", "leak", "cathode", "gain"),
    [(100e3, 220e3, 1500, 52), (100e3, 470e3, 1700, 57), (220e3, 470e3, 2800, 65), (470e3, 1e6, 5200, 73)],
)
def test_12ax7_gain_at_300_V(load: float, leak: float, cathode: float, gain: float) -> None:
    worked = stage.gain_ratio(supply_V=300, plate_load_ohm=load, cathode_resistor_ohm=cathode, next_grid_leak_ohm=leak)
    assert worked.value == pytest.approx(gain, rel=0.06)


def test_the_load_line_meets_the_tube_at_the_operating_point() -> None:
    worked = stage.expected_current_mA(supply_V=300, plate_load_ohm=100e3, cathode_resistor_ohm=1500)
    assert worked.curve is not None
    lines = {name: (x, y) for name, x, y in worked.curve.lines}
    (volts,), (current,) = lines["operating point"]
    assert current == pytest.approx(worked.value)
    (_, foot), (top, _) = lines["load line"]
    assert current == pytest.approx(top * (1 - volts / foot))


def test_plate_and_cathode_of_one_stage_carry_one_current() -> None:
    # Ohm's law: 1 mA in both
    sound = stage.current_mismatch_percent(
        supply_V=300, plate_V=200, plate_load_ohm=100e3, cathode_V=1.5, cathode_resistor_ohm=1500
    )
    assert sound.value == pytest.approx(0)
    leaky = stage.current_mismatch_percent(
        supply_V=300, plate_V=150, plate_load_ohm=100e3, cathode_V=1.0, cathode_resistor_ohm=1500
    )
    assert "coupling capacitor leaks" in leaky.verdict
    assert stage.plate_current_mA(supply_V=300, plate_V=200, plate_load_ohm=100e3).value == pytest.approx(1)


def test_split_load_inverter() -> None:
    # textbook identity: mu 100, rp 80 k, R 56 k
    assert inverter.split_load_gain_ratio(
        load_ohm=56e3, mu=100, plate_resistance_ohm=80e3
    ).value == pytest.approx(0.9669, abs=1e-4)  # fmt: skip
    # Brimar (STC) 12AX7 report, Mar 1950, drawing VAD/313.66: 100 k beside 220 k on both sides
    printed = inverter.split_load_gain_ratio(load_ohm=68_750, mu=100, plate_resistance_ohm=80e3).value
    assert printed == pytest.approx(0.9693, abs=1e-4)
    # 108 times from input to grid-to-grid leaves about 56 for the first stage, 220 k with 3.3 k at 250 V
    first = stage.gain_ratio(supply_V=250, plate_load_ohm=220e3, cathode_resistor_ohm=3300, next_grid_leak_ohm=470e3)
    assert 108 / (2 * printed) == pytest.approx(55.71, abs=0.02)
    assert first.value == pytest.approx(108 / (2 * printed), rel=0.15)


def test_split_load_balance_is_that_of_its_loads() -> None:
    # textbook identity: loads 5 percent apart give outputs 5 percent apart
    assert inverter.split_load_imbalance_percent(plate_load_ohm=58_800, cathode_load_ohm=56e3).value == pytest.approx(5)


def test_split_load_leakage_shows_as_current_on_one_side() -> None:
    sound = {"supply_V": 300.0, "plate_load_ohm": 56e3, "cathode_load_ohm": 57.5e3}
    assert inverter.split_load_current_mismatch_percent(plate_V=244, cathode_V=57.5, **sound).verdict == "they agree"
    assert "coupling capacitor leaks" in inverter.split_load_current_mismatch_percent(
        plate_V=220, cathode_V=57.5, **sound
    ).verdict  # fmt: skip


def test_long_tailed_pair_wants_the_smaller_load_on_the_driven_side() -> None:
    # common practice, no source: 82 k and 100 k with a tail of some 10 to 22 k
    even = inverter.long_tail_imbalance_percent(one_load_ohm=100e3, other_load_ohm=100e3, tail_ohm=10e3)
    usual = inverter.long_tail_imbalance_percent(one_load_ohm=82e3, other_load_ohm=100e3, tail_ohm=10e3)
    assert even.value > 10
    assert abs(usual.value) < 5
    assert inverter.long_tail_current_mA(tail_V=34, tail_ohm=10_470).value == pytest.approx(3.247, abs=0.001)


def test_load_seen_by_a_tube_of_a_pair() -> None:
    # textbook identity: 8 k plate to plate is 4 k in class A and 2 k in class B
    worked = transformer.reflected_ohm(load_ohm=8, primary_V=100, secondary_V=100 / math.sqrt(1000))
    assert worked.value == pytest.approx(8000)
    assert "4 kΩ in class A, 2 kΩ in class B" in worked.steps[2]
    assert transformer.secondary_load_ohm(
        primary_ohm=8000, primary_V=100, secondary_V=100 / math.sqrt(1000)
    ).value == pytest.approx(8)  # fmt: skip


def test_mismatch_says_which_way_it_hurts() -> None:
    # common practice, no source
    assert transformer.load_mismatch_ratio(load_ohm=8, tap_ohm=8).verdict == "matched"
    high = transformer.load_mismatch_ratio(load_ohm=16, tap_ohm=8)
    assert high.verdict == "within two to one"
    assert "arcing" in high.warnings[0]
    assert "more plate current" in transformer.load_mismatch_ratio(load_ohm=2, tap_ohm=8).warnings[0]


def test_speakers_together_and_output() -> None:
    # Ohm's law
    four = {"one_ohm": 8.0, "two_ohm": 8.0, "three_ohm": 8.0, "four_ohm": 8.0}
    assert speaker.together_ohm(**four, wiring="series parallel").value == 8
    assert speaker.together_ohm(**four).value == 2
    assert "66.7 %, 33.3 %" in speaker.together_ohm(one_ohm=8, two_ohm=16).steps[1]
    assert speaker.output_W(rms_V=10.6, load_ohm=8).value == pytest.approx(14.0, abs=0.1)
    assert speaker.output_V(output_W=14, load_ohm=8).value == pytest.approx(10.58, abs=0.01)


@pytest.mark.parametrize(("gauge", "mm2", "milliohm_m"), [(18, 0.823, 20.95), (14, 2.08, 8.286), (22, 0.326, 52.96)])
def test_wire_tables(gauge: float, mm2: float, milliohm_m: float) -> None:
    # American wire gauge table, from memory: 6.385, 2.525 and 16.14 ohm per 1,000 feet
    per_m, area = speaker.wire_ohm_per_m(gauge)
    assert area == pytest.approx(mm2, rel=0.005)
    assert 1000 * per_m == pytest.approx(milliohm_m, rel=0.005)
    assert speaker.lead_ohm(length_m=3, gauge=gauge).value == pytest.approx(6 * per_m)
    loss = speaker.lead_loss_percent(length_m=3, load_ohm=8, gauge=gauge)
    assert loss.value == pytest.approx(100 * 6 * per_m / (6 * per_m + 8))
