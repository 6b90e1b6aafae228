"""Sets of faults, at most one a stage, scored against one set of readings.

The readings under a hypothesis are taken as normal, with the dictionary's mean and covariance (part tolerance, tube
spread, mains) and the meter's error. Single faults are scored from the dictionary. Larger sets are found by a guess of
what the faults give together, or among the dictionary's pairs, and then solved; only the meter's pull stays a guess.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from heapq import nlargest
from operator import attrgetter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..devices.tubes import Array
from .dictionary import Dictionary
from .network import Ints

#: Odds that a given fault is there, per unit of its weight, before any reading.
FAULT_ODDS = 0.0005
#: How wide the search is: sets that are grown by one more fault, and what is solved of those and of the pairs.
BEAM = 8
GROWN = 24
PAIRED = 24
#: What is so much less likely than the best so far (log-posterior, estimated) is not solved.
CONTENDS = 10.0
#: No single reading counts more than this against a pair, whose degrees are not the amp's.
CLIPPED = 25.0
#: One more fault is looked for when the squared distance of the readings is this many standard deviations above what
#: good parts' tolerances give; when it is VERY_POOR, among all pairs as well.
POOR = 3.0
VERY_POOR = 6.0
#: Rows whose worst single reading is this far out (log-likelihood) are not scored in full.
HOPELESS = 120.0
#: With so few readings what two faults give together is not solved for; they can't tell them apart.
FEW = 3
#: Single faults so far below the likeliest are left out of the sum.
NEGLIGIBLE = 40.0
_LOG_2PI = float(np.log(2.0 * np.pi))

Rows = tuple[int, ...]


@dataclass(frozen=True)
class Hypothesis:
    """A set of dictionary rows, its log-likelihood and its log-posterior (not normalized). () is the healthy
    circuit."""

    rows: Rows
    log_likelihood: float
    log_posterior: float


class Scorer:
    """Likelihoods of one set of readings."""

    def __init__(self, dictionary: Dictionary, readings: Mapping[str, float], priors: Mapping[str, float]) -> None:
        self.dictionary = dictionary
        meant = {name: dictionary.quantity(name) for name in readings}
        self.points = tuple(name for name, one in meant.items() if one.kind == "volts")
        self.other = dictionary.logged({name: readings[name] for name, one in meant.items() if one.kind != "volts"})
        direct = [meant[name] for name in self.points]
        self.mix = None if all(one.plain for one in direct) else dictionary.mixed(direct)
        self.columns = dictionary.columns([one.a for one in direct]) if self.mix is None else np.zeros(0, dtype=np.intp)
        self.values = np.array([float(readings[p]) for p in self.points])
        self.mean = self._seen(dictionary.expected.mean)
        scale = np.array([one.scale for one in direct])
        self.noise = dictionary.meter.variance(self.values / scale) * scale**2
        faults = dictionary.faults
        self.owner = dictionary.row_fault
        self.stage = dictionary.row_stage
        odds = np.array([1.0, *[priors.get(f.id, f.weight * FAULT_ODDS) for f in faults]])
        count = np.bincount(self.owner + 1)
        self.log_prior = np.log(np.maximum(odds, 1e-300)[self.owner + 1] / count[self.owner + 1])
        shift = np.abs(self.mean - self.mean[0])
        self.active = (self.owner >= 0) & (shift > 3.0 * np.sqrt(self.noise)).any(axis=1)
        if self.other is not None:
            moved = np.abs(self.other.mean - self.other.mean[0]) > 3.0 * np.sqrt(self.other.noise)
            self.active |= (self.owner >= 0) & moved.any(axis=1)
        self.active &= dictionary.expected.converged
        self.single = self._score_singles()
        if self.other is not None:
            self.single += self.other.likelihood(self.other.mean, slice(None))
        self.posterior = self.single + self.log_prior
        self.known: dict[Rows, Hypothesis] = {}
        self.joint: dict[Rows, Array] = {}  # what the sets that were solved together predict
        for row in np.flatnonzero(self.posterior > self.posterior.max() - NEGLIGIBLE).tolist():
            self._keep((row,) if row else (), float(self.single[row]), float(self.posterior[row]))

    def _seen(self, mean: NDArray[Any]) -> NDArray[Any]:
        """What is read, from what every test point shows: (rows, points) to (rows, readings)."""
        found: NDArray[Any] = mean[..., self.columns] if self.mix is None else mean @ self.mix
        return found

    def _seen_together(self, covariance: Array) -> Array:
        """The same of covariances."""
        if self.mix is None:
            found: Array = covariance[:, self.columns[:, None], self.columns[None, :]]
            return found
        return np.asarray(self.mix.T @ covariance @ self.mix)

    def _others(self, rows: Rows, more: Ints | None = None) -> Array:
        """Log-likelihood of the readings beside volts: of a set of rows, or of it with each of `more` besides."""
        other = self.other
        if other is None:
            return np.zeros(1 if more is None else len(more))
        mean = other.mean[0] + (other.mean[list(rows)] - other.mean[0]).sum(axis=0)
        if more is None:
            return other.likelihood(mean[None], np.array(rows[-1:] or (0,), dtype=np.intp))
        return other.likelihood(mean + other.mean[more] - other.mean[0], more)

    def _score_singles(self) -> Array:
        """Log-likelihood of every row. Rows that shift no reading share the healthy circuit's covariance; rows with a
        reading far out keep the bound that this one reading sets."""
        miss = self.values - self.mean
        cov = self.dictionary.expected.covariance
        precision, log_det = self._precision(cov[:1])
        self.sound_precision, self.sound_log_det = precision[0], float(log_det[0])
        self.sound_variance = 1.0 / np.diagonal(self.sound_precision) + self.noise
        found = _normal(miss, self.sound_precision, self.sound_log_det)
        if len(self.points):
            diagonal = self._spread_of_each(cov) + self.noise
            bound = -0.5 * (miss**2 / diagonal).max(axis=1)
            full = np.flatnonzero(self.active & (bound > max(bound.max(), -0.25 * HOPELESS) - 0.5 * HOPELESS))
            precision, log_det = self._precision(cov[full])
            found[self.active] = bound[self.active] - HOPELESS
            found[full] = _normal(miss[full], precision, log_det)
        found[~self.dictionary.expected.converged] = -np.inf
        return found

    def _spread_of_each(self, cov: Array) -> Array:
        if self.mix is None:
            found: Array = cov[:, self.columns, self.columns]
            return found
        return np.asarray(((cov @ self.mix) * self.mix).sum(axis=1))

    def _precision(self, covariance: Array) -> tuple[Array, Array]:
        """Inverse of covariance plus the meter's, and its log-determinant, for each row."""
        full = self._seen_together(covariance) + np.eye(len(self.noise)) * self.noise
        if not len(self.noise):
            return full, np.zeros(len(full))
        lower = np.diagonal(np.linalg.cholesky(full), axis1=1, axis2=2)
        precision = np.asarray(np.linalg.inv(full), dtype=np.float64)
        log_det: Array = 2.0 * np.log(lower).sum(axis=1)
        return precision, log_det

    def _keep(self, rows: Rows, likelihood: float, posterior: float) -> None:
        self.known[rows] = Hypothesis(rows, likelihood, posterior)

    def best(self, count: int) -> list[Hypothesis]:
        """The likeliest hypotheses so far."""
        return nlargest(count, self.known.values(), key=attrgetter("log_posterior"))

    def fit(self, hypothesis: Hypothesis) -> float:
        """Squared distance of the readings from a hypothesis, in standard deviations above what tolerances give."""
        count, log_det = len(self.points), self.sound_log_det
        if self.other is not None:
            count, log_det = count + len(self.other.values), log_det + self.other.log_det
        ideal = -0.5 * (log_det + count * _LOG_2PI)
        return float((2.0 * (ideal - hypothesis.log_likelihood) - count) / np.sqrt(2.0 * max(count, 1)))

    def farthest(self, row: int) -> str:
        """Which reading, left out, would bring the others nearest to a row."""
        precision, _ = self._precision(self.dictionary.expected.covariance[row : row + 1])
        push = precision[0] @ (self.values - self.mean[row])
        gain = dict(zip(self.points, push**2 / np.diagonal(precision[0]), strict=True))
        if (other := self.other) is not None:
            push = other.precision @ (other.values - other.mean[row])
            gain |= dict(zip(other.names, push**2 / np.diagonal(other.precision), strict=True))
        return max(gain, key=lambda name: float(gain[name]))

    def hypothesis(self, rows: Rows) -> Hypothesis:
        """A set of faults, solved if it must be; without an operating point it is as unlikely as can be."""
        if len(rows) < 2:
            row = rows[0] if rows else 0
            return Hypothesis(rows, float(self.single[row]), float(self.posterior[row]))
        self.settle([rows])
        return self.known.get(rows, Hypothesis(rows, -np.inf, -np.inf))

    def settle(self, sets: Iterable[Rows]) -> None:
        """Solve sets of faults that are not known yet, or only estimated."""
        fresh = [rows for rows in dict.fromkeys(sets) if len(rows) > 1 and rows not in self.joint]
        for rows in fresh:
            self.known.pop(rows, None)
        self._solve(fresh)

    def beside(self, rest: Hypothesis) -> Array:
        """Log-posterior of a hypothesis with each row beside it, the row's own prior left out, the readings guessed."""
        if not rest.rows:
            return self.single.copy()
        mean = self._together(rest.rows)
        lead = rest.rows[-1]
        precision, log_det = self._precision(self.dictionary.expected.covariance[lead : lead + 1])
        joined = np.where(self.active[:, None], self._joined(mean, slice(None)), mean)
        found = _normal(self.values - joined, precision[0], float(log_det[0]))
        found += self._others(rest.rows, np.arange(len(found)))
        start = rest.log_posterior if np.isfinite(rest.log_posterior) else found[0]
        moved: Array = start + found - found[0]
        moved[~self.dictionary.expected.converged] = -np.inf
        return moved

    def _together(self, rows: Rows) -> Array:
        """What a set of faults gives together: solved, or guessed from what each gives alone."""
        mean = self.joint.get(rows)
        if mean is None:
            mean = self.mean[0]
            for row in rows:
                mean = self._joined(mean, row)
        return mean

    def _joined(self, mean: Array, rows: int | Ints | slice) -> Array:
        """Readings with each of `rows` besides what gives `mean`."""
        return _carried(mean, self.mean[0], self.mean[rows])

    def screen(self, starts: Iterable[Rows], most: int = GROWN // 2) -> list[Hypothesis]:
        """The likeliest supersets by one more fault of another stage, what they give together guessed."""
        active = np.flatnonzero(self.active)
        stage, prior = self.stage[active], self.log_prior[active]
        starts = list(starts)
        leads = [start[-1] if start else 0 for start in starts]
        spreads = zip(*self._precision(self.dictionary.expected.covariance[leads]), strict=True)
        found: dict[Rows, Hypothesis] = {}
        for start, (precision, log_det) in zip(starts, spreads, strict=True):
            rows = list(start)
            joined = self._joined(self._together(start), active)
            likelihood = _normal(self.values - joined, precision, float(log_det)) + self._others(start, active)
            score = likelihood + prior + self.log_prior[rows].sum()
            score[np.isin(stage, self.stage[rows])] = -np.inf
            for k in _largest(score, most):
                if np.isfinite(score[k]):
                    key = tuple(sorted((*rows, int(active[k]))))
                    found[key] = Hypothesis(key, float(likelihood[k]), float(score[k]))
        return sorted(found.values(), key=lambda h: -h.log_posterior)

    def guess(self) -> None:
        """Estimate what else could be there beside a good explanation. A gross fault, which moves most test points by
        more than three tenths, read or not, changes what every other one does: there the pairs with that fault tell."""
        best = self.best(1)[0]
        mean = self.dictionary.expected.mean
        moved = (np.abs(mean[list(best.rows)] - mean[0]) > 0.3 * np.abs(mean[0]) + 0.1).mean(axis=1)
        if (moved > 0.5).any() and (self.dictionary.has_pairs or len(self.points) > FEW):
            self._guess_by_pairs(best, best.rows[int(moved.argmax())])
            return
        for hypothesis in self.screen([h.rows for h in self.best(2)]):
            self.known.setdefault(hypothesis.rows, hypothesis)

    def _guess_by_pairs(self, best: Hypothesis, lead: int) -> None:
        """Keep estimates of a set with one more fault, from what that does beside `lead`, one of the set."""
        pairs = self.dictionary.pairs
        here = np.flatnonzero((self.owner[pairs.rows] == self.owner[lead]).any(axis=1))
        rows = pairs.rows[here]
        leads = self.owner[rows] == self.owner[lead]
        mean = self._together(best.rows)
        more = _carried(self._seen(pairs.mean[here]), self.mean[rows[leads]], mean)
        precision, log_det = self._precision(self.dictionary.expected.covariance[lead : lead + 1])
        found = _normal(self.values - np.concatenate([mean[None], more]), precision[0], float(log_det[0]))
        found[0] += self._others(best.rows)[0]
        found[1:] += self._others(best.rows, rows[~leads])
        for row, gain in zip(rows[~leads].tolist(), (found[1:] - found[0]).tolist(), strict=True):
            if self.active[row] and self.stage[row] not in self.stage[list(best.rows)]:
                both = tuple(sorted((*best.rows, row)))
                posterior = best.log_posterior + gain + float(self.log_prior[row])
                self.known.setdefault(both, Hypothesis(both, best.log_likelihood + gain, posterior))

    def extend(self, by_pairs: bool = False) -> None:
        """Add the best supersets of the best hypotheses, by one more fault of another stage, and, if asked, the best of
        all pairs; solved together."""
        # Faults that explain part of the readings may be poor alone, so the beam is joined by the best of each stage.
        starts = dict.fromkeys(
            [*((row,) for row in self._best_by_stage(2)), *(h.rows for h in self.best(BEAM) if h.rows)]
        )
        least = self.best(1)[0].log_posterior - CONTENDS
        wanted = [h.rows for h in self.screen(starts) if h.rows not in self.known and h.log_posterior > least]
        self._solve([*wanted[:GROWN], *(self._pairs() if by_pairs else ())])

    def _pairs(self) -> list[Rows]:
        """Two faults that act through one another, which no guess from each alone finds: of all pairs, one degree of
        each, those that give most of the readings."""
        rows, mean = self.dictionary.pairs.rows, self.dictionary.pairs.mean
        best = self.best(1)[0].rows
        prior = self.log_prior[rows[:, 0]] + self.log_prior[rows[:, 1]]
        seen = mean.T[self.columns].T if self.mix is None else mean @ self.mix  # its columns lie together
        score = prior - 0.5 * self._missed(seen)
        least = self.log_prior[list(best)].sum() - 0.5 * self._missed(self._together(best)[None])[0] - CONTENDS
        top = _largest(score, PAIRED)
        return [(a, b) for a, b in rows[top[score[top] > least]].tolist()]

    def _missed(self, mean: NDArray[Any]) -> NDArray[Any]:
        """How far the readings are from each row of predicted ones, no single one counting for more than CLIPPED."""
        values, sound, variance = (one.astype(mean.dtype) for one in (self.values, self.mean[0], self.sound_variance))
        found: Array = np.minimum((values - mean) ** 2 / (variance + (0.1 * (mean - sound)) ** 2), CLIPPED).sum(axis=1)
        return found

    def _best_by_stage(self, most: int) -> list[int]:
        """For each stage the faults that explain most of the readings, what they don't explain set aside."""
        active = np.flatnonzero(self.active)
        gain = self._missed(self.mean[:1]) - self._missed(self.mean[active])
        gain += 2.0 * (self._others((), active) - self._others(()))
        found: list[int] = []
        for stage in np.unique(self.stage[active]):
            here = np.flatnonzero(self.stage[active] == stage)
            found += [int(active[k]) for k in here[np.argsort(-gain[here])[:most]] if gain[k] > 4.0]
        return found

    def _solve(self, sets: Iterable[Rows]) -> None:
        """Solve sets of faults together and keep their scores. Those without an operating point are left out."""
        fresh = [rows for rows in dict.fromkeys(sets) if rows not in self.known]
        if not fresh:
            return
        found_together = zip(fresh, self.dictionary.together(fresh), strict=True)
        solved = [(rows, one) for rows, one in found_together if one is not None]
        if not solved:
            return
        mean = self._seen(np.array([one[0] for _, one in solved]))
        precision, log_det = self._precision(np.array([one[1] for _, one in solved]))
        found = _normal(self.values - mean, precision, log_det)
        found += np.array([self._others(rows)[0] for rows, _ in solved])
        for k, (rows, _) in enumerate(solved):
            self.joint[rows] = mean[k]
            self._keep(rows, float(found[k]), float(found[k] + self.log_prior[list(rows)].sum()))


def _largest(score: Array, most: int) -> Ints:
    """Where the largest stand, in no order."""
    return np.argpartition(-score, most - 1)[:most] if most < len(score) else np.arange(len(score))


def _carried(mean: NDArray[Any], before: Array, after: Array) -> Array:
    """Readings `mean` when one more fault turns `before` into `after`: most faults act on one another through the
    supply, which scales what the others give; where a reading turns about or is slight, the shifts are added."""
    scale = (np.abs(before) > 1.0) & (before * after >= 0.0) & (mean * before >= 0.0)
    found: Array = np.where(scale, mean * after / np.where(scale, before, 1.0), mean + after - before)
    return found


def _normal(miss: Array, precision: Array, log_det: Array | float) -> Array:
    """Log-density of a normal distribution: miss (rows, n); precision (n, n) for all rows or (rows, n, n)."""
    if precision.ndim == 2:
        distance = ((miss @ precision) * miss).sum(axis=1)
    else:
        distance = np.einsum("ri,ri->r", np.matmul(precision, miss[..., None])[..., 0], miss)
    result: Array = -0.5 * (distance + log_det + miss.shape[1] * _LOG_2PI)
    return result
