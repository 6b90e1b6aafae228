"""What closed jobs teach: how common each cause is on amps of a kind, with the knowledge base's word as prior.

The model (Gamma-Poisson, the conjugate pair; see for example Gelman and others, Bayesian Data Analysis, from memory).
Of amps of one kind, a cause is met at a rate that is the knowledge base's own rate times a factor. The factor is
Gamma distributed with mean 1 and shape a; what the closed jobs show is Poisson. After E cases that the knowledge base
would have expected among the amps seen, and k that there were, its mean is

    (a + k) / (a + E)        with a = prior_amps * E / amps seen

which for amps that are all alike is the same as (prior_amps * p + k) / (prior_amps + n) for the rate itself. `a` is
what the knowledge base expects among `prior_amps` amps, so `prior_amps` closed jobs of a kind weigh as much as its
word. It is set in one place, `shop: prior_amps` (kb/common.yaml, or a layer of the shop).

Amps are of one kind when the facts named by `shop: kinds_by` agree (any tube is one kind of rectifier). An amp on which
a cause can't be is no case seen. Jobs that are open, or closed without saying what it was, teach nothing.

What is dangerous is never moved down: causes that can start a fire or give a shock, those that show a symptom marked
as bearing on safety, and those behind a finding that raises a hold. Their own rate never falls, and ranking.py sees to
it that no rival's rise pushes them below where the knowledge base alone has them.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property

from ...knowledge.base import KnowledgeBase, holds_true
from ...knowledge.model import AmpValue, Cause
from ...reasoning.log import AmpFactsTold, Closed, LogEntry, Opened
from ...reasoning.ranking import prior_of
from ..store.job import KeptJobs

Amp = Mapping[str, AmpValue]
Kind = tuple[str, ...]
UNKNOWN = "not known"
ANY_TUBE = "tube"


@dataclass(frozen=True)
class Lesson:
    """A closed job that says what it was. number: of the job; at: when it was closed."""

    number: int
    at: datetime
    amp: Amp
    was: frozenset[str]


@dataclass(frozen=True)
class RateChange:
    """What closed jobs changed for a cause on amps of a kind.

    prior: the rate the knowledge base has for the amps seen; amps: how many were seen on which it can be; found: on how
    many it was; now: the rate now; kept: it would have fallen, and was not let, since it bears on safety.
    """

    cause: str
    name: str
    kind: Kind
    prior: float
    amps: int
    found: int
    now: float
    kept: bool

    @property
    def factor(self) -> float:
        return self.now / self.prior


def lesson_of(number: int, entries: Iterable[LogEntry]) -> Lesson | None:
    """What a job teaches, by the entries of its log that hold; None while it is open, or closed without a verdict."""
    amp: dict[str, AmpValue] = {}
    closed: Closed | None = None
    for entry in entries:
        match entry:
            case Opened() | AmpFactsTold():
                amp |= entry.amp
            case Closed():
                closed = entry
            case _:
                pass
    if closed is None or not closed.verdict:
        return None
    at = closed.at if closed.at.tzinfo else closed.at.replace(tzinfo=UTC)
    return Lesson(number, at, amp, frozenset((*closed.was, *closed.left)))


def kind_of(base: KnowledgeBase, amp: Amp) -> Kind:
    """The kind of an amp, by the facts that make kinds."""
    return tuple(_kind_value(base, fact, amp.get(fact)) for fact in base.shop.kinds_by)


def _kind_value(base: KnowledgeBase, fact: str, value: AmpValue | None) -> str:
    if value is None:
        return UNKNOWN
    known = base.amp_facts.get(fact)
    return ANY_TUBE if known and known.from_reference and str(value) not in known.choices else str(value)


def dangerous(base: KnowledgeBase) -> frozenset[str]:
    """The causes that are never moved down."""
    safety = {symptom.id for symptom in base.symptoms.values() if symptom.safety}
    for rule in base.rules.values():
        if any(conclusion.hold for conclusion in rule.then):
            safety.update(leaf.finding for leaf in rule.when.leaves() if leaf.finding)
    return frozenset(
        cause.id
        for cause in base.causes.values()
        if cause.hazard in ("fire", "shock") or safety.intersection(cause.shows)
    )


@dataclass(frozen=True)
class Learned:
    """The table of what closed jobs teach, for one knowledge base. The same lessons make the same table."""

    base: KnowledgeBase
    lessons: tuple[Lesson, ...]
    guarded: frozenset[str] = field(default=frozenset())

    @cached_property
    def fingerprint(self) -> str:
        """A hash of all that the table rests on, beside the knowledge base; '' when it rests on nothing."""
        if not self.lessons:
            return ""
        told = [
            (one.number, one.at.isoformat(), sorted(one.amp.items(), key=str), sorted(one.was)) for one in self.lessons
        ]
        terms = (self.base.shop.prior_amps, self.base.shop.kinds_by)
        return hashlib.sha256(json.dumps([told, terms], default=str).encode()).hexdigest()[:12]

    @cached_property
    def _by_kind(self) -> Mapping[Kind, tuple[Lesson, ...]]:
        kinds: dict[Kind, list[Lesson]] = {}
        for one in self.lessons:
            kinds.setdefault(kind_of(self.base, one.amp), []).append(one)
        return {kind: tuple(lessons) for kind, lessons in kinds.items()}

    @property
    def kinds(self) -> Mapping[Kind, int]:
        """How many closed jobs teach of each kind of amp, most first."""
        counted = Counter({kind: len(lessons) for kind, lessons in self._by_kind.items()})
        return dict(sorted(counted.items(), key=lambda one: (-one[1], one[0])))

    def factors(self, amp: Amp) -> Mapping[str, float]:
        """By how much each cause's rate changes on an amp; 1 is left out."""
        kind = kind_of(self.base, amp)
        return {one.cause: one.factor for one in self.changes(kind) if one.factor != 1}

    def change(self, cause: str, amp: Amp) -> RateChange | None:
        """What is learned of one cause on an amp; None for nothing."""
        return next((one for one in self.changes(kind_of(self.base, amp)) if one.cause == cause), None)

    def changes(self, kind: Kind) -> tuple[RateChange, ...]:
        """What is learned of amps of a kind, by cause, in the order of the knowledge base."""
        lessons = self._by_kind.get(kind, ())
        if not lessons:
            return ()
        found = Counter(id_ for one in lessons for id_ in one.was)
        expected = _Expected(self.base, lessons)
        made = (self._change(cause, kind, found[cause.id], *expected.of(cause)) for cause in self.base.causes.values())
        return tuple(one for one in made if one is not None)

    def _change(self, cause: Cause, kind: Kind, found: int, amps: int, cases: float) -> RateChange | None:
        if amps == 0 or cases <= 0:
            return None
        prior = cases / amps
        shape, exposure = posterior(prior, self.base.shop.prior_amps, found, amps)
        rate = shape / exposure
        kept = cause.id in self.guarded and rate < prior
        return RateChange(cause.id, cause.name, kind, prior, amps, found, prior if kept else rate, kept)


def posterior(prior: float, prior_amps: float, found: int, amps: int) -> tuple[float, float]:
    """The shape and the rate (in amps) of the Gamma distribution of how common a cause is, once `found` of `amps` had
    it; the prior is Gamma with mean `prior` and the weight of `prior_amps`. Its mean is shape / rate."""
    return prior_amps * prior + found, prior_amps + amps


class _Expected:
    """How many cases the knowledge base would have expected among some amps. Amps that agree in all that a cause heeds
    are counted together, so that many jobs cost little."""

    def __init__(self, base: KnowledgeBase, lessons: Sequence[Lesson]) -> None:
        self.base = base
        self.lessons = lessons
        self._groups: dict[tuple[str, ...], list[tuple[Amp, int]]] = {}

    def of(self, cause: Cause) -> tuple[int, float]:
        """On how many of the amps the cause can be, and how many cases are expected."""
        heeded = tuple(sorted({*cause.needs, *(fact for shift in (*cause.more, *cause.less) for fact in shift.when)}))
        amps, cases = 0, 0.0
        for amp, count in self._grouped(heeded):
            if holds_true(cause.needs, amp) is not False:
                amps += count
                cases += count * prior_of(self.base, cause, amp)
        return amps, cases

    def _grouped(self, heeded: tuple[str, ...]) -> list[tuple[Amp, int]]:
        if heeded not in self._groups:
            counted = Counter(
                tuple((fact, one.amp[fact]) for fact in heeded if fact in one.amp) for one in self.lessons
            )
            self._groups[heeded] = [(dict(facts), count) for facts, count in counted.items()]
        return self._groups[heeded]


def learn(base: KnowledgeBase, lessons: Iterable[Lesson | None], since: datetime | None = None) -> Learned:
    """The table of some lessons: those closed after `since`, in the order of their jobs."""
    return Learned(base, _counted(lessons, since), dangerous(base))


def _counted(lessons: Iterable[Lesson | None], since: datetime | None) -> tuple[Lesson, ...]:
    counted = [one for one in lessons if one is not None and (since is None or one.at > since)]
    return tuple(sorted(counted, key=lambda one: one.number))


TELLING = ("opened", "amp", "closed", "undone")  # the kinds of entries that lessons are read from
MARK = "learning"  # the mark of the store that says from when on jobs teach


def from_store(base: KnowledgeBase, store: KeptJobs) -> Learned:
    """What the closed jobs of a store teach. Raises JobError."""
    return learn(base, lessons_of(store))


def lessons_of(store: KeptJobs) -> tuple[Lesson, ...]:
    """The lessons of a store's closed jobs that count. Raises JobError."""
    found = store.closed(TELLING)
    return _counted((lesson_of(number, entries) for number, entries in found), store.marked(MARK))
