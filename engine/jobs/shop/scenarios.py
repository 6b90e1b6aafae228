"""Which causes may be there together: the joint distribution of the causes, not only each one's probability.

The causes are taken one after the other, the most probable first. Each scenario so far is split in two, with the
cause and without it, by the cause's exact probability given all that the scenario says already. So rivals for one
complaint exclude one another, as they should, where taking each by itself would count both or neither too often.

Up to MOST scenarios that is exact. Beyond, the light ones are thinned: a regular draw among them stands for all of
them, each with the same weight, so that no sum over scenarios is moved one way (optimal resampling: Fearnhead and
Clifford 2003, from memory; the draw's offset is fixed, so the same job always gives the same scenarios).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...reasoning.belief import infer
from ...reasoning.ranking import DIGITS, Ranking

MOST = 400  # scenarios kept at one time
MOST_ESTIMATED = 16  # and where they can only be estimated: each costs more, and tells less
MOST_WORK = 4_000_000  # of one inference (belief.py); there is one for each cause
NEGLIGIBLE = 1e-9  # scenarios less probable than this are left out
Weights = NDArray[np.float64]
CERTAIN = 1e15  # a factor on the odds of a cause that makes it true


@dataclass(frozen=True)
class Scenarios:
    """there: (S, causes) whether each of `causes` is there; weight: (S,), summing to 1. exact: nothing was thinned, and
    nothing estimated."""

    causes: tuple[str, ...]
    there: NDArray[np.bool_]
    weight: Weights
    exact: bool


def scenarios(ranking: Ranking, causes: Sequence[str], most: int = MOST) -> Scenarios:
    """The joint distribution of some causes, given everything that is known. causes: ids that the ranking has."""
    all_ = ranking.causes
    ordered = sorted(causes, key=lambda id_: (-ranking.probability[id_], id_))
    columns = [all_.column[id_] for id_ in ordered]
    present = all_.rows(ranking.present)
    absent = all_.rows(ranking.absent)
    factors = ranking.factors[None, :].copy()
    there = np.zeros((1, len(ordered)), dtype=np.bool_)
    weight = np.ones(1)
    exact = True
    for number, column in enumerate(columns):
        told = infer(all_.network, present, absent, factors, most_work=MOST_WORK)
        if told.bound > 0:
            exact, most = False, min(most, MOST_ESTIMATED)
        given = np.clip(told.probability[:, column], 0.0, 1.0)
        yes, no = weight * given > NEGLIGIBLE, weight * (1 - given) > NEGLIGIBLE
        true, false, marked = factors[yes].copy(), factors[no].copy(), there[yes].copy()
        true[:, column] = CERTAIN
        false[:, column] = 0.0
        marked[:, number] = True
        factors = np.concatenate([true, false])
        there = np.concatenate([marked, there[no]])
        weight = np.concatenate([(weight * given)[yes], (weight * (1 - given))[no]])
        if len(weight) > most:
            kept, weight = thinned(weight, most)
            factors, there, exact = factors[kept], there[kept], False
    return Scenarios(tuple(ordered), there, weight / weight.sum(), exact)


def thinned(weight: Weights, most: int) -> tuple[NDArray[np.intp], Weights]:
    """Which scenarios to keep (at most `most`), and their new weights; the sum stays. The heavy ones stay as they
    are; of the light ones some stay, drawn at regular steps of their summed weight, each with the step as its weight.
    """
    order = np.argsort(-weight.round(DIGITS), kind="stable")
    sorted_ = weight[order]
    if len(order) <= most:
        return order, sorted_
    rest = np.cumsum(sorted_[::-1])[::-1]  # the weight from each place on
    heavy = 0
    while heavy < most and sorted_[heavy] * (most - heavy) >= rest[heavy]:
        heavy += 1
    left = most - heavy
    if left == 0:
        return order[:heavy], sorted_[:heavy] * (weight.sum() / sorted_[:heavy].sum())
    step = rest[heavy] / left
    reached = np.cumsum(sorted_[heavy:])
    drawn = heavy + np.searchsorted(reached, (np.arange(left) + 0.5) * step)
    kept = np.concatenate([np.arange(heavy), np.minimum(drawn, len(order) - 1)])
    return order[kept], np.concatenate([sorted_[:heavy], np.full(left, step)])


def quantile(values: Sequence[float], weights: Sequence[float], share: float) -> float:
    """The smallest value that at least this share of the weight does not exceed."""
    return float(np.quantile(values, share, weights=weights, method="inverted_cdf"))
