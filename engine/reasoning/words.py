"""A player's words, matched to symptoms."""

from __future__ import annotations

from dataclasses import dataclass

from ..knowledge.base import KnowledgeBase

SURE_ENOUGH = 80.0
WORTH_OFFERING = 45.0


@dataclass(frozen=True)
class Match:
    """A symptom that the words may mean. score: 0 to 100; phrase: the saying that came nearest."""

    symptom: str
    score: float
    phrase: str


def matches(base: KnowledgeBase, words: str, most: int = 5) -> tuple[Match, ...]:
    """The symptoms nearest to a player's words, best first."""
    from rapidfuzz import fuzz, utils

    found = []
    for symptom in base.symptoms.values():
        scored = [
            (fuzz.WRatio(words, phrase, processor=utils.default_process), phrase)
            for phrase in (*symptom.says, symptom.name)
        ]
        score, phrase = max(scored)
        found.append(Match(symptom.id, score, phrase))
    found.sort(key=lambda match: (-match.score, match.symptom))
    return tuple(match for match in found[:most] if match.score >= WORTH_OFFERING)


def best_match(base: KnowledgeBase, words: str) -> str | None:
    """The symptom that the words surely mean, or None."""
    found = matches(base, words, 1)
    return found[0].symptom if found and found[0].score >= SURE_ENOUGH else None
