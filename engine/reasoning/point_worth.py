"""What a reading at a test point is worth, in bench minutes: the same look ahead as for every other check.

The outcomes of a reading are bands of volts, set between what the leading faults predict. It is weighed for one
thing to be explained at a time, with one explanation: a cause gains in a band by how often it gives such volts, and
those that the reading does not show gain as the others are excluded.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise
from math import erf, sqrt

import numpy as np

from ..circuit.dictionary import Dictionary
from ..knowledge import model
from .plan import NEGLIGIBLE, Outlook, Target, Worth, remaining_minutes
from .subsets import Array
from .voltages import Voltages

MOST_BANDS = 7
MOVES = 0.2  # a cause moves a point when it changes where its volts fall in at least this share of cases
# The normal distribution function, interpolated between points close enough for 1e-6.
DEVIATIONS = np.linspace(-8.0, 8.0, 4001)
BELOW = np.array([0.5 * (1.0 + erf(z / sqrt(2.0))) for z in DEVIATIONS])
CLEAR = 2.5  # predictions further apart than this many standard deviations get bands of their own


def point_worths(
    ahead: Outlook, voltages: Voltages, checks: Iterable[model.Check], moves: Mapping[str, float]
) -> list[Worth]:
    """The worth of each check that reads one test point and nothing else, not read yet."""
    known = voltages.known
    wanted: list[tuple[model.Check, str]] = []
    for check in checks:
        match [known.points(reading) for reading in check.readings.values()]:
            case [(point,)] if point not in voltages.readings:
                wanted.append((check, point))
    if not wanted or not ahead.targets:
        return []
    looking = _Looking(ahead, voltages)
    outcomes = [
        (check, *outcome) for check, point in wanted for target in ahead.targets
        if (outcome := looking.outcomes(point, target))
    ]  # fmt: skip
    posteriors = np.concatenate([looking.now[None, :], *(posterior for _, _, posterior in outcomes)])
    now, *minutes = remaining_minutes(posteriors, ahead.targets, ahead.costs)
    found: list[Worth] = []
    start = 0
    for check, chances, _ in outcomes:
        saves = float(now - chances @ np.array(minutes[start : start + len(chances)]))
        start += len(chances)
        told = tuple(((), float(chance)) for chance in chances)
        found.append(Worth(check.id, max(0.0, saves), check.minutes + moves[check.id], told))
    best = {worth.check: worth for worth in sorted(found, key=lambda worth: worth.saves)}  # the last one stands
    return list(best.values())


class _Looking:
    """columns: the causes that matter; rows: what stands for each in the dictionary."""

    def __init__(self, ahead: Outlook, voltages: Voltages) -> None:
        self.book: Dictionary = voltages.known.book
        self.now: Array = ahead.ranking.posterior.probability[0]
        causes = ahead.ranking.causes
        speaking = {
            causes.column[id_]: ours
            for id_, ours in voltages.known.shares.items()
            if id_ in causes.column and self.now[causes.column[id_]] > NEGLIGIBLE and id_ not in ahead.repaired
        }
        self.columns = np.array(sorted({*speaking, *ahead.bearing}), dtype=np.intp)
        self.probability = self.now[self.columns]
        self.risen = np.maximum(0.0, self.probability - causes.network.prior[self.columns])
        self.rows = self._rows(speaking, voltages)
        self.sure = self.probability >= ahead.costs.sure

    def _rows(self, speaking: Mapping[int, tuple[tuple[int, float], ...]], voltages: Voltages) -> Array:
        """For each hypothesis, how its faults' degrees share its probability, (hypotheses, dictionary rows): by how
        common a fault is and how well it fits the volts so far; a cause that shows nowhere stands on the healthy
        row."""
        book = self.book
        degrees: dict[int, list[int]] = {}
        for row, owner in enumerate(book.row_fault.tolist()):
            if owner >= 0 and book.expected.converged[row]:
                degrees.setdefault(owner, []).append(row)
        lead: dict[str, tuple[int, float]] = {}
        if voltages.ranking is not None:
            lead = {one.fault: (one.row, one.probability) for one in voltages.ranking.candidates}
        shared = np.zeros((len(self.columns), len(book.severities)))
        for place, column in enumerate(self.columns.tolist()):
            for number, share in speaking.get(column, ()):
                rows = degrees.get(number, [])
                weight = share
                if lead and rows:
                    row, fits = lead.get(book.faults[number].id, (rows[0], 0.0))
                    weight *= fits + 1e-6
                    shared[place, row] += weight / 2
                    weight /= 2
                if rows:
                    shared[place, rows] += weight / len(rows)
            if not shared[place].any():
                shared[place, 0] = 1.0
        total: Array = shared / shared.sum(axis=1, keepdims=True)
        return total

    def outcomes(self, point: str, target: Target) -> tuple[Array, Array] | None:
        """Each band's probability (B,) and the causes' probabilities after it (B, C), as far as it bears on one target;
        None when it does not.

        The target has one explanation: a cause that moves this point, or one that does not and has risen for it. Causes
        that are sure and have nothing to do with it shift the point whatever the explanation.
        """
        ours = np.isin(self.columns, target.columns)
        mean, sigma = self.book.readout(point)
        mean = mean + float((self.rows[self.sure & ~ours] @ (mean - mean[0])).sum())
        edges = _edges(mean, sigma, self.probability[ours] @ self.rows[ours])
        below = np.interp((edges[None, :] - mean[:, None]) / sigma[:, None], DEVIATIONS, BELOW)
        inside = np.diff(np.pad(below, ((0, 0), (1, 1)), constant_values=((0, 0), (0, 1))), axis=1)  # (rows, B)
        sound, given = inside[0], self.rows @ inside  # (B,), (causes, B)
        moves = ours & (np.abs(given - sound).sum(axis=1) > MOVES)
        if not moves.any():
            return None
        weight = np.where(moves, self.probability, np.where(ours, self.risen, 0.0))
        mix = weight / max(float(weight.sum()), 1.0)
        chance = np.maximum((1.0 - float(mix.sum())) * sound + mix @ given, 1e-12)
        joint = mix[:, None] * given + (self.probability - mix)[:, None] * chance
        joint[~ours] = self.probability[~ours, None] * chance
        after = np.tile(self.now, (len(chance), 1))
        after[:, self.columns] = np.clip((joint / chance).T, 0.0, 1.0)
        return chance / chance.sum(), after


def _edges(mean: Array, sigma: Array, weight: Array) -> Array:
    """Where the bands meet: around the healthy reading, and between the likeliest predictions that are clearly
    apart."""
    edges = [float(mean[0] - CLEAR * sigma[0]), float(mean[0] + CLEAR * sigma[0])]
    away = [k for k in np.argsort(-weight)[: 4 * MOST_BANDS].tolist() if k and weight[k] > 0.0]
    ordered = sorted((k for k in away if not edges[0] <= mean[k] <= edges[1]), key=lambda k: float(mean[k]))
    for low, high in pairwise(ordered):
        between = (mean[low] * sigma[high] + mean[high] * sigma[low]) / (sigma[low] + sigma[high])
        if mean[high] - mean[low] > CLEAR * (sigma[low] + sigma[high]) / 2 and len(edges) < MOST_BANDS - 1:
            edges.append(float(between))
    return np.array(sorted(edges))
