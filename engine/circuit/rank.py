"""From readings to ranked faults of a circuit, one or several at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from ..devices.tubes import Array
from .dictionary import Dictionary
from .hypotheses import POOR, VERY_POOR, Hypothesis, Rows, Scorer

MOST_FAULTS = 3


@dataclass(frozen=True)
class Candidate:
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
class Ranking:
    """The outcome for one set of readings.

    candidates: faults, most probable first. healthy: probability that no fault is there.
    alternatives, beside: what a belief engine multiplies with its own prior. alternatives: for each fault of the best
    set, and for the one that most would be gained by adding, how well every fault does in its place. beside: for each
    fault, by how much the log-likelihood rises (above 0) or falls when it is there besides the best set.
    best: the likeliest set of faults. fit: how far the readings are from it, in standard deviations above what part
    tolerance and meter explain; over `POOR` (3), no set of faults in the dictionary explains them.
    """

    candidates: tuple[Candidate, ...]
    healthy: float
    alternatives: tuple[Alternatives, ...]
    beside: Mapping[str, float]
    best: tuple[str, ...]
    fit: float

    @property
    def explained(self) -> bool:
        """Whether the likeliest set of faults accounts for the readings."""
        return self.fit <= POOR


def rank(
    dictionary: Dictionary,
    readings: Mapping[str, float],
    most_faults: int = MOST_FAULTS,
    priors: Mapping[str, float] | None = None,
) -> Ranking:
    """Rank the faults of a circuit by readings {test point: volts}.

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


def _ranking(scorer: Scorer) -> Ranking:
    dictionary = scorer.dictionary
    hypotheses = scorer.best(len(scorer.known))
    logs = np.array([h.log_posterior for h in hypotheses])
    weights = np.exp(logs - logs[0])
    weights /= weights.sum()
    owner = scorer.owner.tolist()
    holds: dict[int, list[int]] = {}
    lead: dict[int, int] = {}
    healthy = 0.0
    for k, hypothesis in enumerate(hypotheses):
        if not hypothesis.rows:
            healthy = float(weights[k])
        for row in hypothesis.rows:
            holds.setdefault(owner[row], []).append(k)
            lead.setdefault(owner[row], row)  # hypotheses come best first
    # A fault among the singles that were too far out to keep still has its place, at the end.
    for row in np.argsort(-scorer.posterior, kind="stable").tolist():
        if owner[row] >= 0 and np.isfinite(scorer.posterior[row]):
            lead.setdefault(owner[row], row)
    odds = {fault: _log_odds(held, logs, weights) for fault, held in holds.items()}
    far = {fault: float(scorer.posterior[row]) - 1e6 for fault, row in lead.items() if fault not in odds}
    order = sorted(lead, key=lambda fault: -(odds[fault] if fault in odds else far[fault]))
    faults = dictionary.faults
    candidates = tuple(
        Candidate(
            faults[k].id, faults[k].stage, float(weights[holds[k]].sum()) if k in holds else 0.0,
            dictionary.severities[lead[k]].label, lead[k],
        )
        for k in order
    )  # fmt: skip
    best = hypotheses[0]
    return Ranking(
        candidates, healthy, tuple(_alternatives(scorer, best)),
        _by_fault(scorer, scorer.beside(best) - best.log_posterior),
        tuple(faults[owner[row]].id for row in best.rows), scorer.fit(best),
    )  # fmt: skip


def _log_odds(held: list[int], logs: Array, weights: Array) -> float:
    """Log-odds of a fault: unlike a probability near one it still tells two certain faults apart."""
    share = sum(weights[k] for k in held)
    if share < 0.5:
        return float(np.log(max(share, 1e-300)))
    inside = np.zeros(len(logs), dtype=bool)
    inside[held] = True
    return _log_sum(logs[inside]) - _log_sum(logs[~inside])


def _log_sum(logs: Array) -> float:
    if not len(logs):
        return -1e300
    top = float(logs.max())
    return top + float(np.log(np.exp(logs - top).sum()))


SHORT_LIST = 12


def _alternatives(scorer: Scorer, best: Hypothesis) -> Iterator[Alternatives]:
    """Each fault of the best set against every other in its place; and the best fault beside the whole set."""
    places = [(scorer.hypothesis(tuple(other for other in best.rows if other != row)), row) for row in best.rows]
    beside = scorer.beside(best)
    beside[np.isin(scorer.stage, scorer.stage[list(best.rows)])] = -np.inf
    row = int(np.argmax(beside))
    if scorer.owner[row] >= 0 and beside[row] > best.log_posterior:
        places.append((best, row))
    levels = [scorer.beside(rest) for rest, _ in places]
    lists = [_short_list(scorer, *place, level) for place, level in zip(places, levels, strict=True)]
    scorer.settle([rows for sets in lists for rows in sets.values()])  # all at once, which costs little more than one
    for (rest, row), level, sets in zip(places, levels, lists, strict=True):
        yield _instead(scorer, rest, row, level, sets)


def _short_list(scorer: Scorer, rest: Hypothesis, row: int, level: Array) -> dict[int, Rows]:
    """The sets with the likeliest faults beside `rest` in the place of `row`, by that fault's row."""
    if not rest.rows:
        return {}
    apart = scorer.active & ~np.isin(scorer.stage, scorer.stage[list(rest.rows)])
    likely = [k for k in np.argsort(-level).tolist() if apart[k]][:SHORT_LIST]
    return {k: tuple(sorted((*rest.rows, k))) for k in {*likely, row}}


def _instead(scorer: Scorer, rest: Hypothesis, row: int, level: Array, sets: Mapping[int, Rows]) -> Alternatives:
    """Every fault beside `rest` in the place of `row`: the likeliest ones solved, none of the others above those."""
    if sets:
        apart = scorer.active & ~np.isin(scorer.stage, scorer.stage[list(rest.rows)])
        exact = {k: scorer.hypothesis(s).log_posterior - float(scorer.log_prior[k]) for k, s in sets.items()}
        level[apart] = np.minimum(level[apart], min(exact.values()))
        for rows, known in scorer.known.items():
            if rows in scorer.joint and len(rows) == len(rest.rows) + 1 and set(rest.rows) < set(rows):
                other = next(iter(set(rows) - set(rest.rows)))
                exact[other] = known.log_posterior - float(scorer.log_prior[other])
        for other, value in exact.items():
            level[other] = value
    stage = scorer.dictionary.faults[scorer.owner[row]].stage
    return Alternatives(stage, rest.log_posterior, _by_fault(scorer, level))


def _by_fault(scorer: Scorer, level: Array) -> dict[str, float]:
    """The best of each fault's degrees."""
    found: dict[str, float] = {}
    for owner, value in zip(scorer.owner.tolist(), level.tolist(), strict=True):
        if owner >= 0:
            name = scorer.dictionary.faults[owner].id
            found[name] = max(found.get(name, -np.inf), value)
    return found
