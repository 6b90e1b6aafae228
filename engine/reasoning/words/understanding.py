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

SURE_ENOUGH = 46.0
AHEAD = 15.0
WHOLE = 30.0  # the score from which what the whole sentence may mean is offered with its parts
LEFT_OVER = 1  # ideas that the best match does not account for
DENIED_ENOUGH = 25.0
A_PART = 24.0  # how much better, in points of a score, a sentence must be accounted for by every further part
A_WHOLE = 6.0  # the weight of ideas from which a piece of a sentence counts in full
STEEP = 2.0  # a part that is accounted for half as well is worth a quarter
MOST_JOINED = 4
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
    pieces = [_piece(sayings, said, begin, end) for begin, end in clauses(said, sayings.held)]
    parts: list[tuple[int, Part]] = []
    runs = [run for run in _best(sayings, said, pieces) if _says_something(sayings, run)]
    whole = _joined(sayings, said, pieces).found[:1] if len(runs) > 1 else ()
    for run in runs:
        alone = len(runs) == 1 and not any(piece.part.gone for piece in pieces)
        sure = _sure(sayings, run) if alone else ""  # beside something else it may be a remark on that
        offers = offered(run.found, most)
        parts.append((said.find(run.words), Part(run.words, _with(offers, whole, most), sure)))
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
        for begin in range(max(0, end - MOST_JOINED), end):
            run = _joined(sayings, said, pieces[begin:end])
            worth, before = ways[begin]
            choices.append((worth + run.worth, [*before, run] if run.ideas else before))
        ways.append(max(choices, key=lambda way: way[0]))
    return ways[-1][1]


def _joined(sayings: Sayings, said: str, pieces: Sequence[_Piece]) -> _Joined:
    telling = [piece for piece in pieces if piece.part.kept and not piece.part.fine]
    kept = [piece.part.kept for piece in telling]
    ideas = _names([idea for one in kept for idea in one])
    words = said[telling[0].begin : telling[-1].end].strip(" ,") if telling else ""
    found = sayings.scores(ideas) if ideas else []
    if not found:
        return _Joined(words, ideas, (), 0.0)
    told = sum(min(1.0, sum(map(sayings.weight, _names(one))) / A_WHOLE) for one in kept)
    return _Joined(words, ideas, tuple(found), told * 100 * (found[0].score / 100) ** STEEP - A_PART)


def _with(offers: tuple[Match, ...], whole: Sequence[Match], most: int) -> tuple[Match, ...]:
    """The offers of a part with what the whole sentence may mean, at the third place, unless it is among them."""
    if not whole or whole[0].symptom in [match.symptom for match in offers[:3]] or whole[0].score < WHOLE:
        return offers
    return (*offers[:2], whole[0], *(match for match in offers[2:] if match.symptom != whole[0].symptom))[:most]


def _says_something(sayings: Sayings, run: _Joined) -> bool:
    return bool(offered(run.found, 1)) or sum(map(sayings.weight, run.ideas)) >= SAYS_SOMETHING


def _sure(sayings: Sayings, run: _Joined) -> str:
    """What a part surely means: well ahead of the next, with hardly a word left over. A family leaves none over, since
    any further word may tell which kind it is."""
    if not run.found:
        return ""
    best = run.found[0]
    ahead = best.score - (run.found[1].score if len(run.found) > 1 else 0.0)
    says_little = len(run.ideas) == 1 and not sayings.unwanted(run.ideas[0])
    over = sum(best.symptom not in sayings.uses.get(idea, ()) for idea in run.ideas)
    most = 0 if sayings.base.symptoms[best.symptom].kinds else LEFT_OVER
    return best.symptom if best.score >= SURE_ENOUGH and ahead >= AHEAD and over <= most and not says_little else ""


def _not_there(sayings: Sayings, part: Denied) -> str:
    gone = _names(tuple(denials(part)))
    found = sayings.scores(gone) if gone else []
    return found[0].symptom if found and found[0].score >= DENIED_ENOUGH else ""
