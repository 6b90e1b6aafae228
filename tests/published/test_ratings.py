"""Tube and rectifier ratings on file against what the sheets print. Sheets read unless marked from memory."""

from __future__ import annotations

import pytest
from chopstick.engine.reference.tables import load

# type, rating system, limit, figure
SHEETS_READ = [
    # RCA data sheet 12AX7-A, 10-60
    ("12AX7A", "design maximum", "plate_V", 330),
    ("12AX7A", "design maximum", "plate_W", 1.2),
    # US maker T, 12AX7 tentative data, 1 Dec 1947
    ("12AX7", "design center", "plate_V", 300),
    ("12AX7", "design center", "plate_W", 1.0),
    # Brimar (STC) application report VAD/513.5, Mar 1950
    ("ECC83", "not stated", "cathode_mA", 8),
    # GE data sheet ET-T1440, 2-57
    ("12AT7", "design center", "plate_W", 2.5),
    # US maker T 12AU7, 1 Oct 1962
    ("12AU7", "design center", "plate_W", 2.75),
    ("12AU7", "design center", "grid_resistor_fixed_bias_ohm", 250_000),
    # US maker T 6SN7GT, 31 Jul 1945
    ("6SN7GT", "design center", "plate_W", 2.5),
    # US maker T 6SL7GT
    ("6SL7GT", "design center", "plate_W", 1.0),
    # AWV Radiotron 6V6-GT sheet 1, Dec 1944; a US maker's sheet of 1941 gives the same figures
    ("6V6GT", "design center", "plate_V", 315),
    ("6V6GT", "design center", "screen_V", 285),
    ("6V6GT", "design center", "plate_W", 12),
    ("6V6GT", "design center", "screen_W", 2),
    ("6V6GT", "design center", "grid_resistor_cathode_bias_ohm", 500_000),
    # Philips EL84 sheet 6, Mar 1955
    ("EL84", "not stated", "plate_V", 300),
    ("EL84", "not stated", "plate_W", 12),
    ("EL84", "not stated", "cathode_mA", 65),
    # US maker S, Engineering Data Service, 7591, Oct 1961
    ("7591", "design maximum", "plate_V", 550),
    ("7591", "design maximum", "plate_W", 19),
]
FROM_MEMORY = [
    # RCA Receiving Tube Manual RC-30 (1975), from memory
    ("6V6GTA", "design maximum", "plate_W", 14),
    ("6V6GTA", "design maximum", "plate_V", 350),
    ("6V6GTA", "design maximum", "screen_V", 315),
    ("6SN7GTB", "design maximum", "plate_W", 5.0),
    # US maker T 5881 data sheet, from memory
    ("5881", "design center", "plate_W", 23),
    # Philips / Mullard EL34 data sheet, from memory
    ("EL34", "design center", "plate_W", 25),
    # GEC / MOV KT88 data sheet, from memory
    ("KT88", "design maximum", "plate_W", 35),
    ("KT88", "absolute maximum", "plate_W", 42),
]


@pytest.mark.parametrize(("kind", "system", "limit", "printed"), SHEETS_READ)
def test_sheets_that_were_read(kind: str, system: str, limit: str, printed: float) -> None:
    chosen = load().limit(kind, limit, system)
    assert chosen.value == printed
    assert chosen.rating.seen
    assert chosen.rating.system == system


@pytest.mark.parametrize(("kind", "system", "limit", "printed"), FROM_MEMORY)
def test_sheets_remembered_say_so(kind: str, system: str, limit: str, printed: float) -> None:
    chosen = load().limit(kind, limit, system)
    assert chosen.value == printed
    assert not chosen.rating.seen
    assert "from memory" in chosen.why


def test_a_6v6_has_three_ratings_and_the_type_fitted_decides() -> None:
    reference = load()
    assert reference.rating("6V6GT").value == 12  # design center, sheets of 1941 and 1944 read
    assert reference.rating("6V6GTA").value == 14  # design maximum, RC-30 from memory
    assert reference.rating("6V6GT current production").value == 13.2  # a current maker's sheet, weakly read
    assert "design center" in reference.rating("6V6GT").why


@pytest.mark.parametrize(
    ("rectifier", "at_mA", "drop_V"),
    [
        ("EZ80", 62, 20),  # Mazda (Thorn-AEI) EZ80 sheet, Aug 1963, read off the curve
        ("EZ80", 120, 30),  # the same curve
        ("5Y3GT", 125, 60),  # secondary tube record; the textbook figure for the 6087 is 50 V
        ("5V4GA", 175, 25),  # RCA RC-30, from memory
    ],
)
def test_rectifier_drops_on_file(rectifier: str, at_mA: float, drop_V: float) -> None:
    assert (drop_V, at_mA) in [(drop.drop_V, drop.at_mA) for drop in load().rectifier(rectifier).drop]


def test_lamps() -> None:
    assert load().lamp("#47").A == 0.15  # miniature lamp chart, read
    assert load().lamp("44").A == 0.25  # lamp catalogues, from memory


def test_every_family_has_a_rating_and_every_block_a_source() -> None:
    reference = load()
    for tube in reference.tubes.values():
        for kind in tube.types:
            assert reference.limit(kind, "plate_W").value > 0
    assert len(reference.tubes) == 18
    assert len(reference.rectifiers) == 11
