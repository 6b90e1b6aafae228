"""How well the causes that share a symptom are told apart.

Two causes are told apart when some check settles a finding that one of them shows at least two how-often words more
often than the other, at a stage of work no later than that at which the first of the two could be confirmed: before
one of them is believed, the other has had its say. A finding that a cause does not show counts with the finding's own
`otherwise`. A cause is confirmed by a finding that it usually shows and that, of all causes showing it, is more often
its doing than that of all others together; where there is none, at the last stage of work. Causes whose `needs` no one
amp meets are told apart by the amp itself.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from . import model
from .base import KnowledgeBase, exclude

WORDS_APART = 2
CONFIRMS = "usually"  # shown at least this often
DOING = 0.5  # of the amps that show a finding, the share in which a cause must be behind it for it to confirm the cause


@dataclass(frozen=True)
class Parting:
    """A check that separates two causes by a finding; both '' when nothing does.

    words: how many how-often words apart they show it. factor: by how much the answer shifts the odds between the two,
    on average (geometric mean over both causes).
    """

    check: str = ""
    finding: str = ""
    words: int = 0
    factor: float = 1.0

    @property
    def enough(self) -> bool:
        return self.words >= WORDS_APART


@dataclass(frozen=True)
class Pair:
    """Two causes that share a symptom. in_time: what separates them best up to `stage`, the stage of work at which the
    first of the two could be confirmed; ever: what separates them best at any stage."""

    one: str
    other: str
    stage: model.Stage
    in_time: Parting
    ever: Parting

    @property
    def told_apart(self) -> bool:
        return self.in_time.enough


def pairs(base: KnowledgeBase) -> tuple[Pair, ...]:
    """Every pair of causes that share a symptom and can be on one amp, the hardest to tell apart first."""
    looking = _Looking(base)
    found = [looking.pair(one, other) for one, other in _sharing(base)]
    return tuple(sorted(found, key=lambda pair: (pair.told_apart, pair.ever.factor, pair.one, pair.other)))


def named_inseparable(base: KnowledgeBase) -> Mapping[frozenset[str], model.Inseparable]:
    """The pairs that the knowledge base names as inseparable."""
    return {
        frozenset(two): entry for entry in base.inseparable.values() for two in itertools.combinations(entry.causes, 2)
    }


def confirmed_at(base: KnowledgeBase) -> Mapping[str, tuple[model.Stage, str]]:
    """For each cause the earliest stage of work at which a check could confirm it, and the finding that does; the
    last stage and '' when no single finding does."""
    looking = _Looking(base)
    return {id_: (model.STAGES[stage], finding) for id_, (stage, finding) in looking.confirmed.items()}


def _sharing(base: KnowledgeBase) -> Iterator[tuple[str, str]]:
    """Pairs of causes that share a symptom and can both be there on one amp, in the order of the files."""
    order = {id_: n for n, id_ in enumerate(base.causes)}
    sharing = {
        two
        for symptom in base.symptoms
        if symptom not in base.kinds  # its kinds are told apart by one question, and count themselves
        for two in itertools.combinations(sorted(base.causes_showing.get(symptom, ()), key=order.__getitem__), 2)
    }
    needs = {id_: cause.needs for id_, cause in base.causes.items() if cause.needs}
    for one, other in sorted(sharing, key=lambda two: (order[two[0]], order[two[1]])):
        if not (one in needs and other in needs and exclude(needs[one], needs[other])):
            yield one, other


class _Looking:
    """Names that nothing has are passed over: other lints tell them."""

    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base
        often = base.scale.how_often
        self.rank = {word: n for n, word in enumerate(sorted(often, key=often.__getitem__))}
        self.factor = {(one, other): _factor(often[one], often[other]) for one in often for other in often}
        words = {id_: base.noted(id_).otherwise for id_ in (*base.symptoms, *base.findings)}
        self.otherwise = {id_: word for id_, word in words.items() if word in often}
        self.shows = {
            id_: {f: word for f, word in cause.shows.items() if f in self.otherwise and word in often}
            for id_, cause in base.causes.items()
        }
        self.settled: dict[str, tuple[int, float, str]] = {}  # by finding: stage, minutes and id of its first check
        for check in base.written.values():
            for finding in check.findings():
                ours = (model.STAGES.index(check.stage), check.minutes, check.id)
                self.settled[finding] = min(self.settled.get(finding, ours), ours)
        self.confirmed = self._confirmed()

    def _confirmed(self) -> dict[str, tuple[int, str]]:
        base, scale = self.base, self.base.scale
        common = {id_: scale.commonness.get(cause.commonness, 0.0) for id_, cause in base.causes.items()}
        behind: dict[str, float] = defaultdict(float)
        for id_, shows in self.shows.items():
            for finding, word in shows.items():
                behind[finding] += common[id_] * scale.how_often[word]
        last = (len(model.STAGES) - 1, "")
        return {
            id_: min(
                (
                    (self.settled[finding][0], finding)
                    for finding, word in shows.items()
                    if finding in self.settled
                    and finding not in base.symptoms
                    and self.rank[word] >= self.rank[CONFIRMS]
                    and common[id_] * scale.how_often[word] >= DOING * behind[finding]
                ),
                default=last,
            )
            for id_, shows in self.shows.items()
        }

    def pair(self, one: str, other: str) -> Pair:
        stage = min(self.confirmed[one][0], self.confirmed[other][0])
        partings = list(self._partings(self.shows[one], self.shows[other]))
        in_time = max((parting for at, parting in partings if at <= stage), key=_strength, default=Parting())
        ever = max((parting for _, parting in partings), key=_strength, default=Parting())
        return Pair(one, other, model.STAGES[stage], in_time, ever)

    def _partings(self, ours: Mapping[str, str], theirs: Mapping[str, str]) -> Iterator[tuple[int, Parting]]:
        """What separates two causes, each with its stage of work."""
        for finding in {**ours, **theirs}:
            here = ours.get(finding) or self.otherwise[finding]
            there = theirs.get(finding) or self.otherwise[finding]
            if here != there and finding in self.settled:
                at, _, check = self.settled[finding]
                words = abs(self.rank[here] - self.rank[there])
                yield at, Parting(check, finding, words, self.factor[here, there])


def _strength(parting: Parting) -> tuple[bool, float, str]:
    return parting.enough, parting.factor, parting.check


def _factor(one: float, other: float) -> float:
    """The factor by which an answer shifts the odds between two causes that show a finding this often: the mean of
    its logarithm over the answers, taken over both causes (half of Jeffreys' divergence), as a factor."""
    shift = (one - other) * (math.log(one / (1 - one)) - math.log(other / (1 - other)))
    return math.exp(shift / 2)
