"""Codes, tapers and lamps against published figures. The source stands beside each check."""

from __future__ import annotations

import pytest
from chopstick.engine.bench import parts, pot
from chopstick.engine.bench.parts import DIGITS
from hypothesis import given
from hypothesis import strategies as st


@pytest.mark.parametrize(
    ("bands", "ohms", "tolerance"),
    [
        # IEC 60062:2016 clause 3, from memory
        ("yellow violet orange gold", 47e3, "5 %"),
        ("brown black green silver", 1e6, "10 %"),
        ("red red black gold", 22, "5 %"),
        ("orange orange gold gold", 3.3, "5 %"),
        ("brown black black red brown", 10e3, "1 %"),
        ("yellow violet brown", 470, "20 %"),
    ],
)
def test_colour_bands(bands: str, ohms: float, tolerance: str) -> None:
    worked = parts.colour_ohm(bands=bands)
    assert worked.value == pytest.approx(ohms)
    assert worked.verdict == tolerance


@given(st.integers(10, 99), st.integers(-2, 7))
def test_bands_both_ways(digits: int, power: int) -> None:
    ohms = digits * 10.0**power
    assert parts.colour_ohm(bands=parts.bands_for_ohm(resistance_ohm=ohms).verdict).value == pytest.approx(ohms)


@given(st.lists(st.sampled_from([*DIGITS, "gold", "silver", "mauve", ""]), max_size=8))
def test_any_bands_are_a_value_or_refused_in_words(bands: list[str]) -> None:
    try:
        said: float | str = parts.colour_ohm(bands=" ".join(bands)).value
    except ValueError as refusal:
        said = str(refusal)
    assert isinstance(said, float) or "band" in said


@pytest.mark.parametrize(
    ("code", "farads", "tolerance"),
    [
        ("104K", 0.1e-6, "10 %"),  # capacitor code page
        ("107", 100e-6, ""),  # a distributor's guide to EIA capacitor markings
        ("473J", 47e-9, "5 %"),  # the same rule
        ("2A223K", 22e-9, "10 %"),  # with the EIA voltage code before it, from memory
        ("4n7", 4.7e-9, ""),  # IEC 60062, from memory
        (".05", 50e-9, ""),  # common practice, no source: bare decimals are microfarads
        ("250p", 250e-12, ""),
    ],
)
def test_capacitor_codes(code: str, farads: float, tolerance: str) -> None:
    worked = parts.marked_F(code=code)
    assert worked.value == pytest.approx(farads)
    assert worked.verdict == tolerance


@given(st.integers(10, 99), st.integers(-2, 7))
def test_capacitor_codes_both_ways(digits: int, zeros: int) -> None:
    # common practice, no source: 479 is 4.7 pF, 478 is 0.47 pF
    farads = digits * 10.0**zeros * 1e-12
    code = parts.code_for_F(capacitance_F=farads).verdict
    assert code == f"{digits}{zeros % 10}"
    assert parts.marked_F(code=code).value == pytest.approx(farads)


def test_marking_with_a_tolerance_letter() -> None:
    # IEC 60062 and a distributor's guide: J is 5 percent, K 10, M 20
    assert (parts.marked_ohm(code="4K7J").value, parts.marked_ohm(code="4K7J").verdict) == (4700, "5 %")
    assert (parts.marked_ohm(code="470R").value, parts.marked_ohm(code="470R").verdict) == (470, "")
    assert parts.marked_ohm(code="1M0M").verdict == "20 %"
    assert parts.marked_ohm(code="4M7").value == 4.7e6


@given(st.floats(0.1, 9e9))
def test_marking_codes_both_ways(ohms: float) -> None:
    code = parts.code_for_ohm(resistance_ohm=ohms).verdict
    assert parts.marked_ohm(code=code).value == pytest.approx(ohms, rel=6e-3)


def test_tolerance_verdict_admits_when_the_meter_cannot_tell() -> None:
    judge = {"marked_ohm": 100e3, "tolerance_percent": 10.0, "meter_percent": 1.0}
    assert parts.tolerance_share_percent(measured_ohm=105e3, **judge).verdict == "within"
    assert parts.tolerance_share_percent(measured_ohm=110.5e3, **judge).verdict == "can't tell"
    assert parts.tolerance_share_percent(measured_ohm=125e3, **judge).verdict == "outside"


def test_series_parallel_and_pairs() -> None:
    # Ohm's law
    assert parts.series_ohm(one_ohm=100, two_ohm=220).value == 320
    assert parts.parallel_ohm(one_ohm=220e3, two_ohm=100e3).value == pytest.approx(68_750)
    assert parts.pair_for_ohm(wanted_ohm=235).value == pytest.approx(235, rel=0.003)
    assert parts.pair_for_ohm(wanted_ohm=130, connection="series").value == pytest.approx(130)


def test_lamp_on_low_volts() -> None:
    # miniature lamp catalogues, from memory: light goes as the 3.5th power of the volts, life as the -12th
    assert parts.lamp_light_percent(lamp="#47", lamp_V=6.3).value == pytest.approx(100)
    assert parts.lamp_light_percent(lamp="47", lamp_V=5.0).value == pytest.approx(100 * (5 / 6.3) ** 3.5)
    assert parts.lamp_light_percent(lamp="47", lamp_V=5.0).verdict == "dim"


def test_a_brighter_lamp_draws_more() -> None:
    # lamp chart read (#47: 150 mA), lamp catalogues from memory (#44: 250 mA)
    swap = parts.lamp_swap_percent(fitted="47", wanted="44")
    assert swap.value == pytest.approx(100 * 250 / 150)
    assert swap.verdict == "brighter"
    assert parts.lamp_swap_percent(fitted="47", wanted="1847").verdict == "dimmer or alike"


def test_fuse_of_a_small_amp() -> None:
    # common practice, no source: a 2x6V6 amp of some 110 W at 120 V carries a 2 A time-lag fuse or near it
    assert 1.5 <= parts.fuse_A(consumption_W=110, mains_V=120).value <= 2
    assert parts.fuse_A(consumption_W=110, mains_V=240).value <= 1


@pytest.mark.parametrize(
    ("mid", "base"), [(0.10, 81.0), (0.15, 32.111), (0.20, 16.0), (0.30, 5.444)]
)  # published exponential form r = (b^x - 1) / (b - 1); the bases worked out apart from this code
def test_taper_law(mid: float, base: float) -> None:
    for x in (0.0, 0.25, 0.5, 0.8, 1.0):
        assert pot.share_at(x, mid) == pytest.approx((base**x - 1) / (base - 1), abs=2e-4)
        assert pot.share_at(x, 1 - mid) == pytest.approx(1 - pot.share_at(1 - x, mid))  # reverse taper


@pytest.mark.parametrize(("mid", "name"), [(0.10, "audio 10"), (0.50, "linear"), (0.90, "reverse audio 10")])
def test_tapers_by_their_middle(mid: float, name: str) -> None:
    # wiki page on identifying tapers: 10, 50 and 90 percent at half travel
    sweep = " ".join(f"{dial}={250_000 * pot.share_at(dial / 10, mid):.0f}" for dial in range(11))
    worked = pot.taper_mid_percent(readings=sweep)
    assert worked.verdict == name
    assert worked.value == pytest.approx(100 * mid, abs=0.5)


@given(st.floats(0.03, 0.97), st.floats(0.0, 1.0))
def test_taper_there_and_back(mid: float, x: float) -> None:
    assert pot.position_at(pot.share_at(x, mid), mid) == pytest.approx(x, abs=1e-6)


@given(st.floats(0.03, 0.97), st.floats(0.0, 0.99), st.sampled_from(pot.LAWS))
def test_every_taper_rises_from_nothing_to_all(mid: float, x: float, law: str) -> None:
    assert pot.share_at(0.0, mid, law) == pytest.approx(0)
    assert pot.share_at(1.0, mid, law) == pytest.approx(1)
    assert pot.share_at(0.5, mid, law) == pytest.approx(mid)
    assert pot.share_at(x + 0.01, mid, law) > pot.share_at(x, mid, law)


def test_a_worn_track_shows_as_a_dead_zone_and_a_step_back() -> None:
    # a linear 250 k control that does nothing from 2 to 4, and drops back at 7
    worn = "0=0 1=25k 2=50k 3=50k 4=50.5k 5=125k 6=150k 7=140k 8=200k 9=225k 10=250k"
    dead = pot.dead_zone_percent(readings=worn)
    assert dead.value == pytest.approx(20)
    assert "from 2 to 4" in dead.steps[0]
    back = pot.backward_step_percent(readings=worn)
    assert back.verdict == "worn or dirty"
    assert back.value == pytest.approx(4)
    good = "0=0 2=50k 4=100k 6=150k 8=200k 10=250k"
    assert pot.dead_zone_percent(readings=good).verdict == "none found"
    assert pot.dead_zone_percent(readings=good).value == 0
    assert pot.backward_step_percent(readings=good).value == 0
    assert pot.end_hop_percent(readings=good, total_ohm=250e3).verdict == "usual"
    assert pot.end_hop_percent(readings="0=20k 5=125k 10=250k", total_ohm=250e3).verdict == "open or worn end"
    assert pot.total_drift_percent(measured_ohm=320e3, marked_ohm=250e3).verdict == "out of tolerance"


def test_levels_read_at_the_wiper_serve_as_well_as_resistances() -> None:
    assert pot.taper_mid_percent(readings="0=1mV 2.5=21mV 5=100mV 7.5=0.36V 10=1V").verdict.startswith("audio 10")


@pytest.mark.parametrize(
    "readings", ["", "0=1k", "0=1k 5=2k 5=3k", "0=1k 5=x 10=3k", "0=1k 5=2V 10=3k", "0=0 5=0 10=0", "0=1 11=2 5=3"]
)
def test_sweeps_that_cannot_be_read_say_which_pair(readings: str) -> None:
    with pytest.raises(ValueError, match=r"reading|pair|dial|readings"):
        pot.taper_mid_percent(readings=readings)
