"""What the knowledge base covers, and where it is weak."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from ..knowledge.base import KnowledgeBase
from ..knowledge.model import SECTIONS, Cited
from ..knowledge.telling_apart import Pair, Parting, confirmed_at, named_inseparable, pairs
from ..knowledge.useless_checks import idle
from ..report import Report

PRACTICE = "common-practice"


class AreaCount(Report):
    """How many entries an area has, by section. Of these, published: that name a source of their own which is more
    than common practice; by_default: that name none and rest on their area's; unsourced: that rest on nothing."""

    area: str
    title: str
    counts: dict[str, int]
    published: int
    by_default: int
    unsourced: int


class PairTold(Report):
    """Two causes that share a symptom. stage: at which the first of them can be confirmed; in_time: what separates them
    best up to there; ever: at any stage. because: the reason, when they are named as inseparable."""

    one: str
    other: str
    stage: str
    in_time: Parting
    ever: Parting
    told_apart: bool
    because: str


class IdleCheck(Report):
    """A check that is never worth doing. instead: the checks that settle all it settles as early and as quickly."""

    check: str
    name: str
    instead: tuple[str, ...]


class Coverage(Report):
    """pairs: the hardest to tell apart, of `sharing` pairs that share a symptom. idle: checks never worth doing;
    unchosen: checks that no sample job chose, None when none were tried. single: symptoms that one cause alone shows.
    unconfirmed: causes that no single finding confirms."""

    shape: Literal["chopstick knowledge coverage 1"] = "chopstick knowledge coverage 1"
    areas: tuple[AreaCount, ...]
    sharing: int
    pairs: tuple[PairTold, ...]
    idle: tuple[IdleCheck, ...]
    unchosen: tuple[str, ...] | None
    single: tuple[str, ...]
    unconfirmed: tuple[str, ...]


def coverage(base: KnowledgeBase, most_pairs: int, unchosen: tuple[str, ...] | None = None) -> Coverage:
    """The whole report."""
    found = pairs(base)
    return Coverage(
        areas=tuple(_counts(base)),
        sharing=len(found),
        pairs=tuple(_pair(base, pair) for pair in found[:most_pairs]),
        idle=tuple(IdleCheck.made_of(one, name=base.checks[one.check].name) for one in idle(base)),
        unchosen=unchosen,
        single=tuple(id_ for id_ in base.symptoms if len(base.causes_showing.get(id_, ())) == 1),
        unconfirmed=tuple(id_ for id_, (_, finding) in confirmed_at(base).items() if not finding),
    )


def _counts(base: KnowledgeBase) -> Iterator[AreaCount]:
    for area in base.areas.values():
        entries = [one for section in SECTIONS for one in getattr(area, section).values() if isinstance(one, Cited)]
        yield AreaCount(
            area=area.area,
            title=area.title,
            counts={section: len(getattr(area, section)) for section in SECTIONS},
            by_default=sum(not one.sources and area.source is not None for one in entries),
            published=sum(bool(set(one.sources) - {PRACTICE}) for one in entries),
            unsourced=sum(not base.rests_on(area, one) for one in entries),
        )


def _pair(base: KnowledgeBase, pair: Pair) -> PairTold:
    named = named_inseparable(base).get(frozenset((pair.one, pair.other)))
    return PairTold.made_of(pair, because=named.because if named else "")
