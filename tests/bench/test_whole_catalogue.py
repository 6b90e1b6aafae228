"""Laws that hold for every calculation, and for any that is added, on values that it takes."""

from __future__ import annotations

import json
import math
from itertools import pairwise

import pytest
from chopstick.cli.main import app
from chopstick.engine.bench import catalogue
from chopstick.engine.bench.error import with_error
from chopstick.engine.bench.figure import Figure
from chopstick.engine.bench.notation import NotationError, parse, show
from chopstick.engine.bench.units import PREFIXED, UNITS
from typer.testing import CliRunner

from .samples import usable

NAMES = catalogue.names()
#: What may rise and fall again while one thing that goes in only rises, and why.
TURNS = {
    "bias.pair_mismatch_percent": "the two meet in between",
    "compare.difference_percent": "the two meet in between",
    "compare.difference_ohm_percent": "the two meet in between",
    "transformer.halves_mismatch_percent": "the two meet in between",
    "transformer.halves_turns_percent": "the two meet in between",
    "parts.tolerance_share_percent": "off either way is off",
    "limits.heater_cathode_percent": "either way is volts between them",
    "leakage.grid_leak_share_percent": "either way is DC",
    "inverter.long_tail_headroom_V": "the plate has room up and room down",
    "inverter.split_load_headroom_V": "the plate has room up and room down",
    "stage.headroom_V": "the plate has room up and room down",
    "power_stage.pair_output_W": "there is a best bias and a best load",
    "power_stage.single_output_W": "there is a best bias and a best load",
    "tone.stack_dB": "a stack has a dip",
    "supply.hum_multiple_ratio": "sorts into once, twice and neither",
}


@pytest.mark.parametrize("name", NAMES)
def test_more_of_one_thing_moves_the_figure_one_way_only(name: str) -> None:
    function = catalogue.find(name)
    found = list(usable(name))
    assert len(found) == 2, "no usable values were found: add the word it takes to samples.py"
    for known in found:
        for number in (key for key, value in known.items() if not isinstance(value, str)):
            values = []
            for step in range(-2, 4):
                moved = {**known, number: float(known[number]) * 1.5 ** (step / 2)}
                try:
                    values.append(function(**moved).value)
                except ValueError:  # refused beyond what can be
                    continue
            loose = 1e-6 * max(abs(value) for value in values)
            ways = {after > before for before, after in pairwise(values) if abs(after - before) > loose}
            assert len(ways) < 2 or name in TURNS, f"{number} of {known}: {values}"


def test_what_may_turn_is_a_calculation_there_is() -> None:
    assert set(TURNS) <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_typed_and_shown_numbers_come_back(name: str) -> None:
    """What is shown with its unit, and read again as typed, is the same to the four figures that are shown."""
    for known in usable(name, 1):
        worked = catalogue.find(name)(**known)
        for value, unit in [
            (worked.value, worked.unit),
            *((known[one.name], one.unit) for one in catalogue.parameters(catalogue.find(name)) if one.name in known),
        ]:
            if unit and not isinstance(value, str) and UNITS[unit].low <= value <= UNITS[unit].high:
                assert parse(show(value, unit), unit).value == pytest.approx(value, rel=6e-4, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "number"),
    [(name, one) for name in NAMES for one in catalogue.parameters(catalogue.find(name)) if one.unit and not one.word],
)
def test_every_number_is_refused_in_a_unit_of_another_kind(name: str, number: catalogue.Parameter) -> None:
    wanted = UNITS[number.unit].symbol
    others = {symbol for symbol in (unit.symbol for unit in UNITS.values()) if symbol in PREFIXED and symbol != wanted}
    for symbol in others:
        with pytest.raises(NotationError):
            parse(f"47 {symbol}", number.unit)
    done = CliRunner().invoke(app, ["figure", name, f"{number.name}=47 {sorted(others)[0]}"])
    assert done.exit_code == 2
    assert number.name in done.output


@pytest.mark.parametrize("name", NAMES)
def test_the_error_never_hides_the_figure_and_no_error_leaves_none(name: str) -> None:
    function = catalogue.find(name)
    for known in usable(name, 1):
        plain, banded = function(**known), with_error(function, known)
        assert banded.value == plain.value
        assert set(plain.warnings) <= set(banded.warnings)
        if banded.error is not None and plain.error is None:
            assert math.isfinite(banded.error)
            assert banded.error > 0
            assert banded.error_from
        if plain.error is None:
            none = dict.fromkeys((one.name for one in catalogue.parameters(function)), 0.0)
            assert with_error(function, known, none).error is None
        _same_or_cant_tell(plain, banded)


def _same_or_cant_tell(plain: Figure, banded: Figure) -> None:
    assert banded.verdict == plain.verdict or banded.verdict.startswith("can't tell")


@pytest.mark.parametrize("name", NAMES)
def test_at_the_prompt_in_one_line_with_its_source_and_as_json(name: str) -> None:
    for known in usable(name, 1):
        words = [f"{key}={value}" for key, value in known.items()]
        done = CliRunner().invoke(app, ["figure", name, *words])
        assert done.exit_code == 0, done.output
        for heading in ("The sum", "Rests on", "Source", "Caution"):
            assert heading in done.stdout
        assert max(map(len, done.stdout.splitlines())) <= 80
        told = json.loads(CliRunner().invoke(app, ["figure", name, *words, "--json"]).stdout)
        assert told["figure"] == name
        assert told["given"] == known
