"""Which rectifier drops in for which, and what is said when it does not. Limits and their sources: kb/reference."""

from __future__ import annotations

import math

import pytest
from chopstick.engine.bench import cycle, rectifier_swap
from chopstick.engine.bench.laws import rectifier_law

PEAKS, WARM_UP = "give winding_rms_V", "directly heated: volts come up"
SWAPS = [
    ("5Y3GT", "5V4GA", {}, []),
    ("5V4GA", "5Y3GT", {}, []),
    ("5Y3GT", "5U4GB", {}, ["heater draws 3 A, the winding is known to give 2 A"]),
    ("5Y3GT", "5U4GB", {"winding_A": 3.0}, []),
    ("5Y3GT", "5U4GB", {"winding_A": 2.99}, ["heater draws 3 A, the winding is known to give 2.99 A"]),
    ("5V4GA", "5AR4", {}, []),  # 1.9 A against 2 A
    ("EZ80", "6X5GT", {}, ["the 6X5GT does not fit the socket of the EZ80"]),
    ("6X4", "EZ80", {}, ["the EZ80 does not fit the socket of the 6X4"]),
    ("6X4", "6X4", {}, []),
    ("EZ81", "EZ80", {}, []),
    ("5Y3GT", "EZ80", {}, ["heater 6.3 V against 5 V", "the EZ80 does not fit the socket of the 5Y3GT"]),
    ("silicon", "5Y3GT", {"winding_A": 2.0}, []),
    ("silicon", "5Y3GT", {"winding_A": 1.9}, ["heater draws 2 A, the winding is known to give 1.9 A"]),
    ("5Y3GT", "5V4GA", {"load_mA": 175.0}, []),
    ("5Y3GT", "5V4GA", {"load_mA": 176.0}, ["the DC load is 101 % of what the 5V4GA allows"]),
    ("5Y3GT", "5Y3GT", {"first_capacitor_F": 20e-6}, []),
    ("5Y3GT", "5Y3GT", {"first_capacitor_F": 21e-6}, ["the first capacitor is 105 % of what the 5Y3GT allows"]),
    ("5Y3GT", "5Y3GT", {"winding_rms_V": 550.0}, ["the peak inverse volts is 111 % of what the 5Y3GT allows"]),
]


@pytest.mark.parametrize(("present", "wanted", "more", "against"), SWAPS)
def test_what_stands_against_a_swap(present: str, wanted: str, more: dict[str, float], against: list[str]) -> None:
    known = {"load_mA": 60.0, "first_capacitor_F": 10e-6, **more}
    swap = rectifier_swap.drop_in_count(present=present, wanted=wanted, **known)
    assert swap.value == len(against)
    assert list(swap.steps) == (against or ["nothing on file rules it out"])
    assert swap.verdict == ("does not drop in" if against else "drops in")
    assert any(PEAKS in warning for warning in swap.warnings) == ("winding_rms_V" not in more)


@pytest.mark.parametrize(
    ("present", "wanted", "there"),
    [("5V4GA", "5Y3GT", True), ("5Y3GT", "5U4GB", False), ("5Y3GT", "5V4GA", False), ("5AR4", "5V4GA", False)],
)
def test_a_directly_heated_one_in_place_of_a_slow_one_is_warned_of(present: str, wanted: str, there: bool) -> None:
    swap = rectifier_swap.drop_in_count(present=present, wanted=wanted, load_mA=60, first_capacitor_F=10e-6)
    assert any(WARM_UP in warning for warning in swap.warnings) == there


def test_silicon_names() -> None:
    for name in ("silicon", "Solid-State", "diode", "diodes", " Silicon "):
        assert rectifier_swap.drop(name, 100) == rectifier_swap.drop("silicon", 100)
        assert rectifier_swap.drop_in_count(
            present="5Y3GT", wanted=name, load_mA=60, first_capacitor_F=10e-6
        ).verdict == "does not drop in"  # fmt: skip
    with pytest.raises(ValueError, match="silicon has no DC load on file"):
        rectifier_swap.output_current_percent(load_mA=60, rectifier="silicon")
    assert "about 1 V" in rectifier_swap.rectifier_drop_V(rectifier="silicon", load_mA=100).steps[0]


def test_a_tube_where_silicon_was_wants_a_heater_winding_that_nobody_knows_of() -> None:
    swap = rectifier_swap.drop_in_count(present="silicon", wanted="5Y3GT", load_mA=60, first_capacitor_F=10e-6)
    assert "no heater winding is known of, and the 5Y3GT wants 2 A: give winding_A" in swap.warnings


def test_what_is_from_memory_is_said_to_be() -> None:
    memory = "from memory: confirm it on the sheet"
    for rectifier, remembered in (("5Y3GT", False), ("EZ80", False), ("5U4GB", True), ("6X5GT", True)):
        drop = rectifier_swap.rectifier_drop_V(rectifier=rectifier, load_mA=60)
        assert any(memory in warning for warning in drop.warnings) == remembered
        share = rectifier_swap.output_current_percent(load_mA=60, rectifier=rectifier)
        assert any(memory in warning for warning in share.warnings) == remembered


def test_peak_inverse_volts_are_twice_the_peak_of_a_side_and_once_in_a_bridge() -> None:
    # textbook identity; 5Y3GT: 1400 V (RCA RC-30, from memory)
    tapped = rectifier_swap.peak_inverse_percent(winding_rms_V=350, rectifier="5Y3GT")
    assert tapped.value == pytest.approx(100 * 2 * 2**0.5 * 350 / 1400)
    bridge = rectifier_swap.peak_inverse_percent(winding_rms_V=350, rectifier="5Y3GT", wiring="bridge")
    assert bridge.value == pytest.approx(tapped.value / 2)


def test_a_supply_that_is_drawn_on_stands_below_the_peak_by_what_rectifier_and_winding_drop() -> None:
    """The mean current at the volts found is the load's, by the same pulses summed on a finer grid."""
    worked = rectifier_swap.winding_supply_V(
        winding_rms_V=350, load_mA=100, rectifier="5V4GA", source_per_plate_ohm=100
    )
    law = rectifier_law("5V4GA")
    steps, total = 5000, 0.0
    for index in range(steps):
        over = 350 * 2**0.5 * math.sin(math.pi * (index + 0.5) / steps) - law.threshold_V - worked.value
        low, high = 0.0, max(over, 0.0) / 100
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if 100 * middle + (middle / law.perveance) ** (2 / 3) < over else (low, middle)
        total += low / steps
    assert total == pytest.approx(0.1, rel=2e-3)


def test_with_a_choke_first_the_mean_current_decides() -> None:
    # 340 V and 60 mA through 5U4GB and 75 ohm, then 5AR4: only the drops of the tubes differ, the load follows
    worked = rectifier_swap.new_supply_V(present_V=340, load_mA=60, present="5U4GB", wanted="5AR4", first="choke")
    load_mA = 60 * worked.value / 340
    before = 340 + rectifier_swap.drop("5U4GB", 60) + 75 * 0.060
    assert worked.value == pytest.approx(before - rectifier_swap.drop("5AR4", load_mA) - 0.075 * load_mA, abs=1e-6)
    assert f"{before:.4g} V before the rectifier" in worked.steps[0]
    assert f"{load_mA:.4g} mA" in worked.steps[1]
    assert f"({worked.value - 340:+.3g} V)" in worked.steps[2]
    assert worked.warnings[-1] == "set the bias again after the swap"


def test_a_supply_that_has_settled_ripples_like_a_triangle_around_the_level_of_a_steady_one() -> None:
    # textbook identity: RMS of a triangle is peak to peak over 2 sqrt 3; the charging pulse rounds it a little
    known = {"winding_rms_V": 300.0, "load_mA": 60.0, "source_per_plate_ohm": 75.0}
    found = cycle.settled(
        **known, reservoir_F=100e-6, rectifier="5V4GA", mains_Hz=60.0, rectification="full wave"
    )  # fmt: skip
    steady = rectifier_swap.winding_supply_V(rectifier="5V4GA", **known)
    assert found.level_V == pytest.approx(steady.value, rel=0.01)
    assert found.ripple_rms_V == pytest.approx(found.ripple_V / (2 * math.sqrt(3)), rel=0.1)
    assert found.ripple_V < 60e-3 / (120 * 100e-6)
    # the mean of the pulses is the load: they are several times as high, shared by two plates in turn
    assert 3 * 60 < found.peak_mA < 15 * 60
    half = cycle.settled(
        **known, reservoir_F=100e-6, rectifier="5V4GA", mains_Hz=60.0, rectification="half wave"
    )  # fmt: skip
    assert half.level_V < found.level_V
    assert half.ripple_V > 1.8 * found.ripple_V
    words = cycle.words(found, "5V4GA", 300.0, 75.0, 60.0)
    assert words.startswith("one cycle of 300 V RMS a side (424.3 V peak) through 5V4GA and 75 ohm")
    assert words.endswith(f"{found.level_V:.4g} V at 60 mA")


@pytest.mark.parametrize(("load_mA", "given"), [(1.0, True), (400.0, True), (5000.0, False)])
def test_a_load_that_the_winding_can_not_give_is_refused(load_mA: float, given: bool) -> None:
    known = {"winding_rms_V": 300.0, "reservoir_F": 20e-6, "rectifier": "silicon", "source_per_plate_ohm": 75.0}
    if given:
        assert cycle.settled(**known, load_mA=load_mA, mains_Hz=60, rectification="Full-Wave").level_V > 0
    else:
        with pytest.raises(ValueError, match="can't give 5000 mA"):
            cycle.settled(**known, load_mA=load_mA, mains_Hz=60, rectification="full wave")
