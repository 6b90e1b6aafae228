"""From readings to ranked faults of a circuit, one or several at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from ..devices.tubes import Array
from .dictionary import Dictionary
from .hypotheses import POOR, VERY_POOR, Hypothesis, Rows, Scorer
from .network import Ints

MOST_FAULTS = 3


@dataclass(frozen=True)
class RankedFault:
    """One fault in a ranking. row: its likeliest degree in the dictionary, whose `chart` gives what it predicts."""

    fault: str
    stage: str
    probability: float
    severity: str
    row: int


@dataclass(frozen=True)
class Alternatives:
    """Faults in one another's place, the other faults of the best set held: the log-likelihood of the readings with
    none of them, and with each (their own prior odds left out). stage: of the fault that does best there."""

    stage: str
    none: float
    faults: Mapping[str, float]


@dataclass(frozen=True)
class NearestFault:
    """A fault that alone comes near the readings, its own `fit` as a ranking has it, and the point that is worth
    reading again: the one whose reading, left out, would bring it nearest."""

    fault: str
    severity: str
    row: int
    fit: float
    read_again: str


@dataclass(frozen=True)
class FaultRanking:
    """The outcome for one set of readings.

    candidates: faults, most probable first. healthy: probability that no fault is there.
    alternatives, beside: what a belief engine multiplies with its own prior. alternatives: for each fault of the best
    set, and for the one that most would be gained by adding, how well every fault does in its place. beside: for each
    fault, by how much the log-likelihood rises (above 0) or falls when it is there besides the best set.
    best: the likeliest set of faults. fit: how far the readings are from it, in standard deviations above what part
    tolerance and meter explain; over `POOR` (3), no set of faults in the dictionary explains them.
    nearest: the single faults that come nearest, each for itself, while `candidates` behind the first may be what would
    be added to it.
    """

    candidates: tuple[RankedFault, ...]
    healthy: float
    alternatives: tuple[Alternatives, ...]
    beside: Mapping[str, float]
    best: tuple[str, ...]
    fit: float
    nearest: tuple[NearestFault, ...] = ()

    @property
    def explained(self) -> bool:
        """Whether the likeliest set of faults accounts for the readings."""
        return self.fit <= POOR


def rank(
    dictionary: Dictionary,
    readings: Mapping[str, float],
    most_faults: int = MOST_FAULTS,
    priors: Mapping[str, float] | None = None,
) -> FaultRanking:
    """Rank the faults of a circuit by readings {what was read, as in quantities.py: volts, ohms, amperes or a ratio}.

    priors: odds of each fault before the readings, by fault id; faults not named keep the dictionary's weights.
    Raises KeyError for an unknown test point.
    """
    scorer = Scorer(dictionary, readings, priors or {})
    if not readings:
        return _ranking(scorer)
    for size in range(2, most_faults + 1):
        best = scorer.best(1)[0]
        if scorer.fit(best) <= POOR:
            scorer.guess()
            break
        scorer.extend(by_pairs=size == 2 and scorer.fit(best) > VERY_POOR)
        if scorer.best(1)[0].rows == best.rows:
            break
    return _ranking(scorer)


def _ranking(scorer: Scorer) -> FaultRanking:
    dictionary, owner = scorer.dictionary, scorer.owner
    hypotheses = scorer.best(len(scorer.known))
    logs = np.array([h.log_posterior for h in hypotheses])
    weights = np.exp(logs - logs[0])
    weights /= weights.sum()
    held = np.array([(k, row) for k, h in enumerate(hypotheses) for row in h.rows], dtype=np.intp).reshape(-1, 2)
    holder, row = held.T
    probability = np.bincount(owner[row], weights[holder], minlength=len(dictionary.faults))
    # A fault among the singles that were too far out to keep still has its place, at the end.
    singles = np.argsort(-scorer.posterior, kind="stable")
    singles = singles[(owner[singles] >= 0) & np.isfinite(scorer.posterior[singles])]
    in_order = np.concatenate([row, singles])  # hypotheses come best first
    ranked, first = np.unique(owner[in_order], return_index=True)
    lead = in_order[first]
    odds = np.log(np.maximum(probability[ranked], 1e-300))
    odds[first >= len(row)] = scorer.posterior[lead[first >= len(row)]] - 1e6
    for k in np.flatnonzero(probability[ranked] >= 0.5):
        odds[k] = _log_odds(holder[owner[row] == ranked[k]], logs)
    faults = dictionary.faults
    order = np.lexsort((first, -odds))
    candidates = tuple(
        RankedFault(faults[k].id, faults[k].stage, share, dictionary.severities[degree].label, degree)
        for k, share, degree in zip(
            ranked[order].tolist(), probability[ranked[order]].tolist(), lead[order].tolist(), strict=True
        )
    )
    healthy = next((float(share) for h, share in zip(hypotheses, weights, strict=True) if not h.rows), 0.0)
    best = hypotheses[0]
    return FaultRanking(
        candidates, healthy, tuple(_alternatives(scorer, best)),
        _by_fault(scorer, scorer.beside(best) - best.log_posterior),
        tuple(faults[owner[row]].id for row in best.rows), scorer.fit(best), tuple(_nearest(scorer)),
    )  # fmt: skip


SINGLES_NAMED = 5


def _nearest(scorer: Scorer) -> Iterator[NearestFault]:
    """The single faults that come nearest to the readings, each at its likeliest degree."""
    if not scorer.points and scorer.other is None:
        return
    named: set[int] = set()
    for row in np.argsort(-scorer.posterior, kind="stable").tolist():
        owner = int(scorer.owner[row])
        if owner < 0 or owner in named or not np.isfinite(scorer.posterior[row]):
            continue
        named.add(owner)
        fault, degree = scorer.dictionary.faults[owner], scorer.dictionary.severities[row]
        fit = scorer.fit(scorer.hypothesis((row,)))
        yield NearestFault(fault.id, degree.label, row, fit, scorer.farthest(row))
        if len(named) == SINGLES_NAMED:
            return


def _log_odds(held: Ints, logs: Array) -> float:
    """Log-odds of a fault: unlike a probability near one it still tells two certain faults apart."""
    inside = np.zeros(len(logs), dtype=bool)
    inside[held] = True
    sums = (float(np.logaddexp.reduce(one, initial=-1e300)) for one in (logs[inside], logs[~inside]))
    return next(sums) - next(sums)


SHORT_LIST = 12


def _alternatives(scorer: Scorer, best: Hypothesis) -> Iterator[Alternatives]:
    """For each fault of the best set, every other in its place; and the best fault beside the whole set."""
    rests = [tuple(other for other in best.rows if other != row) for row in best.rows]
    scorer.settle(rests)
    places = [(scorer.hypothesis(rest), row) for rest, row in zip(rests, best.rows, strict=True)]
    beside = scorer.beside(best)
    beside[np.isin(scorer.stage, scorer.stage[list(best.rows)])] = -np.inf
    row = int(np.argmax(beside))
    if scorer.owner[row] >= 0 and beside[row] > best.log_posterior:
        places.append((best, row))
    levels = [scorer.beside(rest) for rest, _ in places]
    lists: list[dict[int, Rows]] = [{} for _ in places]
    if scorer.fit(best) <= POOR:  # where nothing explains the readings, a guess is good enough
        lists = [_short_list(scorer, *place, level) for place, level in zip(places, levels, strict=True)]
        scorer.settle([rows for sets in lists for rows in sets.values()])  # at once, which costs little more than one
    for (rest, row), level, sets in zip(places, levels, lists, strict=True):
        yield _instead(scorer, rest, row, level, sets)


def _short_list(scorer: Scorer, rest: Hypothesis, row: int, level: Array) -> dict[int, Rows]:
    """The sets with the likeliest faults beside `rest` in the place of `row`, by that fault's row."""
    if not rest.rows:
        return {}
    apart = _apart(scorer, rest)
    likely = apart[np.argsort(-level[apart])[:SHORT_LIST]].tolist()
    return {k: tuple(sorted((*rest.rows, k))) for k in {*likely, row}}


def _apart(scorer: Scorer, rest: Hypothesis) -> Ints:
    """The rows of other stages that move a reading."""
    return np.flatnonzero(scorer.active & ~np.isin(scorer.stage, scorer.stage[list(rest.rows)]))


def _instead(scorer: Scorer, rest: Hypothesis, row: int, level: Array, sets: Mapping[int, Rows]) -> Alternatives:
    """Every fault beside `rest` in the place of `row`: guessed where it was not solved, but none above `sets`, the
    likeliest ones, which were."""
    exact = {k: scorer.hypothesis(rows).log_posterior - float(scorer.log_prior[k]) for k, rows in sets.items()}
    if exact:
        apart = _apart(scorer, rest)
        level[apart] = np.minimum(level[apart], min(exact.values()))
    for rows in scorer.joint:
        if len(rows) == len(rest.rows) + 1 and set(rest.rows) < set(rows):
            (other,) = set(rows) - set(rest.rows)
            exact[other] = scorer.known[rows].log_posterior - float(scorer.log_prior[other])
    for other, value in exact.items():
        level[other] = value
    stage = scorer.dictionary.faults[scorer.owner[row]].stage
    return Alternatives(stage, rest.log_posterior, _by_fault(scorer, level))


def _by_fault(scorer: Scorer, level: Array) -> dict[str, float]:
    """The best of each fault's degrees."""
    first = np.flatnonzero(np.diff(scorer.owner)) + 1  # the healthy circuit comes first, then fault after fault
    ids = [fault.id for fault in scorer.dictionary.faults]
    return dict(zip(ids, np.maximum.reduceat(level, first).tolist(), strict=True)) if ids else {}
