"""A player's words lead to the symptom they mean."""

import pytest
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.words import best_match, matches, understood
from hypothesis import given
from hypothesis import strategies as st

from ..amount import LONG
from ..shipped import shipped_knowledge


@pytest.fixture(scope="module")
def shipped() -> KnowledgeBase:
    return shipped_knowledge()


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
        ("there is no sound at all", "no-sound"),
        ("it hums", "hums"),
    ],
)
def test_ordinary_words(shipped: KnowledgeBase, words: str, symptom: str) -> None:
    assert matches(shipped, words)[0].symptom == symptom


def test_a_slip_of_the_pen_is_forgiven(shipped: KnowledgeBase) -> None:
    assert "knob-crackle" in [match.symptom for match in matches(shipped, "scrachy volum knob")[:2]]


@pytest.mark.long
def test_every_saying_leads_home(shipped: KnowledgeBase) -> None:
    """A saying of the knowledge base offers its own symptom among the first three, and nearly always first: one saying
    of each symptom, now an early one, now a late one; all of them in the long run."""
    first = 0
    total = 0
    for number, symptom in enumerate(shipped.symptoms.values()):
        one = number % len(symptom.says)
        for saying in symptom.says if LONG else symptom.says[one : one + 1]:
            offered = [match.symptom for match in matches(shipped, saying)]
            assert symptom.id in offered[:3], f"'{saying}' offers {offered}"
            first += offered[0] == symptom.id
            total += 1
    assert first / total >= 0.95


def test_words_that_say_nothing_match_nothing(shipped: KnowledgeBase) -> None:
    assert matches(shipped, "it is what it is") == ()
    assert matches(shipped, "") == ()
    assert best_match(shipped, "xylophone zebra") is None


def test_each_part_of_a_sentence_is_told_by_itself(shipped: KnowledgeBase) -> None:
    parts = understood(shipped, "no hum, but the pots are scratchy and it blows fuses")
    assert [(part.words, part.not_there) for part in parts if part.not_there] == [("no hum", "hums")]
    there = [part for part in parts if not part.not_there]
    assert [(part.words, part.offers[0].symptom) for part in there] == [
        ("the pots are scratchy", "knob-crackle"),
        ("it blows fuses", "blown-fuse"),
    ]


@pytest.mark.parametrize(
    "words", ["it doesn't hum any more", "the hum is gone", "no problem with the reverb", "it stopped crackling"]
)
def test_what_is_denied_is_not_taken(shipped: KnowledgeBase, words: str) -> None:
    assert [part for part in understood(shipped, words) if not part.not_there] == []
    assert best_match(shipped, words) is None


def test_what_goes_on_a_condition_is_not_denied(shipped: KnowledgeBase) -> None:
    parts = understood(shipped, "the hum is gone when I touch the strings")
    assert [part.offers[0].symptom for part in parts] == ["hum-changes-when-touched"]


def test_only_what_stands_alone_is_taken_for_sure(shipped: KnowledgeBase) -> None:
    assert best_match(shipped, "it hums") == "hums"
    assert best_match(shipped, "it hums and the pots are scratchy") is None, "two complaints are confirmed first"
    assert best_match(shipped, "it hums like a wombat") is None, "a word too many may tell which hum it is"


@given(words=st.text(max_size=60))
def test_no_text_breaks_it(base: KnowledgeBase, words: str) -> None:
    for match in matches(base, words):
        assert 0 <= match.score <= 100.0001
