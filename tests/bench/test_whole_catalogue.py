"""Laws that hold for every calculation, and for any that is added, on values that it takes."""

from __future__ import annotations

import json
import math
from itertools import pairwise

import pytest
from chopstick.cli.main import app
from chopstick.engine.bench import catalogue
from chopstick.engine.bench.error import with_error
from chopstick.engine.bench.notation import NotationError, parse, show
from chopstick.engine.bench.units import PREFIXED, UNITS
from typer.testing import CliRunner

from ..amount import amount
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


@pytest.mark.long
def test_more_of_one_thing_moves_the_figure_one_way_only() -> None:
    turning = {
        f"{name}: {number} of {known}: {values}"
        for name in NAMES
        if name not in TURNS
        for known in usable(name, amount(1, 2))
        for number in (key for key, value in known.items() if not isinstance(value, str))
        if len(ways(values := moved(name, known, number))) > 1
    }
    assert turning == set()


def moved(name: str, known: dict[str, float | str], number: str) -> list[float]:
    """The figure while one number rises, as far as it is taken."""
    values = []
    for step in range(-2, 4):
        try:
            values.append(catalogue.find(name)(**{**known, number: float(known[number]) * 1.5 ** (step / 2)}).value)
        except ValueError:  # refused beyond what can be
            continue
    return values


def ways(values: list[float]) -> set[bool]:
    loose = 1e-6 * max(abs(value) for value in values)
    return {after > before for before, after in pairwise(values) if abs(after - before) > loose}


def test_usable_values_are_found_for_every_calculation() -> None:
    few = [name for name in NAMES if len(list(usable(name, 2))) < 2]
    assert few == [], "add the word that it takes to samples.py"


def test_what_may_turn_is_a_calculation_there_is() -> None:
    assert set(TURNS) <= set(NAMES)


def test_typed_and_shown_numbers_come_back() -> None:
    """What is shown with its unit, and read again as typed, is the same to the four figures that are shown."""
    lost = []
    for name in NAMES:
        known = next(usable(name, 1))
        worked = catalogue.find(name)(**known)
        given = [(known[one.name], one.unit) for one in catalogue.parameters(catalogue.find(name)) if one.name in known]
        for value, unit in [(worked.value, worked.unit), *given]:
            if unit and not isinstance(value, str) and UNITS[unit].low <= value <= UNITS[unit].high:
                back = parse(show(value, unit), unit).value
                if back != pytest.approx(value, rel=6e-4, abs=1e-12):
                    lost.append(f"{name}: {value} {unit} comes back as {back}")
    assert lost == []


def test_no_unit_of_another_kind_is_taken_for_a_number() -> None:
    """Units that any calculation asks for, each with every other unit typed after the number."""
    asked = {one.unit for name in NAMES for one in catalogue.parameters(catalogue.find(name)) if one.unit and not one.word}
    symbols = {unit.symbol for unit in UNITS.values()} & set(PREFIXED)
    assert len(asked) > 10
    assert [
        (unit, symbol) for unit in sorted(asked) for symbol in sorted(symbols - {UNITS[unit].symbol}) if taken(symbol, unit)
    ] == []


def taken(symbol: str, unit: str) -> bool:
    try:
        parse(f"47 {symbol}", unit)
    except NotationError:
        return False
    return True


def test_the_error_never_hides_the_figure_and_no_error_leaves_none() -> None:
    wrong = []
    for name in NAMES:
        function, known = catalogue.find(name), next(usable(name, 1))
        plain, banded = function(**known), with_error(function, known)
        sound = banded.value == plain.value and set(plain.warnings) <= set(banded.warnings)
        if banded.error is not None and plain.error is None:
            sound = sound and math.isfinite(banded.error) and banded.error > 0 and bool(banded.error_from)
        if plain.error is None:
            none = dict.fromkeys((one.name for one in catalogue.parameters(function)), 0.0)
            sound = sound and with_error(function, known, none).error is None
        sound = sound and (banded.verdict == plain.verdict or banded.verdict.startswith("can't tell"))
        if not sound:
            wrong.append((name, plain, banded))
    assert wrong == []


@pytest.mark.long
def test_at_the_prompt_in_one_line_with_its_source_and_as_json() -> None:
    """Every sixth calculation; all of them in the long run."""
    wrong = []
    for name in NAMES[:: amount(6, 1)]:
        known = next(usable(name, 1))
        words = ["figure", name, *(f"{key}={value}" for key, value in known.items())]
        shown, told = (CliRunner().invoke(app, [*words, *more]) for more in ((), ("--json",)))
        headings = [heading for heading in ("The sum", "Rests on", "Source", "Caution") if heading not in shown.stdout]
        too_wide = [line for line in shown.stdout.splitlines() if len(line) > 80]
        if shown.exit_code or headings or too_wide:
            wrong.append((name, shown.exit_code, headings, too_wide))
        elif (json.loads(told.stdout)["figure"], json.loads(told.stdout)["given"]) != (name, known):
            wrong.append((name, told.stdout))
    assert wrong == []
