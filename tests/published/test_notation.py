"""Marking codes against published examples, and the typing habits of the trade."""

from __future__ import annotations

import math

import pytest
from chopstick.engine.bench.notation import NotationError, give_or_take, marking, parse, show
from chopstick.engine.bench.units import UNITS
from hypothesis import given
from hypothesis import strategies as st

# Examples of an encyclopaedia article on the RKM code (IEC 60062)
PUBLISHED = {
    "R47": 0.47,
    "4R7": 4.7,
    "470R": 470,
    "4K7": 4700,
    "47K": 47e3,
    "47K3": 47.3e3,
    "470K": 470e3,
    "4M7": 4.7e6,
}


@pytest.mark.parametrize(("code", "ohms"), PUBLISHED.items())
def test_published_marking_codes_both_ways(code: str, ohms: float) -> None:
    assert parse(code, "ohm").value == pytest.approx(ohms)
    assert marking(ohms, "ohm") == code


# common practice, no source
TYPED = [
    ("4k7", "ohm", 4700),
    ("2n2", "F", 2.2e-9),
    ("0.022u", "F", 22e-9),
    (".022uF", "F", 22e-9),
    ("0.05 uF", "F", 50e-9),
    ("40µ", "F", 40e-6),
    ("250 mmf", "F", 250e-12),
    ("462.5", "V", 462.5),
    ("462.5 V", "V", 462.5),
    ("-38V", "V", -38),
    ("−38 V", "V", -38),
    ("6V3", "V", 6.3),
    ("30mV", "V", 0.03),
    ("0.03V", "mV", 30),
    ("60mA", "mA", 60),
    ("60", "mA", 60),
    ("0.06 A", "mA", 60),
    ("1M", "ohm", 1e6),
    ("1 meg", "ohm", 1e6),
    ("47R", "ohm", 47),
    ("8 Ω", "ohm", 8),
    ("120 c/s", "Hz", 120),
    ("65%", "percent", 65),
    ("90 s", "minutes", 1.5),
    ("40°C", "C", 40),
    ("4k7 ohm", "ohm", 4700),
    ("2n2F", "F", 2.2e-9),
    ("-6V3", "V", -6.3),
    ("6V3 V", "V", 6.3),
    ("L47", "ohm", 0.47),
    ("3 m", "m", 3),
    ("2.5 mm²", "mm2", 2.5),
    ("1.5 min", "s", 90),
    ("2 minutes", "minutes", 2),
    ("100 mmfd", "F", 100e-12),
    ("10 hy", "H", 10),
    ("10 h", "H", 10),
    ("5u", "V", 5e-6),
    ("60 m", "mA", 60),
    ("0" * 39 + "1", "V", 1),
]


@pytest.mark.parametrize(("text", "unit", "value"), TYPED)
def test_what_a_technician_types(text: str, unit: str, value: float) -> None:
    assert parse(text, unit) == (pytest.approx(value), unit)


REFUSED = [
    ("47R", "V", "that is a resistance; volts are wanted"),
    ("60mA", "V", "that is a current; volts are wanted"),
    ("4k7", "V", "resistance"),
    ("2n2", "ohm", "that reads as a capacitance; ohms are wanted"),
    ("1,5 k", "ohm", "a comma may mean"),
    ("4,535", "V", "a comma may mean"),
    ("1m", "ohm", "a milliohm or a megohm"),
    ("40mF", "F", "microfarad"),
    ("0.022", "F", "0.022u"),
    ("4535", "V", "decimal point"),
    ("60MA", "mA", "small m"),
    ("nan", "V", "can't be read"),
    ("inf", "V", "can't be read"),
    ("1e400", "V", "no tube amplifier"),
    ("", "V", "nothing was entered"),
    ("5²", "V", "not a number"),
    ("OL", "V", "open circuit"),
    ("twelve", "V", "can't be read"),
    ("0" * 40 + "1", "V", "that is not a number"),
    ("6V3 A", "V", "that is a current"),
    ("30 mm", "m", "not a unit known here"),
    ("10 mm", "V", "not a unit known here"),
    ("5k", "percent", "does not go with percent"),
    ("5k %", "percent", "not a unit known here"),
    ("40MF", "F", "microfarad"),
    ("1mohm", "ohm", "a milliohm or a megohm"),
    ("5MW", "W", "small m"),
    ("5MV", "V", "small m"),
    ("1k5 k", "ohm", "can't be read as ohms"),
    ("47", "F", "Was 47u or 47n meant"),
    ("5n", "A", "a capacitance; amperes are wanted"),
    ("5p", "V", "a capacitance; volts are wanted"),
    ("5k", "A", "a resistance; amperes are wanted"),
    ("5 µ", "Hz", "a capacitance; hertz are wanted"),
    ("3n", "W", "a capacitance; watts are wanted"),
    ("3k", "W", "a resistance; watts are wanted"),
    ("3k", "F", "a resistance; farads"),
    ("50 h", "Hz", "that is an inductance"),
    ("3 m", "s", "does not go with seconds"),
]


@pytest.mark.parametrize(("text", "unit", "why"), REFUSED)
def test_what_is_refused_says_why(text: str, unit: str, why: str) -> None:
    with pytest.raises(NotationError, match=why):
        parse(text, unit)


@pytest.mark.parametrize("text", ["OL", "o.l", "open", "∞"])
def test_an_open_circuit_where_one_can_be_read(text: str) -> None:
    assert math.isinf(parse(text, "ohm", allow_open=True).value)
    assert show(math.inf, "ohm") == "open circuit"


def outcome(text: str, unit: str, allow_open: bool = False) -> float | str:
    """The number, or the words it is refused with. Any other exception is a failure."""
    try:
        return parse(text, unit, allow_open).value
    except NotationError as refusal:
        return str(refusal)


@given(st.text(max_size=60), st.sampled_from(sorted(UNITS)), st.booleans())
def test_any_text_is_either_a_sane_number_or_refused_in_words(text: str, unit: str, allow_open: bool) -> None:
    result = outcome(text, unit, allow_open)
    assert (
        (isinstance(result, str) and len(result) > 10)
        or (allow_open and result == math.inf)
        or UNITS[unit].low <= float(result) <= UNITS[unit].high
    )


@given(st.text(alphabet="0123456789.eEkKmMunpµRVAWFHhzoOlL%°C+- ", max_size=12), st.sampled_from(sorted(UNITS)))
def test_near_misses_too(text: str, unit: str) -> None:
    result = outcome(text, unit)
    assert isinstance(result, str) or UNITS[unit].low <= result <= UNITS[unit].high


@given(st.sampled_from(sorted(UNITS)), st.floats(min_value=0.001, max_value=0.999))
def test_what_is_shown_reads_back(unit: str, share: float) -> None:
    value = 900e-6 * 1e-8 ** (1 - share) if unit == "F" else UNITS[unit].high * share
    assert parse(show(value, unit), unit).value == pytest.approx(value, rel=1e-3, abs=1e-15)


@given(st.floats(min_value=0.1, max_value=9e9))
def test_marking_codes_read_back(ohms: float) -> None:
    assert parse(marking(ohms, "ohm"), "ohm").value == pytest.approx(ohms, rel=6e-3)


SHOWN = [
    (0.0, "ohm", "0 Ω"), (0.5, "ohm", "0.5 Ω"), (0.99994, "ohm", "0.9999 Ω"), (1.0, "ohm", "1 Ω"), (4700, "ohm", "4.7 kΩ"),
    (-38.0, "V", "-38 V"), (1500.0, "mA", "1.5 A"), (20.0, "mA", "20 mA"), (0.5, "mV", "500 uV"), (9999.4, "percent", "9999 %"),
    (9999.6, "percent", "10000 %"), (-123456.0, "ratio", "-123456"), (90.0, "minutes", "90 min"), (2.5, "s", "2.5 s"),
    (1e-5, "ratio", "1e-05"), (2.5, "mm2", "2.5 mm²"), (12345.0, "s", "12345 s"),
]  # fmt: skip


@pytest.mark.parametrize(("value", "unit", "text"), SHOWN)
def test_numbers_as_they_are_shown(value: float, unit: str, text: str) -> None:
    assert show(value, unit) == text


def test_how_far_it_may_be_off_stands_beside_it_in_two_figures() -> None:
    assert give_or_take(453.04, 3.6243, "V") == "453 V ± 3.6 V"
    assert give_or_take(35.0, 0.77, "mA") == "35 mA ± 0.77 mA"  # not 770 uA: both in one unit
    assert give_or_take(453.04, None, "V") == give_or_take(453.04, 0.0, "V") == "453 V"


@pytest.mark.parametrize(
    ("ohms", "code"), [(1, "1R"), (10, "10R"), (0.5, "R5"), (999.4, "999R4"), (999.96, "1K"), (1000, "1K"), (12.0, "12R")]
)
def test_a_code_turns_from_ohm_to_kilohm_where_the_number_shown_does(ohms: float, code: str) -> None:
    assert marking(ohms, "ohm") == code
    assert marking(2.2e-6, "F") == "2u2"
    with pytest.raises(NotationError, match="not volts"):
        marking(5, "V")
