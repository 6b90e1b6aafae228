"""From readings to ranked faults of a circuit, one or several at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..devices.tubes import Array
from .dictionary import Dictionary
from .hypotheses import POOR, VERY_POOR, Hypothesis, Scorer

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
class Ranking:
    """The outcome for one set of readings.

    candidates: faults, most probable first. healthy: probability that no fault is there.
    stages: log-likelihood of the readings by fault of each stage, `none` among them, the other stages at their best
    (their prior odds counted, this stage's not): what a belief engine multiplies with its own prior.
    best: the likeliest set of faults. fit: how far the readings are from it, in standard deviations above what part
    tolerance and meter explain; over `POOR` (3), no set of faults in the dictionary explains them.
    """

    candidates: tuple[Candidate, ...]
    healthy: float
    stages: Mapping[str, Mapping[str, float]]
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
        scorer.extend()
        if size == 2 and scorer.fit(scorer.best(1)[0]) > VERY_POOR:
            scorer.search()
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
        candidates, healthy, _by_stage(scorer, hypotheses), tuple(faults[owner[row]].id for row in best.rows),
        scorer.fit(best),
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


def _by_stage(scorer: Scorer, hypotheses: list[Hypothesis]) -> dict[str, dict[str, float]]:
    """Log-likelihood of each fault of each stage, the others at their best (with the prior of the others)."""
    faults, owner = scorer.dictionary.faults, scorer.owner.tolist()
    prior, stage = scorer.log_prior.tolist(), scorer.stage.tolist()
    found: dict[str, dict[str, float]] = {name: {} for name in scorer.stages}
    for name, table in zip(scorer.stages, found.values(), strict=True):
        index = scorer.stages.index(name)
        table["none"] = next(
            (h.log_posterior for h in hypotheses if all(stage[row] != index for row in h.rows)), float(scorer.single[0])
        )
    for row, likelihood in enumerate(scorer.single.tolist()):
        if owner[row] >= 0:
            fault = faults[owner[row]]
            table = found[fault.stage]
            table[fault.id] = max(table.get(fault.id, -np.inf), likelihood)
    for hypothesis in hypotheses:
        for row in hypothesis.rows if len(hypothesis.rows) > 1 else ():
            table = found[faults[owner[row]].stage]
            name = faults[owner[row]].id
            table[name] = max(table[name], hypothesis.log_posterior - prior[row])
    return found
