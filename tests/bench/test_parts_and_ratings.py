"""Parts by their markings and by pairs, lamps, and whose rating counts."""

from __future__ import annotations

import pytest
from chopstick.engine.bench import bias, limits, parts
from chopstick.engine.bench.laws import pentode_law, triode_law
from chopstick.engine.reference.tables import load


def test_a_bad_band_is_named_by_its_place() -> None:
    for bands, place in [
        ("mauve black red gold", "band 1 can't"), ("brown mauve red gold", "band 2 can't"),
        ("brown black mauve gold", r"band 3 \(multiplier\)"), ("brown black red mauve", r"band 4 \(tolerance\)"),
        ("brown black mauve red brown", "band 3 can't"), ("brown black black mauve brown", r"band 4 \(multiplier\)"),
        ("brown black black red mauve", r"band 5 \(tolerance\)"),
    ]:  # fmt: skip
        with pytest.raises(ValueError, match=place):
            parts.colour_ohm(bands=bands)


def test_a_lamp_on_low_volts_lives_longer_and_draws_a_little_less() -> None:
    # miniature lamp catalogues, from memory: life as the -12th power of the volts, current as the 0.55th
    worked = parts.lamp_light_percent(lamp="#47", lamp_V=5.67)
    assert worked.steps[0] == "5.67 V / 6.3 V = 0.9; light 0.9^3.5 = 69.2 %"
    assert worked.steps[1] == f"life {3000 * 0.9**-12:.3g} h, current {150 * 0.9**0.55:.4g} mA"
    assert worked.name == "light of a #47 lamp"


def test_a_lamp_of_another_base_or_for_fewer_volts_is_no_stand_in() -> None:
    lamps = load().lamps
    for name, fitted in lamps.items():
        for other, wanted in lamps.items():
            verdict = parts.lamp_swap_percent(fitted=name, wanted=other).verdict
            assert ("another base" in verdict) == (fitted.base != wanted.base)
            assert ("won't last" in verdict) == (wanted.V < fitted.V)
            assert verdict not in ("brighter", "dimmer or alike") or (
                (verdict == "brighter") == (wanted.candlepower > fitted.candlepower)
            )


def test_pairs_come_nearer_than_a_single_value_and_no_other_pair_is_nearer() -> None:
    e12 = [
        digits * 10.0**decade for decade in range(-1, 6) for digits in (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
    ]
    for wanted, connection in ((235.0, "parallel"), (7770.0, "parallel"), (130.0, "series"), (9710.0, "series")):
        worked = parts.pair_for_ohm(wanted_ohm=wanted, connection=connection)
        together = [
            one * two / (one + two) if connection == "parallel" else one + two
            for one in e12 for two in e12 if max(one, two) < 100 * wanted and min(one, two) > wanted / 100
        ]  # fmt: skip
        least = min(abs(made / wanted - 1) for made in together)
        assert abs(worked.value / wanted - 1) == pytest.approx(least, abs=1e-6)
        assert worked.name == f"two in {connection}"
    with pytest.raises(ValueError, match="more than zero"):
        parts.pair_for_ohm(wanted_ohm=0)


def test_heater_and_cathode_either_way_round() -> None:
    # US maker T 12AU7, Oct 1962: heater 200 V negative of the cathode, 100 V positive of it
    assert limits.heater_cathode_percent(cathode_V=50, heater_V=0, tube="12AU7").value == pytest.approx(25)
    assert limits.heater_cathode_percent(cathode_V=0, heater_V=50, tube="12AU7").value == pytest.approx(50)
    with pytest.raises(ValueError, match="which tube is fitted"):
        limits.heater_cathode_percent(cathode_V=50)


def test_a_rating_by_hand_wins_and_one_from_memory_is_said_to_be() -> None:
    given = limits.plate_voltage_percent(plate_V=400, tube="6V6GT", rating_V=500)
    assert given.value == pytest.approx(80)
    assert "rating as given" in given.steps[1]
    assert not given.warnings
    assert not limits.plate_voltage_percent(plate_V=300, tube="6V6GT").warnings
    remembered = limits.plate_voltage_percent(plate_V=300, tube="6V6GTA")
    assert any("from memory" in warning and "confirm it" in warning for warning in remembered.warnings)
    with pytest.raises(ValueError, match="nearest: 6V6"):
        limits.plate_voltage_percent(plate_V=300, tube="6V7")
    with pytest.raises(ValueError, match="design center"):
        limits.plate_voltage_percent(plate_V=300, tube="6V6GT", system="absolute maximum")
    with pytest.raises(ValueError, match="give its plate W rating"):
        bias.plate_dissipation_percent(plate_V=300, cathode_mA=30)
    with pytest.raises(ValueError, match="no screen current of a 12AX7 is on file"):
        bias.screen_current_mA(cathode_mA=30, tube="12AX7")


def test_no_tube_named_takes_the_middle_of_the_trades_5_to_10_per_cent_for_the_screen() -> None:
    worked = bias.screen_current_mA(cathode_mA=43)
    assert worked.value == pytest.approx(3)
    assert "7.5 %" in worked.steps[0]


def test_every_tube_on_file_has_the_law_of_its_kind_and_no_other() -> None:
    for name in load().tubes:
        words = []
        for law in (triode_law, pentode_law):
            try:
                law(name)
            except ValueError as refusal:
                words.append(str(refusal))
        assert len(words) == 1, name
        assert words[0] in (
            f"the {name} is not a triode, which this is worked out for",
            f"the {name} is not a pentode or beam tube, which this is worked out for",
        )
    with pytest.raises(ValueError, match="no tube called '12AX8' is on file; nearest: 12AX7"):
        triode_law("12AX8")


def test_grid_resistance_by_kind_of_bias_or_by_the_one_figure_a_sheet_has() -> None:
    reference = load()
    seen = set()
    for name in reference.tubes:
        for bias_ in ("fixed", "cathode"):
            for key in (f"grid_resistor_{bias_}_bias_ohm", "grid_resistor_ohm"):
                try:
                    limit = reference.limit(name, key).value
                except LookupError:
                    continue
                seen.add(key)
                share = limits.grid_resistor_percent(grid_resistor_ohm=limit, tube=name, bias=bias_)
                assert share.value == 100
                assert share.verdict == "within"
                break
    assert seen == {"grid_resistor_fixed_bias_ohm", "grid_resistor_cathode_bias_ohm", "grid_resistor_ohm"}


def test_heater_to_cathode_falls_back_to_what_a_sheet_has() -> None:
    reference = load()
    for name in reference.tubes:
        keys = ("heater_negative_V", "heater_cathode_V", "heater_cathode_peak_V")
        known = [key for key in keys if _has(name, key)]
        if known:
            limit = reference.limit(name, known[0]).value
            assert limits.heater_cathode_percent(cathode_V=limit, tube=name).value == 100
        else:
            with pytest.raises(ValueError, match="no heater_negative_V"):
                limits.heater_cathode_percent(cathode_V=50, tube=name)


def _has(name: str, key: str) -> bool:
    try:
        return bool(load().limit(name, key))
    except LookupError:
        return False
