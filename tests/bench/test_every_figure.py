"""What holds for every calculation there is, and for any that is added: nobody lists them here."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import math
import pkgutil
import re
from typing import Any

import pytest
from chopstick.engine.bench import catalogue
from chopstick.engine.bench.catalogue import Parameter
from chopstick.engine.bench.figure import Figure, choice
from chopstick.engine.bench.units import UNITS
from chopstick.engine.reference.tables import load
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .samples import usable

WORDS = [
    *("", "6V6GT", "EL84", "12AX7", "5Y3GT", "5AR4", "silicon", "no such thing", "design center"),
    *("fixed", "cathode", "AB", "A", "ground", "series", "parallel", "output", "preamp", "full wave", "half wave"),
    *("E12", "E24", "film", "electrolytic", "linear", "audio 10", "volume", "tone shunt", "no"),
    *("0=5 2.5=4k 5=25k 7.5=90k 10=250k", "0=1 5=0.5 10=9", "4K7J", "104K", "47", "yellow violet orange gold"),
]


def values(parameter: Parameter) -> st.SearchStrategy[Any]:
    """Anything a caller might send for this parameter that its gate lets through, and some that it does not."""
    if parameter.word:
        return st.sampled_from(WORDS) | st.text(max_size=20)
    unit = UNITS.get(parameter.unit, UNITS["ratio"])
    low = max(unit.low, -1e6)
    high = min(unit.high, 1e9)
    spread = st.floats(min_value=max(low, 1e-12), max_value=high) | st.floats(min_value=low, max_value=high)
    return spread | st.integers(1, 500).map(float).filter(lambda number: number <= high) | st.just(0.0)


@st.composite
def calls(draw: st.DrawFn, name: str) -> dict[str, Any]:
    chosen = {}
    for parameter in catalogue.parameters(catalogue.find(name)):
        if parameter.required or draw(st.booleans()):
            chosen[parameter.name] = draw(values(parameter))
    return chosen


def outcome(name: str, arguments: dict[str, Any]) -> Figure | str:
    """The figure, or the words it is refused with. Any other exception is a failure."""
    try:
        return catalogue.find(name)(**arguments)
    except ValueError as refusal:
        return str(refusal)


@pytest.mark.parametrize("name", catalogue.names())
@settings(max_examples=amount(8, 250))
@given(data=st.data())
def test_a_finite_figure_with_its_sum_and_source_or_a_refusal_in_words(name: str, data: st.DataObject) -> None:
    result = outcome(name, data.draw(calls(name)))
    if isinstance(result, str):
        assert len(result) > 10
        return
    assert math.isfinite(result.value)
    assert result.unit == catalogue.unit(catalogue.find(name))
    assert result.unit in UNITS
    assert result.steps
    assert all(result.steps)
    assert result.rests_on
    assert result.source in load().sources
    assert str(result)


def numbers(name: str) -> list[str]:
    return [parameter.name for parameter in catalogue.parameters(catalogue.find(name)) if not parameter.word]


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, True, "4k7"])
def test_every_number_is_refused_when_it_is_none(bad: object) -> None:
    taken = []
    for name in catalogue.names():
        good = {p.name: ("6V6GT" if p.word else 0.005) for p in catalogue.parameters(catalogue.find(name)) if p.required}
        for number in numbers(name):
            said = outcome(name, {**good, number: bad})
            if not (isinstance(said, str) and re.search(r"must be a (finite )?number", said)):
                taken.append((name, number, said))
    assert taken == []


def test_every_calculation_says_what_it_does_and_takes_named_quantities() -> None:
    for name in catalogue.names():
        function = catalogue.find(name)
        assert inspect.unwrap(function) is not function, f"{name} goes through no gate"
        assert (function.__doc__ or "").strip(), name
        nameless = [p.name for p in catalogue.parameters(function) if not (p.word or p.unit or p.name in PLAIN_NUMBERS)]
        assert nameless == [], name


# numbers of no unit, or of one that no name may carry
PLAIN_NUMBERS = {"tubes", "mu", "gauge", "dial_low", "dial_high", "transconductance_mA_per_volt"}


def test_what_a_calculation_hands_on_can_not_be_changed() -> None:
    package = importlib.import_module("chopstick.engine.bench")
    modules = [
        importlib.import_module(f"{package.__name__}.{one.name}") for one in pkgutil.iter_modules(package.__path__)
    ]
    kinds = [kind for module in modules for kind in vars(module).values() if dataclasses.is_dataclass(kind)]
    assert Figure in kinds
    for kind in kinds:
        assert kind.__dataclass_params__.frozen, kind


def test_what_is_chosen_from_a_list_stays_and_what_is_worked_out_moves_with_its_numbers() -> None:
    wrong = []
    for name in catalogue.names():
        function, known = catalogue.find(name), next(usable(name, 1))
        worked = function(**known)
        numbers = [one.name for one in catalogue.parameters(function) if one.required and not one.word]
        moves = (function(**{**known, one: float(known[one]) * 1.000001}).value != worked.value for one in numbers)
        if numbers and any(moves) == worked.chosen:
            wrong.append(name)
    assert wrong == []


def test_the_ends_of_a_range_are_still_taken_and_what_is_beyond_is_not() -> None:
    higher = catalogue.find("compare.higher_V")
    assert higher(one_V=2000, other_V=-2000).value == 2000
    for beyond in (2000.1, -2000.1):
        with pytest.raises(ValueError, match=r"of -?2000.1 V is out of range for .* \(-2000 to 2000\)"):
            higher(one_V=beyond, other_V=0)


def test_a_word_is_known_with_hyphens_capitals_and_blanks_and_a_near_one_is_offered() -> None:
    assert choice("control", " Tone-Shunt ", ("volume", "tone shunt")) == "tone shunt"
    assert choice("class", "AB", ("a", "ab")) == "ab"
    assert choice("wiring", "bridge-rectifier", ("center tap", "bridge-rectifier")) == "bridge-rectifier"
    with pytest.raises(ValueError, match=r"it is one of: volume, tone shunt\. did you mean 'volume'\?$"):
        choice("control", "volum", ("volume", "tone shunt"))
    with pytest.raises(ValueError, match=r"it is one of: volume, tone shunt\.$"):
        choice("control", "xyz", ("volume", "tone shunt"))


def test_a_figure_says_itself_with_its_error_and_adds_no_empty_warning() -> None:
    worked = catalogue.find("compare.of_expected_percent")(measured_V=300, expected_V=400)
    assert str(worked) == "share of the expected volts: 75 %"
    assert str(dataclasses.replace(worked, error=1.234)) == "share of the expected volts: 75 % ± 1.2 %"
    assert worked.warn("", "hot", "").warnings == ("hot",)
    with pytest.raises(ValueError, match="expected must be a number"):
        catalogue.find("compare.of_expected_percent")(measured_V=300, expected_V="400")
