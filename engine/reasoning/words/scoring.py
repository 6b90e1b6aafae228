"""How well ideas fit each symptom.

An idea counts by how few symptoms use it. A symptom scores by how much of what was said it accounts for, in its sayings
together and in the one saying that comes nearest.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from ...knowledge import vocabulary
from ...knowledge.base import KnowledgeBase
from ...knowledge.folder import shipped
from .clauses import held_together
from .ideas import Lexicon, stem, words_of

WORTH_OFFERING = 14.0
UNKNOWN = 0.8  # what an idea weighs that no symptom uses
TOGETHER, NEAREST = 0.45, 0.55
MISSED = 0.35  # how far a symptom falls when nothing was said of what it is about


@dataclass(frozen=True)
class Match:
    """A symptom that the words may mean. score: 0 to 100; phrase: the saying that came nearest."""

    symptom: str
    score: float
    phrase: str


@dataclass(frozen=True)
class Saying:
    """One saying of a symptom as ideas, and what they weigh together."""

    symptom: str
    text: str
    ideas: frozenset[str]
    weight: float


@dataclass(frozen=True)
class Sayings:
    """What players say of each symptom of a base, made ready to be compared."""

    base: KnowledgeBase

    @cached_property
    def texts(self) -> Mapping[str, tuple[str, ...]]:
        return {one.id: (*one.says, *one.also, one.name) for one in self.base.symptoms.values()}

    @cached_property
    def lexicon(self) -> Lexicon:
        spoken = (stem(word) for told in self.texts.values() for text in told for word in words_of(text))
        return Lexicon(vocabulary.read(shipped()), frozenset(spoken))

    @cached_property
    def held(self) -> re.Pattern[str] | None:
        """What finds the phrases within which no sentence is cut."""
        return held_together(text for idea in self.lexicon.vocabulary.same.values() for text in idea.words)

    @cached_property
    def _ideas(self) -> Mapping[str, tuple[tuple[str, frozenset[str]], ...]]:
        return {
            symptom: tuple((text, frozenset(self.ideas(text))) for text in told) for symptom, told in self.texts.items()
        }

    def ideas(self, text: str) -> tuple[str, ...]:
        """The ideas of a text, each once."""
        return tuple(dict.fromkeys(idea.name for idea in self.lexicon.ideas(words_of(text))))

    @cached_property
    def uses(self) -> Mapping[str, Mapping[str, float]]:
        """By idea, the symptoms that use it and how much each leans on it: near 1 when many of its sayings do."""
        used: dict[str, dict[str, float]] = {}
        for symptom, told in self._ideas.items():
            counts = Counter(idea for _, ideas in told for idea in ideas)
            for idea, count in counts.items():
                used.setdefault(idea, {})[symptom] = 1 - 0.5**count
        return used

    @cached_property
    def weights(self) -> Mapping[str, float]:
        """How much an idea says: the logarithm of how few symptoms lean on it."""
        many = len(self.base.symptoms)
        return {idea: math.log(1 + many / sum(used.values())) for idea, used in self.uses.items()}

    @cached_property
    def sayings(self) -> tuple[Saying, ...]:
        return tuple(
            Saying(symptom, text, ideas, sum(self.weights[idea] for idea in ideas))
            for symptom, told in self._ideas.items()
            for text, ideas in told
            if ideas
        )

    @cached_property
    def _using(self) -> Mapping[str, tuple[int, ...]]:
        """By idea, the numbers of the sayings that use it."""
        using: dict[str, list[int]] = {}
        for number, saying in enumerate(self.sayings):
            for idea in saying.ideas:
                using.setdefault(idea, []).append(number)
        return {idea: tuple(numbers) for idea, numbers in using.items()}

    @cached_property
    def _core(self) -> Mapping[str, Mapping[str, float]]:
        """By symptom, the ideas that most of its sayings share, each with its part of the whole."""
        core: dict[str, dict[str, float]] = {}
        for symptom, told in self._ideas.items():
            counts = Counter(idea for _, ideas in told for idea in ideas)
            shares = {idea: self.weights[idea] * (n / len(told)) ** 2 for idea, n in counts.items()}
            whole = sum(shares.values())
            core[symptom] = {idea: share / whole for idea, share in shares.items()}
        return core

    def _missing(self, symptom: str, ideas: Sequence[str]) -> float:
        """How much of what nearly everybody says of a symptom was not said, of 1."""
        core = self._core[symptom]
        return 1 - sum(core.get(idea, 0.0) for idea in ideas)

    def unwanted(self, idea: str) -> bool:
        """Whether an idea is a fault by itself."""
        same = self.lexicon.vocabulary.same
        return idea in same and same[idea].unwanted

    def weight(self, idea: str) -> float:
        """What an idea weighs; one that no symptom uses weighs little, since it can't tell them apart."""
        return self.weights.get(idea, UNKNOWN)

    def scores(self, ideas: Sequence[str]) -> list[Match]:
        """Every symptom that shares an idea, best first."""
        total = sum(self.weight(idea) for idea in ideas)
        shared: dict[int, float] = {}
        together: dict[str, float] = {}
        for idea in ideas:
            weight = self.weight(idea)
            for number in self._using.get(idea, ()):
                shared[number] = shared.get(number, 0.0) + weight
            for symptom, leaning in self.uses.get(idea, {}).items():
                together[symptom] = together.get(symptom, 0.0) + weight * leaning
        nearest: dict[str, tuple[float, str]] = {}
        for number, weight in shared.items():
            saying = self.sayings[number]
            alike = 2 * weight / (total + saying.weight)
            if alike > nearest.get(saying.symptom, (0.0, ""))[0]:
                nearest[saying.symptom] = (alike, saying.text)
        found = []
        for symptom, (alike, text) in nearest.items():
            fits = TOGETHER * together[symptom] / total + NEAREST * alike
            found.append(Match(symptom, 100 * fits * (1 - MISSED * self._missing(symptom, ideas)), text))
        return sorted(found, key=lambda match: (-match.score, match.symptom))


def sayings_of(base: KnowledgeBase) -> Sayings:
    """The sayings of a base, made ready once."""
    return base.made(Sayings)


def matches(base: KnowledgeBase, words: str, most: int = 5) -> tuple[Match, ...]:
    """The symptoms nearest to a player's words, taken as one complaint, best first."""
    sayings = sayings_of(base)
    ideas = sayings.ideas(words)
    return offered(sayings.scores(ideas), most) if ideas else ()


def offered(found: Iterable[Match], most: int = 5) -> tuple[Match, ...]:
    """Those that are worth asking about."""
    return tuple(match for match in found if match.score >= WORTH_OFFERING)[:most]
