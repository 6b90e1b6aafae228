"""A player's words, matched to symptoms.

Each word counts by how few symptoms use it ("scratchy" says more than "knob", "the" says nothing), and near
spellings and endings count as the same word. A symptom scores by how much of what was said it accounts for, in its
sayings together and in the one saying that comes nearest.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from ..knowledge.base import KnowledgeBase
from ..late import late

with late():
    from rapidfuzz import fuzz, process

SURE_ENOUGH = 80.0
AHEAD = 12.0
WORTH_OFFERING = 30.0
NEAR = 0.82  # two words this alike, or more, count as one
_ENDINGS = re.compile(r"(?:ing|ness|est|ed|es|ly|er|s|y)$")
_IDLE = frozenset(
    re.findall(
        r"\w+",
        """a an and are as at be but by can do does for from get gets go goes had has have he her his i if in into is it
        its just like me my no not of on or our out she so some such that the their them then there they this to too up
        very was we were what when whenever which while who will with you your really all always also amp""",
    )
)


@dataclass(frozen=True)
class Match:
    """A symptom that the words may mean. score: 0 to 100; phrase: the saying that came nearest."""

    symptom: str
    score: float
    phrase: str


def matches(base: KnowledgeBase, words: str, most: int = 5) -> tuple[Match, ...]:
    """The symptoms nearest to a player's words, best first."""
    sayings = _Sayings(base)
    said = sayings.weigh(_stems(words))
    if not said:
        return ()
    found = [sayings.match(symptom, said) for symptom in base.symptoms]
    found.sort(key=lambda match: (-match.score, match.symptom))
    return tuple(match for match in found[:most] if match.score >= WORTH_OFFERING)


def best_match(base: KnowledgeBase, words: str) -> str | None:
    """The symptom that the words surely mean, well ahead of the next; or None."""
    found = matches(base, words, 2)
    clear = len(found) < 2 or found[0].score - found[1].score >= AHEAD
    return found[0].symptom if found and found[0].score >= SURE_ENOUGH and clear else None


@dataclass(frozen=True)
class _Sayings:
    base: KnowledgeBase

    @cached_property
    def phrases(self) -> Mapping[str, tuple[tuple[str, tuple[str, ...]], ...]]:
        """By symptom, each saying (and the name) with its stems."""
        return {
            symptom.id: tuple((phrase, _stems(phrase)) for phrase in (*symptom.says, symptom.name))
            for symptom in self.base.symptoms.values()
        }

    @cached_property
    def vocabularies(self) -> Mapping[str, frozenset[str]]:
        return {id_: frozenset(stem for _, stems in said for stem in stems) for id_, said in self.phrases.items()}

    @cached_property
    def weight(self) -> Mapping[str, float]:
        """How much a word says: the logarithm of how few symptoms use it."""
        counts: dict[str, int] = {}
        for vocabulary in self.vocabularies.values():
            for stem in vocabulary:
                counts[stem] = counts.get(stem, 0) + 1
        return {stem: math.log((1 + len(self.vocabularies)) / count) for stem, count in counts.items()}

    def weigh(self, stems: tuple[str, ...]) -> list[tuple[dict[str, float], float]]:
        """For each word said: the known words it may be, with their likeness, and its weight. A word nobody uses
        weighs little: it can't tell symptoms apart."""
        known = list(self.weight)
        said = []
        for stem in dict.fromkeys(stems):
            near = process.extract(stem, known, scorer=fuzz.ratio, score_cutoff=100 * NEAR, limit=8)
            alike = {name: score / 100 for name, score, _ in near}
            said.append((alike, max((self.weight[name] for name in alike), default=0.5)))
        return said

    def match(self, symptom: str, said: list[tuple[dict[str, float], float]]) -> Match:
        total = sum(weight for _, weight in said)
        whole = _covered(said, self.vocabularies[symptom]) / total
        best, phrase = max((self._likeness(said, stems, total), text) for text, stems in self.phrases[symptom])
        return Match(symptom, 100 * (0.4 * whole + 0.6 * best), phrase)

    def _likeness(self, said: list[tuple[dict[str, float], float]], stems: tuple[str, ...], total: float) -> float:
        """How alike what was said and one saying are: the harmonic mean of what each accounts for of the other."""
        shared = _covered(said, frozenset(stems))
        own = sum(self.weight[stem] for stem in set(stems))
        back = sum(self.weight[stem] for stem in set(stems) if any(stem in alike for alike, _ in said))
        if not shared or not own:
            return 0.0
        there, back = shared / total, back / own
        return 2 * there * back / (there + back)


def _covered(said: list[tuple[dict[str, float], float]], vocabulary: frozenset[str]) -> float:
    return sum(
        weight * max((likeness for name, likeness in alike.items() if name in vocabulary), default=0.0)
        for alike, weight in said
    )


def _stems(text: str) -> tuple[str, ...]:
    """The words that say something, without their commonest endings."""
    words = re.findall(r"[a-z0-9]+", text.lower().replace("'", ""))
    return tuple(_stem(word) for word in words if word not in _IDLE)


def _stem(word: str) -> str:
    bare = _ENDINGS.sub("", word)
    return bare if len(bare) >= 3 else word
