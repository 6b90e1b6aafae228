"""More of one thing is more, or less, of another: the bench's sums never turn round."""

from __future__ import annotations

from chopstick.engine.bench import coupling, leakage, rectifier_swap, speaker, stage, supply
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount

more = st.floats(1.01, 5)


@given(st.floats(1e-10, 1e-5), st.floats(1e3, 1e7), more)
def test_a_larger_coupling_capacitor_or_load_turns_lower(farads: float, ohms: float, factor: float) -> None:
    corner = coupling.corner_Hz(coupling_F=farads, load_ohm=ohms).value
    assert coupling.corner_Hz(coupling_F=farads * factor, load_ohm=ohms).value < corner
    assert coupling.corner_Hz(coupling_F=farads, load_ohm=ohms * factor).value < corner


@given(st.floats(1, 200), st.floats(1, 200), st.floats(1, 2000))
def test_a_cascade_turns_above_each_of_its_corners_and_below_their_sum(one: float, two: float, note: float) -> None:
    together = coupling.cascade_corner_Hz(corner_Hz=one, second_Hz=two).value
    assert max(one, two) < together <= (one + two) * (1 + 1e-9)
    both = coupling.loss_dB(frequency_Hz=note, corner_Hz=one, second_Hz=two).value
    assert both <= coupling.loss_dB(frequency_Hz=note, corner_Hz=one).value <= 0


@given(st.floats(0.01, 50), st.floats(100, 500), st.floats(1e4, 2e6), more)
def test_more_dc_on_a_grid_is_a_leakier_capacitor(grid_V: float, source_V: float, leak: float, factor: float) -> None:
    found = leakage.leakage_ohm(grid_V=grid_V, source_V=source_V, grid_leak_ohm=leak).value
    assert leakage.leakage_ohm(grid_V=grid_V * 1.01, source_V=source_V, grid_leak_ohm=leak).value < found
    shift = leakage.bias_shift_V(source_V=source_V, leakage_ohm=1e6, grid_leak_ohm=leak).value
    assert leakage.bias_shift_V(source_V=source_V, leakage_ohm=1e6 * factor, grid_leak_ohm=leak).value < shift


@given(st.floats(60, 900), st.floats(1e-6, 5e-4), st.floats(1e3, 1e6), more)
def test_bleeding_takes_longer_from_higher_and_through_more(
    volts: float, farads: float, ohms: float, factor: float
) -> None:
    seconds = supply.bleed_s(start_V=volts, capacitance_F=farads, bleeder_ohm=ohms).value
    assert supply.bleed_s(start_V=volts * 1.1, capacitance_F=farads, bleeder_ohm=ohms).value > seconds
    assert supply.bleed_s(start_V=volts, capacitance_F=farads, bleeder_ohm=ohms * factor).value > seconds


@given(st.floats(10, 200), st.floats(5e-6, 2e-4), more)
def test_more_load_or_less_capacitance_is_more_ripple(load_mA: float, farads: float, factor: float) -> None:
    ripple = supply.ripple_rms_V(load_mA=load_mA, reservoir_F=farads).value
    assert supply.ripple_rms_V(load_mA=load_mA * factor, reservoir_F=farads).value > ripple
    assert supply.ripple_rms_V(load_mA=load_mA, reservoir_F=farads * factor).value < ripple
    assert supply.ripple_rms_V(load_mA=load_mA, reservoir_F=farads, rectification="half wave").value > ripple
    assert supply.ripple_rms_V(load_mA=load_mA, reservoir_F=farads, mains_Hz=50).value > ripple


@settings(max_examples=amount(5, 150))
@given(st.floats(250, 500), st.floats(30, 120))
def test_a_stiffer_rectifier_never_lowers_the_supply(volts: float, load_mA: float) -> None:
    def swapped(wanted: str) -> float:
        return rectifier_swap.new_supply_V(present_V=volts, load_mA=load_mA, present="5Y3GT", wanted=wanted).value

    assert volts < swapped("5V4GA") < swapped("5AR4") < swapped("silicon")


@settings(max_examples=amount(12, 400))
@given(st.floats(150, 400), st.floats(47e3, 470e3), st.floats(680, 10e3), more)
def test_a_larger_cathode_resistor_lets_less_current_flow(
    supply_V: float, load: float, cathode: float, factor: float
) -> None:
    def current(resistor: float) -> float:
        return stage.expected_current_mA(
            supply_V=supply_V, plate_load_ohm=load, cathode_resistor_ohm=resistor
        ).value  # fmt: skip

    assert current(cathode * factor) < current(cathode)


@given(st.floats(0.5, 20), st.floats(10, 30))
def test_a_thicker_lead_loses_less(metres: float, gauge: float) -> None:
    thin = speaker.lead_loss_percent(length_m=metres, load_ohm=8, gauge=gauge).value
    assert speaker.lead_loss_percent(length_m=metres, load_ohm=8, gauge=gauge - 1).value < thin
