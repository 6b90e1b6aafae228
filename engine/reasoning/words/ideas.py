"""A sentence as ideas: its words without their endings, with words that mean the same made one."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

from ...knowledge.vocabulary import Vocabulary
from ...late import late

with late():
    import snowballstemmer
    from rapidfuzz import fuzz, process

NEAR = 81  # of 100: how alike a misspelled word must be to one of ours
SHORTEST = 4  # letters of a word that may be taken for another
_WORD = re.compile(r"[a-z0-9]+")
_NOT = re.compile(r"\b(do|does|did|is|are|was|were|wo|will|would|could|has|have|had|ca|can|should|ai)\s*n[o']?t\b")
_SHORT = {"will": "wo", "can": "ca"}
_SUFFIX = re.compile(r"'(?:s|re|ve|ll|d|m)\b")


class Idea(NamedTuple):
    """name: of an idea of the vocabulary, or a word's stem; at, end: where it stands, counted in words."""

    name: str
    at: int
    end: int
    unwanted: bool = False


def words_of(text: str) -> list[str]:
    """The words of a text, small and plain: 'does not' and "doesn't" are both doesnt."""
    plain = _SUFFIX.sub("", text.lower().replace("’", "'"))
    plain = _NOT.sub(lambda found: f"{_SHORT.get(found[1], found[1])}nt", plain)
    return _WORD.findall(plain.replace("cannot", "cant").replace("'", ""))


@lru_cache(maxsize=50_000)
def stem(word: str) -> str:
    """A word without its ending."""
    return str(snowballstemmer.stemmer("english").stemWord(word))


@dataclass(frozen=True)
class Lexicon:
    """The words a base knows: those of its vocabulary, and `spoken`, the stems of its sayings."""

    vocabulary: Vocabulary
    spoken: frozenset[str] = frozenset()

    @cached_property
    def filler(self) -> frozenset[str]:
        return frozenset(stem(word) for text in self.vocabulary.filler for word in words_of(text))

    @cached_property
    def phrases(self) -> Mapping[str, tuple[tuple[tuple[str, ...], str], ...]]:
        """By first stem, the phrases that begin so with their idea, the longest first."""
        found: dict[str, list[tuple[tuple[str, ...], str]]] = {}
        for name, idea in self.vocabulary.same.items():
            for text in idea.words:
                stems = tuple(stem(word) for word in words_of(text))
                found.setdefault(stems[0], []).append((stems, name))
        return {first: tuple(sorted(told, key=lambda one: -len(one[0]))) for first, told in found.items()}

    @cached_property
    def known(self) -> tuple[str, ...]:
        """Every stem that may be meant by a misspelled word."""
        stems = {one for told in self.phrases.values() for phrase, _ in told for one in phrase} | self.spoken
        return tuple(sorted(one for one in stems if len(one) >= SHORTEST))

    @cached_property
    def _all(self) -> frozenset[str]:
        return frozenset(self.known) | self.filler | self.spoken | set(self.phrases)

    @cached_property
    def _spelt(self) -> dict[str, str]:
        return {}

    def spelt(self, word: str) -> str:
        """The stem of a word, or the known one that comes near it."""
        bare = stem(word)
        if bare in self._all or len(bare) < SHORTEST or bare.isdecimal():
            return bare
        if bare not in self._spelt:
            near = process.extractOne(bare, self.known, scorer=fuzz.ratio, score_cutoff=NEAR)
            self._spelt[bare] = str(near[0]) if near else bare
        return self._spelt[bare]

    def ideas(self, words: Sequence[str]) -> list[Idea]:
        """The ideas of words, in their order; filler left out."""
        stems = tuple(self.spelt(word) for word in words)
        found: list[Idea] = []
        at = 0
        while at < len(stems):
            for phrase, name in self.phrases.get(stems[at], ()):
                if stems[at : at + len(phrase)] == phrase:
                    found.append(Idea(name, at, at + len(phrase), self.vocabulary.same[name].unwanted))
                    at += len(phrase)
                    break
            else:
                if stems[at] not in self.filler:
                    found.append(Idea(stems[at], at, at + 1))
                at += 1
        return found
