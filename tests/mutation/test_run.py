"""The mutation run's own choices: which tests an error meets, which errors are drawn, which are known of."""

from __future__ import annotations

import json
from dataclasses import asdict, replace

from .run import Mutant, Touched, explained, sample, survivors

SIGN = Mutant("engine/x.py", "core/ReplaceBinaryOperator_Add_Sub", 0, 7, 7, 4, "total", "return one + other")
SEEN = Touched(
    {("engine/x.py", 7): {"test_b", "test_a"}, ("engine/x.py", 1): {""}, ("engine/y.py", 7): {"test_c"}},
    {"test_a": 2.0, "test_b": 1.0, "test_c": 0.5},
)


def test_the_tests_that_pass_a_line_run_cheapest_first() -> None:
    assert SEEN.tests(SIGN) == ["test_b", "test_a"]
    assert SEEN.tests(replace(SIGN, row=8, last_row=9)) == []


def test_what_stands_at_import_may_be_felt_by_every_test() -> None:
    assert SEEN.tests(replace(SIGN, row=1, last_row=1)) == ["test_c", "test_b", "test_a"]


def test_an_operator_with_many_others_to_put_for_it_is_drawn_once() -> None:
    others = [replace(SIGN, operator=f"core/ReplaceBinaryOperator_Add_{to}") for to in ("Sub", "Mul", "Div")]
    number = replace(SIGN, operator="core/NumberReplacer", column=9)
    drawn = sample([*others, number], 10, seed=1)
    assert len(drawn) == 2
    assert number in drawn
    assert sample([*others, number], 10, seed=1) == drawn


def test_what_is_known_is_known_by_place_line_and_kind() -> None:
    known = [{"in": "engine/x.py: total", "line": "return one + other", "errors": ["Add_Sub"], "because": "-"}]
    assert explained(SIGN, known)
    for other in (
        replace(SIGN, place="mean"), replace(SIGN, line="return one"), replace(SIGN, path="engine/y.py"),
        replace(SIGN, operator="core/ReplaceBinaryOperator_Add_Mul"),
    ):  # fmt: skip
        assert not explained(other, known)


def test_what_survived_before_is_found_again_on_a_line_that_has_moved() -> None:
    told = [json.dumps({**asdict(SIGN), "verdict": verdict}) for verdict in ("killed", "survived")]
    moved, other = replace(SIGN, row=70, last_row=70), replace(SIGN, line="return one")
    assert survivors([moved, other], told) == [moved]
    assert survivors([moved, other], told[:1]) == []
