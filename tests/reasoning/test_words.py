"""A player's words lead to the symptom they mean."""

import math

import pytest
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.words import best_match, matches
from hypothesis import given
from hypothesis import strategies as st

from ..amount import LONG
from ..shipped import shipped_knowledge

KNOWN = math.log(3) / (math.log(3) + 0.5)


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
        ("there is no sound at all", "no-output"),
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


@pytest.mark.parametrize(
    ("words", "symptom", "phrase", "score"),
    [
        ("scratchy volume", "knob-crackle", "scratchy volume", 100),
        ("SCRATCHY, the volume!", "knob-crackle", "scratchy volume", 100),
        # All that was said is used by the symptom (0.4); of the saying it is half, whose harmonic mean with 1 is 2/3 (0.6).
        ("scratchy", "knob-crackle", "scratchy volume", 100 * (0.4 + 0.6 * 2 / 3)),
        # "glowing" is "glow": endings do not count.
        ("glowing tubes", "tubes-run-hot", "tubes glow", 100),
        # Half of what was said is the symptom's; it is the whole of one saying.
        ("hot scratchy", "tubes-run-hot", "too hot", 100 * (0.4 / 2 + 0.6 * 2 * 0.5 / 1.5)),
        # "zzz" is nobody's word: it weighs 0.5, a word of one symptom in two the logarithm of 3.
        ("hot zzz", "tubes-run-hot", "too hot", 100 * (0.4 * KNOWN + 0.6 * 2 * KNOWN / (1 + KNOWN))),
    ],
)
def test_the_score_by_hand(base: KnowledgeBase, words: str, symptom: str, phrase: str, score: float) -> None:
    best = matches(base, words)[0]
    assert (best.symptom, best.phrase) == (symptom, phrase)
    assert best.score == pytest.approx(score)


def test_only_a_clear_match_is_taken_for_sure(base: KnowledgeBase) -> None:
    """80 of 100, and 12 ahead of the next; what scores below 30 is not even offered."""
    assert best_match(base, "scratchy") == "knob-crackle"
    assert best_match(base, "knobs") is None, "70"
    assert best_match(base, "scratchy volume too hot") is None, "75, and 43 for hot tubes"
    assert [match.symptom for match in matches(base, "scratchy volume too hot")] == ["knob-crackle", "tubes-run-hot"]
    assert [match.symptom for match in matches(base, "scratchy volume too hot", most=1)] == ["knob-crackle"]
    assert [match.symptom for match in matches(base, "hot aaa bbb ccc ddd eee fff ggg hhh")] == []


@given(words=st.text(max_size=60))
def test_no_text_breaks_it(base: KnowledgeBase, words: str) -> None:
    for match in matches(base, words):
        assert 0 <= match.score <= 100.0001
