"""Players' sentences are understood as often as was reached: on those kept from tuning, and on the others."""

import pytest
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.words.ideas import words_of

from ..shipped import shipped_knowledge
from . import score, sentences

# What was reached when this was written, less a little for words that are added since; see `python -m tests.words.score`.
FIRST, IN_THREE, TAKEN, WRONG, PARTED, DENIED = 0.80, 0.91, 0.47, 4, 0.80, 0.88


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return shipped_knowledge()


def test_the_corpus_is_large_and_names_only_what_there_is(base: KnowledgeBase) -> None:
    single = list(sentences.single())
    told = [*single, *sentences.several(), *sentences.negated()]
    assert len(told) >= 1500
    assert {symptom for one in told for symptom in (*one.means, *one.denied)} <= set(base.symptoms)
    assert {one.means[0] for one in single} == set(base.symptoms), "every symptom and family is said"
    assert 0.2 < sum(one.held_out for one in told) / len(told) < 0.3


def test_no_sentence_is_copied_into_the_knowledge(base: KnowledgeBase) -> None:
    """Three words ('it hums', 'no reverb') can hardly be said otherwise; those are left out of the figures."""
    told = [one for one in sentences.single() if len(words_of(one.says)) > 3]
    assert score.unseen(base, told) == told


def test_one_complaint(base: KnowledgeBase) -> None:
    reached = score.singles(base, score.unseen(base, [one for one in sentences.single() if one.held_out]))
    assert reached.first / reached.count >= FIRST
    assert reached.in_three / reached.count >= IN_THREE
    assert reached.taken / reached.count >= TAKEN
    assert reached.taken_wrong <= WRONG


def test_several_complaints(base: KnowledgeBase) -> None:
    reached = score.parted(base, [one for one in sentences.several() if one.held_out])
    assert reached.in_three / reached.count >= PARTED


def test_what_is_denied_and_what_says_nothing(base: KnowledgeBase) -> None:
    reached = score.denials(base, [*sentences.negated(), *sentences.vague()])
    assert reached.first / reached.count >= DENIED
