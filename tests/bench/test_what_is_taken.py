"""What a calculation takes when nothing is said, how far a number may go, and the stock sizes of the trade.

Common practice, no source, where none is named.
"""

from __future__ import annotations

import pytest
from chopstick.engine.bench import catalogue, parts, preferred, speaker, supply
from chopstick.engine.bench.notation import NotationError, parse
from chopstick.engine.bench.units import PREFIXED, UNITS

USUAL = {
    "mains_Hz": 60, "mains_V": 120, "designed_V": 117, "nominal_V": 6.3, "ripple_Hz": 120, "safe_V": 50,
    "mu": 100, "plate_resistance_ohm": 62500,  # a 12AX7 at 250 V
    "source_per_plate_ohm": 75, "next_grid_leak_ohm": 1e6, "sense_ohm": 1, "tubes": 1, "gauge": 18, "ambient_C": 60,
    "meter_percent": 1, "treble_percent": 50, "bass_percent": 50, "mid_percent": 50, "slope_ohm": 100e3,
    "treble_F": 250e-12, "bass_F": 100e-9, "mid_F": 47e-9, "treble_ohm": 250e3, "bass_ohm": 250e3, "mid_ohm": 10e3,
    "load_ohm": 1e6, "load_F": 150e-12, "volume_ohm": 1e6, "pot_ohm": 250e3, "capacitor_F": 22e-9, "note_Hz": 2000,
    "dial_high": 10,
}  # fmt: skip
# what is taken differently from one calculation to another
OWN = {
    ("bias.shunt_current_mA", "meter_ohm"): 1,  # a milliammeter; the voltmeters are of 10 megohm
    ("parts.bands_for_ohm", "tolerance_percent"): 5,
    ("parts.tolerance_share_percent", "tolerance_percent"): 10,
    ("bias_divider.ground_resistor_ohm", "trimmer_percent"): 50,
    ("bias_divider.series_resistor_ohm", "trimmer_percent"): 50,
    ("tone.stack_dB", "source_ohm"): 38e3,
    **{(name, "source_ohm"): 50e3 for name in ("tone.cut_dB", "tone.treble_bleed_dB", "pot.spread_percent",
                                               "pot.best_spread_percent")},
    **{(name, "meter_ohm"): 10e6 for name in catalogue.names() if name.startswith("leakage.")},
}  # fmt: skip


def test_what_is_left_out_is_taken_as_usual_or_as_not_there() -> None:
    unusual = [
        (name, one.name, one.default)
        for name in catalogue.names()
        for one in catalogue.parameters(catalogue.find(name))
        if not one.required and not one.word and one.default is not None
        and one.default != OWN.get((name, one.name), USUAL.get(one.name, 0))
    ]  # fmt: skip
    assert unusual == []


# as typed: the lowest and the highest that is taken, and what is a little further
RANGES = {
    "V": (-2000, 2000), "mV": (-2e6, 2e6), "mA": (-10_000, 10_000), "A": (-100, 100), "ohm": (0, 1e12), "F": (0, 0.01),
    "H": (0, 10_000), "Hz": (0, 10e6), "W": (0, 5000), "dB": (-300, 300), "percent": (-10_000, 10_000),
    "C": (-60, 400), "s": (0, 1e7), "minutes": (0, 1e5), "m": (0, 1000), "mm2": (0, 1000), "count": (0, 1e6),
    "ratio": (-1e9, 1e9),
}  # fmt: skip


@pytest.mark.parametrize("unit", UNITS)
def test_how_far_a_number_may_go_on_a_bench(unit: str) -> None:
    symbol = UNITS[unit].symbol if UNITS[unit].symbol in PREFIXED else ""
    for sign, end in zip((-1, 1), RANGES[unit], strict=True):
        typed = {"mV": f"{end / 1000:.12g} V", "mA": f"{end / 1000:.12g} A"}.get(unit, f"{end:.12g} {symbol}")
        beyond = end + sign * max(abs(end) * 1e-10, 1e-9)
        assert parse(typed, unit).value == pytest.approx(end)
        with pytest.raises(NotationError, match="no tube amplifier"):
            parse(
                {"mV": f"{beyond / 1000:.14g} V", "mA": f"{beyond / 1000:.14g} A"}.get(unit, f"{beyond:.14g} {symbol}"),
                unit,
            )


def next_size(name: str, moved: str, sizes: tuple[float, ...], share: float, **known: float | str) -> None:
    """Each size serves to its full value and no further; beyond the last there is none."""
    size = catalogue.find(name)
    for here, above in zip(sizes, (*sizes[1:], None), strict=True):
        assert size(**known, **{moved: here * share * (1 - 1e-9)}).value == here
        if above is None:
            with pytest.raises(ValueError, match=r"takes|beyond"):
                size(**known, **{moved: here * share * 1.001})
        else:
            assert size(**known, **{moved: here * share * 1.001}).value == above


def test_stock_sizes() -> None:
    film = (100, 200, 250, 400, 600, 630, 1000, 1250, 1600)
    next_size("preferred.capacitor_rating_V", "working_V", film, 1 / 1.25)  # a quarter in hand
    electrolytic = (6.3, 10, 16, 25, 35, 50, 63, 100, 160, 250, 350, 400, 450, 500, 600)
    next_size("preferred.capacitor_rating_V", "working_V", electrolytic, 1 / 1.1, kind="electrolytic")
    next_size("preferred.capacitor_rating_V", "working_V", film, 1, margin_percent=0)
    watts = (0.125, 0.25, 0.5, 1, 2, 3, 5, 7, 10, 15, 20, 25, 50, 100)
    next_size("preferred.resistor_rating_W", "dissipated_W", watts, 0.5)
    # IEC 60127, from memory: the R10 series; the inch sizes beside it are the American ones
    fuses = (0.25, 0.315, 0.4, 0.5, 0.63, 0.75, 0.8, 1, 1.25, 1.5, 1.6, 2, 2.5, 3, 3.15, 4, 5, 6.3, 8, 10)
    next_size("parts.fuse_A", "consumption_W", fuses, 100 * 0.9 / 1.5, mains_V=100)


def test_lamp_sizes_for_the_first_power() -> None:
    lamps = (25, 40, 60, 75, 100, 150, 200)
    for here, above in zip(lamps, (*lamps[1:], 200), strict=True):
        assert supply.limiter_lamp_W(consumption_W=here).value == here
        assert supply.limiter_lamp_W(consumption_W=here + 0.5).value == above


def test_a_hot_place_takes_its_share_of_the_rating() -> None:
    # film resistors as usual: full power to 70 C, none at 155 C
    for ambient_C, share in ((69, 1.0), (70, 1.0), (87, 0.8), (138, 0.2)):
        worked = preferred.resistor_rating_W(dissipated_W=1, ambient_C=ambient_C)
        assert f"{100 * share:.3g} %" in worked.steps[0]
        assert f"2 x 1 W / {share:.3g} = {2 / share:.3g} W" in worked.steps[1]


@pytest.mark.parametrize(
    ("dc_ohm", "nominal_ohm"), [(1.6, 2), (2.6, 3.2), (3.2, 4), (6.4, 8), (12.8, 16), (25.6, 32), (5.4, 8), (6.0, 8)]
)
def test_nominal_impedance_of_a_speaker(dc_ohm: float, nominal_ohm: float) -> None:
    worked = speaker.nominal_ohm(dc_ohm=dc_ohm)
    assert worked.value == nominal_ohm
    assert worked.verdict == ""


def test_a_speaker_between_two_nominals_is_looked_at() -> None:
    # 67.5 to 93.5 percent of nominal is let pass
    said = {dc_ohm: speaker.nominal_ohm(dc_ohm=dc_ohm).verdict for dc_ohm in (5.35, 5.45, 7.43, 7.53)}
    assert [bool(verdict) for verdict in said.values()] == [True, False, False, True]


def test_letters_of_tolerance() -> None:
    # IEC 60062, from memory
    letters = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1, "G": 2, "J": 5, "K": 10, "M": 20}
    for letter, percent in letters.items():
        assert parts.marked_ohm(code=f"4R7{letter}").verdict == f"{percent:g} %"
        assert parts.marked_F(code=f"473{letter}").verdict == f"{percent:g} %"
    assert parts.marked_F(code="473Z").verdict == "+80/-20 %"


def test_colours_of_tolerance_both_ways() -> None:
    # IEC 60062, from memory
    colours = {"brown": 1, "red": 2, "orange": 0.05, "yellow": 0.02, "green": 0.5, "blue": 0.25, "violet": 0.1,
               "grey": 0.01, "gold": 5, "silver": 10}  # fmt: skip
    for colour, percent in colours.items():
        assert parts.colour_ohm(bands=f"brown black black red {colour}").verdict == f"{percent:g} %"
        assert parts.bands_for_ohm(resistance_ohm=4700, tolerance_percent=percent).verdict.split()[-1] == colour
    assert parts.bands_for_ohm(resistance_ohm=4700, tolerance_percent=20).verdict == "yellow violet red"
    assert parts.bands_for_ohm(resistance_ohm=4700, tolerance_percent=2).verdict == "yellow violet black brown red"
    assert parts.colour_ohm(bands="brown black pink").value == pytest.approx(0.01)
