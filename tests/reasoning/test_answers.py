"""What is typed at the bench, and what is said back when it can't be taken."""

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.answers import OPEN_CIRCUIT_OHM, AnswerError, Implausible, answer_key, entry
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


@pytest.mark.parametrize(("typed", "mV"), [("462.5", 462.5), ("0.4 V", 400), ("12mV", 12), ("-38 mV", -38)])
def test_readings_in_trade_notation(base: KnowledgeBase, typed: str, mV: float) -> None:
    made = entry(base.checks["pot-dc"], typed, AT)
    assert isinstance(made, Reading)
    assert made.values["pot"] == pytest.approx(mV)


def test_an_impossible_reading_is_questioned_before_it_is_believed(base: KnowledgeBase) -> None:
    """4,625 V typed for 462.5."""
    with pytest.raises(Implausible, match="hard to believe"):
        entry(base.checks["idle"], {"plate": "1462.5V", "cathode": "20mA"}, AT)
    assert entry(base.checks["idle"], {"plate": "1462.5V", "cathode": "20mA"}, AT, believed=True).believed


@pytest.mark.parametrize(
    ("check", "typed", "words"),
    [
        ("turn-it", "yess", "Did you mean 'yes'"),
        ("turn-it", "", "takes: yes, no"),
        ("pot-dc", "4k7", "volt"),
        ("pot-dc", "hello", "hello"),
        ("idle", "398", "2 readings by name: plate, cathode"),
        ("idle", {"plte": "398"}, "Did you mean 'plate'"),
    ],
)
def test_what_can_not_be_taken_is_said_with_the_typed_text(base: KnowledgeBase, check: str, typed: object, words: str) -> None:
    with pytest.raises(AnswerError, match=words):
        entry(base.checks[check], typed, AT)


@pytest.mark.parametrize(
    ("mV", "believed"), [(-500.0, True), (20000.0, True), (-500.1, False), (20000.1, False)]
)
def test_the_ends_of_what_is_plausible_are_plausible(base: KnowledgeBase, mV: float, believed: bool) -> None:
    if believed:
        assert entry(base.checks["pot-dc"], {"pot": mV}, AT) == Reading(at=AT, check="pot-dc", values={"pot": mV})
        return
    with pytest.raises(Implausible, match=r"hard to believe \(expected -500 mV to 20 V\)") as questioned:
        entry(base.checks["pot-dc"], {"pot": mV}, AT)
    assert (questioned.value.name, questioned.value.value) == ("pot", mV)


def check_of(ask: str, **more: object) -> model.Check:
    common = {"id": "c", "name": "C", "stage": "cold", "minutes": 1, "do": "Do.", "normal": "Good."}
    return model.Check.model_validate({**common, **({"ask": ask} if ask else {}), **more})


def test_open_circuit_is_a_reading_in_ohms_and_in_nothing_else(base: KnowledgeBase) -> None:
    track = check_of("", readings={"track": {"ask": "Track", "unit": "ohm", "plausible": [0, 2e6]}},
                     bands=[{"above": 2e6, "text": "open"}])  # fmt: skip
    assert entry(track, "open", AT) == Reading(at=AT, check="c", values={"track": OPEN_CIRCUIT_OHM})
    with pytest.raises(AnswerError):
        entry(base.checks["pot-dc"], "open", AT)


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ("left", "left"), ("LEFT", "left"), ("leftm", "leftmost"), ("le", None),  # the key itself before longer ones
        ("none", "no-glow"), ("non", "no-glow"), ("no", "no-glow"), ("nei", None),  # a text from three letters on
        ("n", "no-glow"), ("th", None), ("the", "right"), ("the right", "right"), ("right o", None), ("", None),
    ],
)  # fmt: skip
def test_the_beginning_of_a_key_or_a_text_is_enough_when_it_is_the_only_one(typed: str, key: str | None) -> None:
    glow = check_of(
        "Which tube glows?",
        answers={"left": {}, "leftmost": {}, "right": {"text": "the right one"}, "no-glow": {"text": "none of them"}},
    )
    if key is None:
        with pytest.raises(AnswerError, match="is not an answer to this; it takes: left, leftmost, right, no-glow"):
            answer_key(glow, typed)
    else:
        assert answer_key(glow, typed) == key


def test_a_slip_is_answered_with_what_comes_nearest() -> None:
    glow = check_of("Which?", answers={"left": {}, "no-glow": {"text": "none of them"}})
    left, none = "Did you mean 'left'?", "Did you mean 'no-glow'?"
    for typed, hint in (("lfet", left), ("nune of them", none), ("qqqq", "no-glow."), ("ef", "no-glow.")):
        with pytest.raises(AnswerError) as wrong:
            answer_key(glow, typed)
        assert str(wrong.value).endswith(hint)


def test_readings_come_by_name_and_not_all_need_to_be_there(base: KnowledgeBase) -> None:
    idle = base.checks["idle"]
    made = entry(idle, {"cathode": "0.0206 A"}, AT)
    assert isinstance(made, Reading)
    assert made.values == pytest.approx({"cathode": 20.6})
    with pytest.raises(AnswerError, match="no reading was given; it takes: plate, cathode"):
        entry(idle, {}, AT)
    with pytest.raises(AnswerError, match=r"there is no reading 'zzz'; it takes: plate, cathode\.$"):
        entry(idle, {"zzz": 1}, AT)


@given(typed=st.text())
def test_no_text_breaks_it(base: KnowledgeBase, typed: str) -> None:
    for check in base.checks.values():
        try:
            entry(check, typed, AT)
        except AnswerError as error:
            assert str(error)
