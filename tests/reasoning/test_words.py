"""A player's words lead to the symptom they mean."""

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.words import best_match, matches
from hypothesis import given
from hypothesis import strategies as st


@pytest.fixture(scope="module")
def shipped() -> KnowledgeBase:
    return load.load()


@pytest.mark.parametrize(
    ("words", "symptom"),
    [
        ("it hums all the time", "hum-constant"),
        ("the tubes are glowing red", "power-tubes-glow-red"),
        ("flubby bass", "flubby-lows"),
        ("it squeals", "squeal"),
        ("the lamp is dim", "pilot-lamp-dim"),
        ("scratchy volume knob", "knob-crackle"),
        ("SCRATCHY VOLUME POT!!", "knob-crackle"),
        ("there is no sound at all", "no-output"),
    ],
)
def test_ordinary_words(shipped: KnowledgeBase, words: str, symptom: str) -> None:
    assert matches(shipped, words)[0].symptom == symptom


def test_a_slip_of_the_pen_is_forgiven(shipped: KnowledgeBase) -> None:
    assert "knob-crackle" in [match.symptom for match in matches(shipped, "scrachy volum knob")[:2]]


def test_every_saying_leads_home(shipped: KnowledgeBase) -> None:
    """Each saying of the knowledge base offers its own symptom among the first two, and nearly always first."""
    first = 0
    total = 0
    for symptom in shipped.symptoms.values():
        for saying in symptom.says:
            offered = [match.symptom for match in matches(shipped, saying)]
            assert symptom.id in offered[:3], f"'{saying}' offers {offered}"
            first += offered[0] == symptom.id
            total += 1
    assert first / total >= 0.95


def test_words_that_say_nothing_match_nothing(shipped: KnowledgeBase) -> None:
    assert matches(shipped, "it is what it is") == ()
    assert matches(shipped, "") == ()
    assert best_match(shipped, "xylophone zebra") is None


@given(words=st.text(max_size=60))
def test_no_text_breaks_it(base: KnowledgeBase, words: str) -> None:
    for match in matches(base, words):
        assert 0 <= match.score <= 100.0001
