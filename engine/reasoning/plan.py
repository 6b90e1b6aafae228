"""What is worth doing next: the value of each check in bench minutes, and the order of repairs.

What remains to be done is counted in expected bench minutes: each thing to be explained (a complaint, or a finding
that is there) has the repairs tried in the order of probability over cost until it is gone, which for one fault and
independent costs is the best order (the classic result on sequential search, from memory: Blackwell; see
tests/peers); what is too improbable to try is given up, at a price. A repair done on a hunch costs extra. The value
of a check is the drop in that sum that it is expected to bring, one step ahead.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..knowledge import model
from .bands import bands_of
from .belief import Rows, infer
from .deduce import Deduction
from .facts import Said
from .ranking import Ranking
from .subsets import Array

NEGLIGIBLE = 1e-4  # causes less probable than this are left out of the look ahead (never out of the ranking)
MOST_LOOKED_AHEAD = 48  # checks whose outcomes are worked through at each step; the rest score lower on a quick look
MOST_JOINT = 3  # findings of one outcome that are taken together
MOST_WIDTH = 10  # how far the look ahead sums exactly; beyond that it bounds (the ranking itself: belief.MOST_WIDTH)
FINDING_WEIGHT = 0.25  # a finding that is there asks for its explanation, but less than a complaint does


@dataclass(frozen=True)
class Costs:
    """What things cost, in bench minutes. repair (C,): the first repair of each cause with its proof; unexplained: a
    target given up; hunch: a repair on a hunch, by how far it is from certain, and once more below `sure`."""

    repair: Array
    unexplained: float
    hunch: float
    sure: float


@dataclass(frozen=True)
class Target:
    """Something to be explained: a present finding, the columns of the causes that can, and its weight."""

    said: Said
    columns: tuple[int, ...]
    weight: float


@dataclass(frozen=True)
class Worth:
    """A check's worth. saves: expected drop in remaining minutes; minutes: what it costs, with moving to its stage;
    outcomes: each outcome's findings and its probability."""

    check: str
    saves: float
    minutes: float
    outcomes: tuple[tuple[tuple[str, ...], float], ...]

    @property
    def rate(self) -> float:
        return self.saves / self.minutes


@dataclass(frozen=True)
class Outlook:
    """The ranking seen as work ahead."""

    ranking: Ranking
    targets: tuple[Target, ...]
    costs: Costs
    repaired: frozenset[str] = frozenset()

    @cached_property
    def minutes(self) -> float:
        """Expected bench minutes of repairs still ahead."""
        return float(remaining_minutes(self.ranking.posterior.probability, self.targets, self.costs)[0])

    @cached_property
    def bearing(self) -> frozenset[int]:
        """Columns of the causes that could explain something still open, and are not negligible."""
        probability = self.ranking.posterior.probability[0]
        return frozenset(c for target in self.targets for c in target.columns if probability[c] > NEGLIGIBLE)


def repair_costs(ranking: Ranking, deduction: Deduction) -> Costs:
    """What the first repair of each cause costs, with what rules made of repairs and minutes."""
    causes, base, scale = ranking.causes, ranking.causes.base, ranking.causes.base.scale
    minutes = causes.repair_minutes
    if deduction.prefer or deduction.forbid or deduction.changes:
        repairs = [base.repairs[deduction.repairs(base.causes[id_])[0]] for id_ in causes.ids]
        minutes = np.array(
            [
                deduction.repair_minutes(one)
                + deduction.check_minutes(base.checks[one.proof_for(base.causes[id_]).check])
                for id_, one in zip(causes.ids, repairs, strict=True)
            ]
        )
    return Costs(minutes, scale.unexplained_minutes, scale.hunch_minutes, scale.sure)


def outlook(
    ranking: Ranking, repaired: Iterable[str], explained: Iterable[str] = (), deduction: Deduction | None = None
) -> Outlook:
    """What is still to be explained. repaired: causes already repaired; explained: findings proven dealt with;
    deduction: what rules made of repairs and minutes."""
    base = ranking.causes.base
    repaired = frozenset(repaired)
    mended = {ranking.causes.column[id_] for id_ in repaired if id_ in ranking.causes.column}
    latest = {said.finding: said for said in ranking.evidence}
    targets = []
    for said in latest.values():
        if not said.present or said.finding in explained:
            continue
        link = ranking.causes.shown(said)
        columns = tuple(int(column) for column in np.nonzero(link)[0] if column not in mended)
        if columns:
            weight = 1.0 if said.finding in base.symptoms else FINDING_WEIGHT
            targets.append(Target(said, columns, weight))
    return Outlook(ranking, tuple(targets), repair_costs(ranking, deduction or Deduction()), repaired)


def remaining_minutes(probability: Array, targets: Sequence[Target], costs: Costs) -> Array:
    """Expected minutes of work ahead for each row of probabilities (K, C); shape (K,).

    For each target the repairs are tried in order until it is gone, or until the rest is not worth trying and the
    target is given up at the cost of one that nothing explains. A repair that would serve several targets is
    counted once, for the one most likely to reach it.
    """
    reached = np.zeros_like(probability)
    total = np.zeros(len(probability))
    for target in targets:
        columns = np.array(target.columns)
        here = probability[:, columns]
        minutes = costs.repair[columns]
        order = np.argsort(-here / minutes, axis=1, kind="stable")
        tried = np.take_along_axis(here, order, axis=1)
        left = np.clip(1 - np.cumsum(tried, axis=1), 0, 1)
        before = np.concatenate([np.ones((len(here), 1)), left[:, :-1]], axis=1)
        spent = np.cumsum(before * minutes[order], axis=1)
        given_up = target.weight * costs.unexplained * np.concatenate([np.ones((len(here), 1)), left], axis=1)
        stop = np.argmin(given_up + np.concatenate([np.zeros((len(here), 1)), spent], axis=1), axis=1)
        before[np.arange(before.shape[1])[None, :] >= stop[:, None]] = 0
        back = np.empty_like(before)
        np.put_along_axis(back, order, before, axis=1)
        reached[:, columns] = np.maximum(reached[:, columns], back)
        total += np.take_along_axis(given_up, stop[:, None], axis=1)[:, 0]
        best = here.max(axis=1)
        total += target.weight * costs.hunch * (1 - best + (best < costs.sure))
    return np.asarray(total + reached @ costs.repair)


def repair_order(probability: Mapping[str, float], minutes: Mapping[str, float]) -> tuple[str, ...]:
    """Causes in the order in which to repair them: probability over cost, ties by name."""
    return tuple(sorted(probability, key=lambda id_: (-probability[id_] / minutes[id_], id_)))


def worths(
    ahead: Outlook, checks: Iterable[model.Check], known: Mapping[str, Said], moves: Mapping[str, float]
) -> list[Worth]:
    """The worth of each check that could tell something new, best first.

    known: the findings already settled. moves: minutes to bring the amp into the set-up of each check.
    """
    spread = _spread(ahead)
    quick = sorted(((_quick_look(spread, check, known), check) for check in checks), key=lambda p: (-p[0], p[1].id))
    chosen = [check for score, check in quick if score > 1e-6][:MOST_LOOKED_AHEAD]
    if not chosen or not ahead.targets:
        return []
    found = _Looking(ahead, chosen, known).worths(moves)
    return sorted(found, key=lambda worth: (-worth.rate, worth.check))


def worthwhile(found: Iterable[Worth]) -> list[Worth]:
    """The checks that are expected to save more than they cost. With none left, it is time to repair."""
    return [worth for worth in found if worth.saves > worth.minutes]


def _spread(ahead: Outlook) -> Mapping[str, float]:
    """For each finding, a cheap guess at what it could tell: the spread of the open causes that show it."""
    causes, probability = ahead.ranking.causes, ahead.ranking.posterior.probability[0].tolist()
    spread: dict[str, float] = defaultdict(float)
    for column in sorted(ahead.bearing):
        if causes.ids[column] not in ahead.repaired:
            for finding, often in causes.shows[column]:
                spread[finding] += often * probability[column] * (1 - probability[column])
    return spread


def _quick_look(spread: Mapping[str, float], check: model.Check, known: Mapping[str, Said]) -> float:
    """The most that one open finding of a check could tell, a minute."""
    return max((spread.get(f, 0.0) for f in check.findings() if f not in known), default=0.0) / check.minutes


def _questions(check: model.Check, known: Mapping[str, Said]) -> list[list[tuple[str, ...]]]:
    """The separate questions a check settles, each as its possible outcomes: findings true (others false)."""
    if check.answers:
        asked = [[answer.findings for answer in check.answers.values()]]
    else:  # a reading may also fall in no band
        asked = [[*(band.findings for band in bands), ()] for bands in bands_of(check).values()]
    questions = []
    for outcomes in asked:
        fresh = [tuple(f for f in outcome if f not in known)[:MOST_JOINT] for outcome in outcomes]
        distinct = list(dict.fromkeys(fresh))
        if len(distinct) > 1:
            questions.append(distinct)
    return questions


class _Looking:
    """Works through the outcomes of many checks at once: one row of factors for each set of absent findings. What is
    negligible, or has to do with nothing that is asked or to be explained, is left out."""

    def __init__(self, ahead: Outlook, checks: Sequence[model.Check], known: Mapping[str, Said]) -> None:
        self.questions = [(check, question) for check in checks for question in _questions(check, known)]
        self.rows: dict[frozenset[str], int] = {frozenset(): 0}
        for _, question in self.questions:
            for absent in _absences(question):
                self.rows.setdefault(absent, len(self.rows))
        ranking, causes = ahead.ranking, ahead.ranking.causes
        shown = {f: causes.link(f, ahead.repaired) for f in dict.fromkeys(itertools.chain.from_iterable(self.rows))}
        present, gone = causes.rows(ranking.present), causes.rows(ranking.absent)
        kept = _kept(ahead, [*shown.values(), *present.shows])
        self.targets, self.costs = _restricted(ahead, kept)
        unshown = {finding: (1 - often[kept], np.log1p(-causes.base.leak(finding))) for finding, often in shown.items()}
        factors = np.tile(ranking.factors[kept], (len(self.rows), 1))
        constant = np.zeros(len(self.rows))
        for absent, row in self.rows.items():
            for finding in absent:
                factors[row] *= unshown[finding][0]
                constant[row] += unshown[finding][1]
        here, not_here = (Rows(rows.shows[:, kept], rows.leak) for rows in (present, gone))
        posterior = infer(causes.network.only(kept), here, not_here, factors, MOST_WIDTH)
        self.chance = np.exp(posterior.log_evidence + constant - posterior.log_evidence[0])
        self.joint = posterior.probability * self.chance[:, None]

    def worths(self, moves: Mapping[str, float]) -> list[Worth]:
        """An outcome has its findings true and the question's others false: sums and differences of the rows in which
        more or fewer of them are absent. Outcomes exclude one another, so they are scaled to sum to 1."""
        signs = np.array([self._signs(question, outcome) for _, question in self.questions for outcome in question])
        chance = np.maximum(signs @ self.chance, 1e-12)
        posterior = np.clip(signs @ self.joint / chance[:, None], 0, 1)
        now, *after = remaining_minutes(np.concatenate([self.joint[:1], posterior]), self.targets, self.costs)
        best: dict[str, Worth] = {}
        start = 0
        for check, question in self.questions:
            some = slice(start, start + len(question))
            chances = chance[some] / chance[some].sum()
            saves = float(now - chances @ np.array(after[some]))
            start += len(question)
            told = tuple(zip(question, chances.tolist(), strict=True))
            worth = Worth(check.id, max(0.0, saves), check.minutes + moves.get(check.id, 0.0), told)
            if check.id not in best or best[check.id].saves < worth.saves:
                best[check.id] = worth
        return list(best.values())

    def _signs(self, question: Sequence[tuple[str, ...]], outcome: tuple[str, ...]) -> Array:
        """With which sign each row enters an outcome; shape (rows,)."""
        signs = np.zeros(len(self.rows))
        others = frozenset(itertools.chain.from_iterable(question)) - set(outcome)
        for size in range(len(outcome) + 1):
            for extra in itertools.combinations(outcome, size):
                signs[self.rows[others | set(extra)]] += (-1) ** size
        return signs


def _kept(ahead: Outlook, shown: Sequence[Array]) -> NDArray[np.intp]:
    """The columns of the causes that count, of the groups that any of these findings or a target bears on."""
    group_of = ahead.ranking.causes.network.group_of
    near = np.zeros(len(ahead.ranking.causes.network.groups), dtype=np.bool_)
    near[group_of[np.any(shown, axis=0)]] = True
    near[group_of[[column for target in ahead.targets for column in target.columns]]] = True
    return np.flatnonzero(near[group_of] & (ahead.ranking.posterior.probability[0] >= NEGLIGIBLE))


def _restricted(ahead: Outlook, kept: NDArray[np.intp]) -> tuple[tuple[Target, ...], Costs]:
    """The targets and costs by the places of these columns."""
    place = {column: number for number, column in enumerate(kept.tolist())}
    targets = [
        replace(target, columns=columns)
        for target in ahead.targets
        if (columns := tuple(place[column] for column in target.columns if column in place))
    ]
    return tuple(targets), replace(ahead.costs, repair=ahead.costs.repair[kept])


def _absences(question: Sequence[tuple[str, ...]]) -> Iterable[frozenset[str]]:
    everything = frozenset(itertools.chain.from_iterable(question))
    for outcome in question:
        for size in range(len(outcome) + 1):
            for extra in itertools.combinations(outcome, size):
                yield (everything - set(outcome)) | set(extra)
