"""Pins of power tubes and rectifiers, as their data sheets and receiving tube manuals print them (from memory)."""

from __future__ import annotations

import pytest
from chopstick.engine.bench import rectifier_swap
from chopstick.engine.reasoning.pins import how
from chopstick.engine.reference.tables import load as reference

from ..shipped import shipped_knowledge

# RCA Receiving Tube Manual RC-30 (from memory), but for EL34: Philips sheet, and KT66, KT88: GEC sheets (from memory).
POWER = [
    # type, plate, screen, control grid, cathode
    ("6V6GT", (3,), (4,), (5,), (8,)),
    ("6L6GC", (3,), (4,), (5,), (8,)),
    ("5881", (3,), (4,), (5,), (8,)),
    ("EL34", (3,), (4,), (5,), (8,)),
    ("6550", (3,), (4,), (5,), (8,)),
    ("KT66", (3,), (4,), (5,), (8,)),
    ("KT88", (3,), (4,), (5,), (8,)),
    ("7591", (3,), (4, 8), (6,), (5,)),
    ("EL84", (7,), (9,), (2,), (3,)),
    ("6BQ5", (7,), (9,), (2,), (3,)),
    ("6973", (9,), (1, 8), (3, 6), (7,)),
    ("6AQ5", (5,), (6,), (1, 7), (2,)),
]


@pytest.mark.parametrize(("type_", "plate", "screen", "grid", "cathode"), POWER)
def test_power_tubes(type_: str, plate: object, screen: object, grid: object, cathode: object) -> None:
    tables = reference()
    family = tables.tube(type_).name
    found = [tables.pins(one)[family] for one in ("plate", "screen", "control grid", "cathode")]
    assert found == [plate, screen, grid, cathode]


@pytest.mark.parametrize(
    ("type_", "plates", "cathode"),
    [
        ("5Y3GT", (4, 6), (8,)), ("5U4GB", (4, 6), (8,)), ("5V4GA", (4, 6), (8,)), ("GZ34", (4, 6), (8,)),
        ("6X5GT", (3, 5), (8,)), ("6X4", (1, 6), (7,)), ("EZ80", (1, 7), (3,)), ("6CA4", (1, 7), (3,)),
    ],
)  # fmt: skip
def test_rectifiers(type_: str, plates: tuple[int, ...], cathode: tuple[int, ...]) -> None:
    """RCA Receiving Tube Manual RC-30 (from memory)."""
    tables = reference()
    pins = tables.bases[tables.rectifier(type_).base].pins
    assert (pins["plate"], pins["cathode"]) == (plates, cathode)


def test_no_pin_is_two_things_but_the_filament_and_the_cathode_of_a_rectifier() -> None:
    """Common practice, no source: 5 V rectifiers give their DC at a pin of the heater; sockets have 7, 8 or 9 pins."""
    tables = reference()
    for name, base in tables.bases.items():
        pins = [(pin, electrode) for electrode, own in base.pins.items() for pin in own]
        assert max(pin for pin, _ in pins) <= {"octal": 8, "noval": 9, "7-pin": 7}[base.socket], name
        twice = {electrode for pin, electrode in pins if [p for p, _ in pins].count(pin) > 1}
        assert twice <= {"heater", "cathode"}, name


def test_every_power_tube_and_rectifier_has_a_base() -> None:
    tables = reference()
    power = [tube for tube in tables.tubes.values() if any(word in tube.kind for word in ("power", "output", "beam"))]
    assert len(power) == 10
    assert all(tube.base in tables.bases for tube in power)
    assert all(one.base in tables.bases for one in tables.rectifiers.values())


@pytest.mark.parametrize(
    ("present", "wanted", "fits"),
    [("5Y3GT", "5AR4", True), ("6X4", "EZ80", False), ("EZ80", "EZ81", True), ("5Y3GT", "6X5GT", False)],
)
def test_what_fits_which_socket(present: str, wanted: str, fits: bool) -> None:
    """Common practice, no source: 5 V octal types share a socket; 6X4 has seven pins; 6X5 has other pins than 5Y3."""
    swap = rectifier_swap.drop_in_count(present=present, wanted=wanted, load_mA=30, first_capacitor_F=4e-6, winding_A=3)
    assert any("does not fit the socket" in step for step in swap.steps) is not fits


def test_a_check_at_a_grid_pin_tells_that_of_the_tube_in_the_amp() -> None:
    base = shipped_knowledge()
    for id_ in ("bias-at-each-grid", "power-grid-leak-ohms"):
        check = base.checks[id_]
        assert "pin 5" not in check.do
        assert how(base, check, {"power-tube": "7591"}).endswith("Control grid of the 7591: pin 6.")
        assert how(base, check, {"power-tube": "6BQ5"}).endswith("Control grid of the 6BQ5: pin 2.")
        unknown = how(base, check, {})
        assert "pin 6 on 7591" in unknown
        assert "pin 2 on EL84" in unknown


def test_a_rectifier_has_its_own_pins_told() -> None:
    """RCA Receiving Tube Manual RC-30 (from memory)."""
    base = shipped_knowledge()
    told = how(base, base.checks["rectifier-tube-ohms"], {"rectifier": "6X4", "power-tube": "7591"})
    assert "Plate of the 6X4: pins 1 and 6." in told
    assert "Cathode of the 6X4: pin 7." in told
    assert "7591" not in told


def test_no_check_names_the_pins_of_octal_types_as_if_all_were_alike() -> None:
    """Common practice, no source: a 7591 is octal, and its pins are not those of a 6L6."""
    assert [check.id for check in shipped_knowledge().written.values() if "octal types" in check.do or "on octal" in check.do] == []
