"""What may be typed for answers and readings, one or several on a line, and what is said to what is not understood."""

from __future__ import annotations

import pytest
from chopstick.cli.sitting import several_readings
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning.answers import AnswerError, answer_key

from .conftest import SMALL


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return load(SMALL)


@pytest.mark.parametrize(
    ("typed", "values"),
    [
        ("plate 288 cathode 28", {"plate-volts": "288", "cathode-current": "28"}),
        ("cathode 28mA plate 288V", {"plate-volts": "288V", "cathode-current": "28mA"}),
        ("plate volts 288 volts cathode current 28 mA", {"plate-volts": "288 volts", "cathode-current": "28 mA"}),
        ("plate: 288 cathode: -2.8", {"plate-volts": "288", "cathode-current": "-2.8"}),
        ("plate-volts 288", {"plate-volts": "288"}),
        ("288 28", {"plate-volts": "288", "cathode-current": "28"}),
        ("288 V 28 mA", {"plate-volts": "288 V", "cathode-current": "28 mA"}),
        ("288", {}),  # a single value is the reading that was asked for
        ("288 V", {}),
        ("hot", {}),
    ],
)
def test_several_readings_of_a_check(base: KnowledgeBase, typed: str, values: dict[str, str]) -> None:
    assert several_readings.readings(base.checks["plates"], typed) == values


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("288 28 3", "3 values for 2 readings"),
        ("288 cathode 28", "which reading is '288'"),
        ("plate 288 plate 290", "two values for 'plate-volts'"),
    ],
)
def test_what_can_not_be_dealt_out_is_said_back_with_an_example(base: KnowledgeBase, typed: str, says: str) -> None:
    with pytest.raises(AnswerError, match=says) as told:
        several_readings.readings(base.checks["plates"], typed)
    assert "plate VALUE cathode VALUE" in str(told.value)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("look-at-cord=yes", ["look-at-cord=yes"]),
        ("look-at-cord = yes sweep-ohms=rough", ["look-at-cord=yes", "sweep-ohms=rough"]),
        ("plates.plate-volts=288 V plates.cathode-current=28 mA", ["plates.plate-volts=288 V", "plates.cathode-current=28 mA"]),
        ("288", []),
    ],
)
def test_several_checks_on_a_line(typed: str, words: list[str]) -> None:
    assert several_readings.assigned(typed) == words


@pytest.mark.parametrize("typed", ["rough", "r", "it jumps", "It  Jumps", "it j"])
def test_an_answer_by_its_key_or_what_it_says(base: KnowledgeBase, typed: str) -> None:
    assert answer_key(base.checks["sweep-ohms"], typed) == "rough"


@pytest.mark.parametrize(("typed", "meant"), [("rugh", "rough"), ("jumpy", "rough"), ("smoth", "smooth")])
def test_what_comes_near_is_suggested(base: KnowledgeBase, typed: str, meant: str) -> None:
    with pytest.raises(AnswerError, match=f"it takes: smooth, rough. Did you mean '{meant}'"):
        answer_key(base.checks["sweep-ohms"], typed)
