"""The knowledge base and the facts as a network, and what it makes each cause's probability."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Protocol

import numpy as np

from ..knowledge.base import KnowledgeBase, holds_true
from ..knowledge.model import AmpValue, Cause
from .belief import BeliefNetwork, Posterior, Rows, infer
from .deduce import Deduction
from .facts import Facts, Said
from .subsets import Array

DIGITS = 12
MOST_OF_A_GROUP = 0.95  # however common its causes, a group keeps some room for 'none of them'


class Experience(Protocol):
    """What closed jobs taught, as the ranking heeds it. fingerprint: of all it rests on; guarded: the causes that it
    must never make less probable, since they bear on safety."""

    @property
    def fingerprint(self) -> str: ...

    @property
    def guarded(self) -> frozenset[str]: ...

    def factors(self, amp: Mapping[str, AmpValue]) -> Mapping[str, float]:
        """By how much the rate of a cause differs on such an amp; a cause that is left out does not."""


@dataclass(frozen=True)
class Volts:
    """What the volts read on a known circuit say of the causes.

    factors (C,): odds of each cause by what points away from it. links: by finding and entry, how often each cause
    shows the stage off that was read then (C,), and its leak. points: the test points that were taken in; the causes in
    `aside` are judged by the volts there themselves, not by what their check makes of them as well.
    """

    factors: Array | None = None
    links: Mapping[tuple[str, int], tuple[Array, float]] = field(default_factory=dict)
    points: frozenset[str] = frozenset()
    aside: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Causes:
    """The causes that can exist in an amp, as columns. links: by finding, how often each cause shows it, by
    column; the causes that never do are left out.

    untaught: the network by the knowledge base alone, where experience changed it; guarded: the columns of the causes
    that experience must not make less probable than they are by that. volts: what a known circuit adds."""

    base: KnowledgeBase
    ids: tuple[str, ...]
    network: BeliefNetwork
    links: Mapping[str, Mapping[int, float]]
    untaught: BeliefNetwork | None = None
    guarded: tuple[int, ...] = ()
    volts: Volts = field(default_factory=Volts)

    @cached_property
    def column(self) -> Mapping[str, int]:
        return {id_: number for number, id_ in enumerate(self.ids)}

    @cached_property
    def repair_minutes(self) -> Array:
        """Bench minutes of each cause's first repair with its proving check; shape (C,)."""
        causes = [self.base.causes[id_] for id_ in self.ids]
        pairs = [(cause, self.base.repairs[cause.repairs[0]]) for cause in causes]
        return np.array(
            [repair.minutes + self.base.checks[repair.proof_for(cause).check].minutes for cause, repair in pairs]
        )

    @cached_property
    def shows(self) -> Sequence[Sequence[tuple[str, float]]]:
        """The links the other way round: what each cause shows, by column, and how often."""
        found: list[list[tuple[str, float]]] = [[] for _ in self.ids]
        for finding, columns in self.links.items():
            for column, often in columns.items():
                found[column].append((finding, often))
        return found

    def link(self, finding: str, without: Iterable[str] = ()) -> Array:
        """How often each cause shows a finding, (C,); the causes in `without` (repaired ones) no longer do."""
        row = np.zeros(len(self.ids))
        for column, often in self.links.get(finding, {}).items():
            row[column] = often
        row[[self.column[id_] for id_ in without if id_ in self.column]] = 0
        return row

    def shown(self, said: Said) -> Array:
        """How often each cause shows what a statement says, those repaired by then left out."""
        measured = self.volts.links.get((said.finding, said.entry))
        return measured[0] if measured else self.link(said.finding, said.repaired)

    def leak(self, said: Said) -> float:
        """How often what a statement says is there with none of the known causes."""
        measured = self.volts.links.get((said.finding, said.entry))
        return measured[1] if measured else self.base.leak(said.finding)

    def knows(self, said: Said) -> bool:
        """Whether a statement has a say: some cause shows it."""
        return said.finding in self.links or (said.finding, said.entry) in self.volts.links

    def _heeded(self, said: Said) -> Array:
        if said.point in self.volts.points:
            return self.link(said.finding, said.repaired | self.volts.aside)
        return self.shown(said)

    def rows(self, said: Sequence[Said]) -> Rows:
        """Statements as rows of the network."""
        if not said:
            return Rows.none(len(self.ids))
        return Rows(
            np.array([self._heeded(one) for one in said]),
            np.array([self.leak(one) for one in said]),
        )


def causes_of(base: KnowledgeBase, amp: Mapping[str, AmpValue], experience: Experience | None = None) -> Causes:
    """The causes an amp can have, with their priors, as experience has changed them."""
    possible = [cause for cause in base.causes.values() if holds_true(cause.needs, amp) is not False]
    ids = tuple(cause.id for cause in possible)
    groups: dict[str, list[int]] = {}
    links: dict[str, dict[int, float]] = {}
    for number, cause in enumerate(possible):
        groups.setdefault(base.group(cause.id), []).append(number)
        for finding, word in cause.shows.items():
            links.setdefault(finding, {})[number] = base.how_often(word)
    grouped = tuple(tuple(group) for group in groups.values())
    prior = np.array([prior_of(base, cause, amp) for cause in possible])
    network = BeliefNetwork(_with_room(prior, grouped), grouped)
    factors = experience.factors(amp) if experience else {}
    if experience is None or not factors:
        return Causes(base, ids, network, links)
    taught = prior * np.array([factors.get(id_, 1.0) for id_ in ids])
    guarded = tuple(number for number, id_ in enumerate(ids) if id_ in experience.guarded)
    return Causes(base, ids, BeliefNetwork(_with_room(taught, grouped), grouped), links, network, guarded)


def _with_room(prior: Array, groups: Iterable[tuple[int, ...]]) -> Array:
    """Priors scaled down where a group would leave too little room for 'none of them'."""
    prior = prior.copy()
    for group in groups:
        total = prior[list(group)].sum()
        if total > MOST_OF_A_GROUP:
            prior[list(group)] *= MOST_OF_A_GROUP / total
    return prior


def prior_of(base: KnowledgeBase, cause: Cause, amp: Mapping[str, AmpValue]) -> float:
    """How probable a cause is before anything is noticed: its commonness, its odds shifted by what the amp is.

    While a fact it needs is not known, only the share of amps that meet it counts.
    """
    probability = base.scale.commonness[cause.commonness] / 1000 * base.share(cause.needs, amp)
    odds = probability / (1 - probability)
    for shift in cause.more:
        if holds_true(shift.when, amp):
            odds *= base.scale.factor[shift.by]
    for shift in cause.less:
        if holds_true(shift.when, amp):
            odds /= base.scale.factor[shift.by]
    return odds / (1 + odds)


@dataclass(frozen=True)
class Ranking:
    """What is believed now. evidence: the statements it rests on. factors (C,): odds set by rules."""

    causes: Causes
    evidence: tuple[Said, ...]
    factors: Array
    posterior: Posterior

    @cached_property
    def probability(self) -> Mapping[str, float]:
        """By cause; to as many digits as do not depend on the order of sums, so that a tie is one on every machine."""
        return dict(zip(self.causes.ids, self.posterior.probability[0].round(DIGITS).tolist(), strict=True))

    @property
    def present(self) -> tuple[Said, ...]:
        return tuple(said for said in self.evidence if said.present)

    @property
    def absent(self) -> tuple[Said, ...]:
        return tuple(said for said in self.evidence if not said.present)

    def again(self, evidence: tuple[Said, ...]) -> Ranking:
        """The ranking if the evidence were this."""
        return _ranked(self.causes, evidence, self.factors)

    def leaving_out(self, sets: Sequence[Collection[int]]) -> Array:
        """The logarithm of the evidence with each set of its statements left out; shape (sets,).

        All in one inference, a scenario a set: an absent finding is taken out by dividing its factors out again, a
        present one by a leak of 1.
        """
        causes = self.causes
        present = causes.rows(self.present)
        places = itertools.accumulate((said.present for said in self.evidence), initial=0)
        place = dict(enumerate(places))
        factors, leak = np.tile(self.factors, (len(sets), 1)), np.tile(present.leak, (len(sets), 1))
        told = np.zeros(len(sets))
        for row, out in enumerate(sets):
            for number in out:
                said = self.evidence[number]
                if said.present:
                    leak[row, place[number]] = 1.0
                else:
                    shown = causes.rows([said])
                    factors[row] /= 1 - shown.shows[0]
                    told[row] += np.log1p(-shown.leak[0])
        absent = causes.rows(self.absent)
        return infer(causes.network, Rows(present.shows, leak), absent, factors, only_evidence=True).log_evidence - told

    @cached_property
    def without(self) -> Array:
        """The logarithm of the evidence with each statement left out in turn; shape (evidence,)."""
        return self.leaving_out([(number,) for number in range(len(self.evidence))])

    def expected(self) -> Array:
        """For each statement of the evidence, how probable it was, given all the others; shape (evidence,)."""
        return np.asarray(np.exp(self.posterior.log_evidence[0] - self.without))

    def unexplained(self, said: Said) -> float:
        """How probable it is that a present finding of the evidence comes from none of the known causes."""
        symptom = said.finding in self.causes.base.symptoms
        alone = self._without_symptom[said] if symptom else self.leaving_out([(self.evidence.index(said),)])[0]
        return float(min(1.0, self.causes.leak(said) * np.exp(alone - self.posterior.log_evidence[0])))

    @cached_property
    def _without_symptom(self) -> Mapping[Said, float]:
        """`without`, of the present symptoms alone."""
        symptoms = self.causes.base.symptoms
        asked = {said: n for n, said in enumerate(self.evidence) if said.present and said.finding in symptoms}
        return dict(zip(asked, self.leaving_out([(n,) for n in asked.values()]).tolist(), strict=True))


def rank(causes: Causes, facts: Facts, deduction: Deduction, off: tuple[Said, ...] = ()) -> Ranking:
    """Every cause's probability given the facts, what the rules made of them, and the stages whose volts are off."""
    factors = np.ones(len(causes.ids)) if causes.volts.factors is None else causes.volts.factors.copy()
    for id_, factor in deduction.factors.items():
        if id_ in causes.column:
            factors[causes.column[id_]] *= factor
    for id_ in deduction.ruled_out:
        if id_ in causes.column:
            factors[causes.column[id_]] = 0.0
    return _ranked(causes, (*facts.evidence(), *deduction.findings, *off), factors)


def _ranked(causes: Causes, evidence: tuple[Said, ...], factors: Array) -> Ranking:
    relevant = tuple(said for said in evidence if causes.knows(said))
    return Ranking(causes, relevant, factors, _posterior(causes, relevant, factors))


def _posterior(causes: Causes, evidence: tuple[Said, ...], factors: Array) -> Posterior:
    present = causes.rows([said for said in evidence if said.present])
    absent = causes.rows([said for said in evidence if not said.present])
    found = infer(causes.network, present, absent, factors)
    if causes.untaught is None or not causes.guarded:
        return found
    alone = infer(causes.untaught, present, absent, factors).probability
    probability, columns = found.probability.copy(), list(causes.guarded)
    probability[:, columns] = np.maximum(probability[:, columns], alone[:, columns])
    return replace(found, probability=probability)
