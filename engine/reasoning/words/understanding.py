"""A player's sentence in parts, each with what it may mean.

A sentence is cut into pieces, and pieces that together mean one thing are joined again: of all ways to join neighbors,
the one whose parts are accounted for best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ...knowledge.base import KnowledgeBase
from .clauses import clauses
from .denial import Denied, denials, denied
from .ideas import Idea, words_of
from .scoring import Match, Sayings, offered, sayings_of

SURE_ENOUGH = 62.0
AHEAD = 9.0
DENIED_ENOUGH = 25.0
A_PART = 1.6  # what every further part must explain, as an idea's weight
SAYS_SOMETHING = 1.5  # the weight of ideas from which a part is one


@dataclass(frozen=True)
class Part:
    """A part of what was said. offers: what it may mean, best first; symptom: what it surely means, '' when that must
    be asked; not_there: the symptom that the words deny, '' when they deny none."""

    words: str
    offers: tuple[Match, ...] = ()
    symptom: str = ""
    not_there: str = ""


@dataclass(frozen=True)
class _Piece:
    begin: int
    end: int
    part: Denied


@dataclass(frozen=True)
class _Joined:
    """Neighboring pieces as one part. worth: the weight of what its best match accounts for."""

    words: str
    ideas: tuple[str, ...]
    found: tuple[Match, ...]
    worth: float


def understood(base: KnowledgeBase, said: str, most: int = 5) -> tuple[Part, ...]:
    """The parts of a sentence that say something, in their order."""
    sayings = sayings_of(base)
    pieces = [_piece(sayings, said, begin, end) for begin, end in clauses(said)]
    parts: list[tuple[int, Part]] = []
    for run in _best(sayings, said, pieces):
        offers = offered(run.found, most)
        if offers or sum(map(sayings.weight, run.ideas)) >= SAYS_SOMETHING:
            parts.append((said.find(run.words), Part(run.words, offers, _sure(run.found))))
    for piece in pieces:
        if symptom := _not_there(sayings, piece.part):
            parts.append((piece.begin, Part(said[piece.begin : piece.end].strip(), not_there=symptom)))
    return tuple(part for _, part in sorted(parts, key=lambda one: one[0]))


def best_match(base: KnowledgeBase, words: str) -> str | None:
    """The one symptom that the words surely mean; or None."""
    parts = [part for part in understood(base, words) if not part.not_there]
    return parts[0].symptom or None if len(parts) == 1 else None


def _piece(sayings: Sayings, said: str, begin: int, end: int) -> _Piece:
    words = words_of(said[begin:end])
    return _Piece(begin, end, denied(words, sayings.lexicon.ideas(words)))


def _names(ideas: Sequence[Idea]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(idea.name for idea in ideas))


def _best(sayings: Sayings, said: str, pieces: Sequence[_Piece]) -> list[_Joined]:
    """The pieces joined in the way that accounts for most."""
    ways: list[tuple[float, list[_Joined]]] = [(0.0, [])]
    for end in range(1, len(pieces) + 1):
        choices = []
        for begin in range(max(0, end - 4), end):
            run = _joined(sayings, said, pieces[begin:end])
            worth, before = ways[begin]
            choices.append((worth + run.worth, [*before, run] if run.ideas else before))
        ways.append(max(choices, key=lambda way: way[0]))
    return ways[-1][1]


def _joined(sayings: Sayings, said: str, pieces: Sequence[_Piece]) -> _Joined:
    ideas = _names([idea for piece in pieces for idea in piece.part.kept if len(pieces) > 1 or not piece.part.fine])
    words = said[pieces[0].begin : pieces[-1].end].strip()
    if not ideas:
        return _Joined(words, (), (), 0.0)
    found = sayings.scores(ideas)
    weight = sum(map(sayings.weight, ideas))
    worth = found[0].score / 100 * weight - A_PART if found else 0.0
    return _Joined(words, ideas, tuple(found), max(worth, 0.0))


def _sure(found: Sequence[Match]) -> str:
    clear = len(found) < 2 or found[0].score - found[1].score >= AHEAD
    return found[0].symptom if found and found[0].score >= SURE_ENOUGH and clear else ""


def _not_there(sayings: Sayings, part: Denied) -> str:
    gone = _names(tuple(denials(part)))
    found = sayings.scores(gone) if gone else []
    return found[0].symptom if found and found[0].score >= DENIED_ENOUGH else ""
