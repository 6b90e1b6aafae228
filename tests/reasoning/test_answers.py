"""What is typed at the bench, and what is said back when it can't be taken."""

import pytest
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.answers import AnswerError, Implausible, entry
from chopstick.engine.reasoning.log import CANT_TELL, NOT_THIS_AMP, Answer, Reading
from hypothesis import given
from hypothesis import strategies as st

from .conftest import AT


@pytest.mark.parametrize(
    ("typed", "answer"),
    [("yes", "yes"), ("Y", "yes"), (" No ", "no"), (True, "yes"), ("can't tell", CANT_TELL), ("Can’t tell", CANT_TELL),
     ("skip", CANT_TELL), ("not this amp", NOT_THIS_AMP)],
)  # fmt: skip
def test_answers(base: KnowledgeBase, typed: object, answer: str) -> None:
    assert entry(base.checks["turn-it"], typed, AT) == Answer(at=AT, check="turn-it", answer=answer)


@pytest.mark.parametrize(("typed", "mV"), [("453.5", 453.5), ("0.4 V", 400), ("12mV", 12), ("-38 mV", -38)])
def test_readings_in_trade_notation(base: KnowledgeBase, typed: str, mV: float) -> None:
    made = entry(base.checks["pot-dc"], typed, AT)
    assert isinstance(made, Reading)
    assert made.values["pot"] == pytest.approx(mV)


def test_an_impossible_reading_is_questioned_before_it_is_believed(base: KnowledgeBase) -> None:
    """4,535 V typed for 453.5."""
    with pytest.raises(Implausible, match="hard to believe"):
        entry(base.checks["idle"], {"plate": "1453.5V", "cathode": "20mA"}, AT)
    assert entry(base.checks["idle"], {"plate": "1453.5V", "cathode": "20mA"}, AT, believed=True).believed


@pytest.mark.parametrize(
    ("check", "typed", "words"),
    [
        ("turn-it", "yess", "Did you mean 'yes'"),
        ("turn-it", "", "takes: yes, no"),
        ("pot-dc", "4k7", "volt"),
        ("pot-dc", "hello", "hello"),
        ("idle", "415", "2 readings by name: plate, cathode"),
        ("idle", {"plte": "415"}, "Did you mean 'plate'"),
    ],
)
def test_what_can_not_be_taken_is_said_with_the_typed_text(base: KnowledgeBase, check: str, typed: object, words: str) -> None:
    with pytest.raises(AnswerError, match=words):
        entry(base.checks[check], typed, AT)


@given(typed=st.text())
def test_no_text_breaks_it(base: KnowledgeBase, typed: str) -> None:
    for check in base.checks.values():
        try:
            entry(check, typed, AT)
        except AnswerError as error:
            assert str(error)
