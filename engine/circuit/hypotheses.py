"""Sets of faults, at most one a stage, scored against one set of readings.

The readings under a hypothesis are taken as normal, with the dictionary's mean and covariance (part tolerance, tube
spread, mains) and the meter's error. Single faults are scored from the dictionary. Larger sets are found by a guess of
what the faults give together, or among the dictionary's pairs, and then solved; only the meter's pull stays a guess.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from ..devices.tubes import Array
from .dictionary import Dictionary
from .network import Ints
from .pairs import middle_degrees

#: Odds that a given fault is there, per unit of its weight, before any reading.
FAULT_ODDS = 0.0005
#: How wide the search is: sets that are grown by one more fault, what is solved of those and of the pairs, sets whose
#: faults are exchanged for others of the stage, how many others, how often.
BEAM = 8
GROWN = 48
PAIRED = 48
POLISHED = 3
EXCHANGED = 16
PASSES = 6
#: No single reading counts more than this against a pair, whose degrees are not the amp's.
CLIPPED = 25.0
#: One more fault is looked for when the squared distance of the readings is this many standard deviations above what
#: sound tolerances give; when it is VERY_POOR, among all pairs as well.
POOR = 3.0
VERY_POOR = 6.0
#: Rows whose worst single reading is this far out (log-likelihood) are not scored in full.
HOPELESS = 120.0
_LOG_2PI = float(np.log(2.0 * np.pi))

Rows = tuple[int, ...]


@dataclass(frozen=True)
class Hypothesis:
    """A set of dictionary rows, its log-likelihood and its log-posterior (not normalised). () is the sound circuit."""

    rows: Rows
    log_likelihood: float
    log_posterior: float


class Scorer:
    """Likelihoods of one set of readings."""

    def __init__(self, dictionary: Dictionary, readings: Mapping[str, float], priors: Mapping[str, float]) -> None:
        self.dictionary = dictionary
        self.points = tuple(readings)
        self.columns = dictionary.columns(self.points)
        self.values = np.array([float(readings[p]) for p in self.points])
        self.mean = dictionary.expected.mean[:, self.columns]
        self.noise = dictionary.meter.variance(self.values)
        faults = dictionary.faults
        self.owner = dictionary.row_fault
        names = {stage: k for k, stage in enumerate(dict.fromkeys(f.stage for f in faults))}
        self.stages = tuple(names)
        self.stage = np.array([-1, *[names[f.stage] for f in faults]])[self.owner + 1]
        odds = np.array([1.0, *[priors.get(f.id, f.weight * FAULT_ODDS) for f in faults]])
        count = np.bincount(self.owner + 1)
        self.log_prior = np.log(np.maximum(odds, 1e-300)[self.owner + 1] / count[self.owner + 1])
        self.scales = (np.abs(self.mean[0]) > 1.0) & (self.mean * self.mean[0] >= 0.0)
        self.factor = np.divide(self.mean, self.mean[0], out=np.ones_like(self.mean), where=self.scales)
        shift = np.abs(self.mean - self.mean[0])
        self.active = (self.owner >= 0) & (shift > 3.0 * np.sqrt(self.noise)).any(axis=1)
        self.active &= dictionary.expected.converged
        self.single = self._score_singles()
        self.posterior = self.single + self.log_prior
        self.known: dict[Rows, Hypothesis] = {}
        self.joint: dict[Rows, Array] = {}  # what the sets that were solved together predict
        for row in np.flatnonzero(self.posterior > self.posterior.max() - HOPELESS):
            self._keep((int(row),) if row else (), float(self.single[row]), float(self.posterior[row]))

    def _score_singles(self) -> Array:
        """Log-likelihood of every row. Rows that shift no reading share the sound circuit's covariance; rows with a
        reading far out keep the bound that this one reading sets."""
        miss = self.values - self.mean
        cov = self.dictionary.expected.covariance
        precision, log_det = self._precision(cov[:1])
        self.sound_precision, self.sound_log_det = precision[0], float(log_det[0])
        found = _normal(miss, self.sound_precision, self.sound_log_det)
        if len(self.points):
            diagonal = cov[:, self.columns, self.columns] + self.noise
            bound = -0.5 * (miss**2 / diagonal).max(axis=1)
            full = np.flatnonzero(self.active & (bound > max(bound.max(), -0.25 * HOPELESS) - 0.5 * HOPELESS))
            precision, log_det = self._precision(cov[full])
            found[self.active] = bound[self.active] - HOPELESS
            found[full] = _normal(miss[full], precision, log_det)
        found[~self.dictionary.expected.converged] = -np.inf
        return found

    def _precision(self, covariance: Array) -> tuple[Array, Array]:
        """Inverse of covariance plus the meter's, and its log-determinant, for each row."""
        picked = covariance[:, self.columns[:, None], self.columns[None, :]]
        full = picked + np.eye(len(self.noise)) * self.noise
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
        return sorted(self.known.values(), key=lambda h: -h.log_posterior)[:count]

    def fit(self, hypothesis: Hypothesis) -> float:
        """Squared distance of the readings from a hypothesis, in standard deviations above what tolerances give."""
        count = len(self.points)
        ideal = -0.5 * (self.sound_log_det + count * _LOG_2PI)
        return float((2.0 * (ideal - hypothesis.log_likelihood) - count) / np.sqrt(2.0 * max(count, 1)))

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
        mean = self.joint.get(rest.rows)
        if mean is None:
            mean = self._estimate(rest.rows)
        lead = rest.rows[-1]
        precision, log_det = self._precision(self.dictionary.expected.covariance[lead : lead + 1])
        joined = np.where(self.active[:, None], self._joined(mean, np.arange(len(self.mean))), mean)
        found = _normal(self.values - joined, precision[0], float(log_det[0]))
        start = rest.log_posterior if np.isfinite(rest.log_posterior) else found[0]
        moved: Array = start + found - found[0]
        moved[~self.dictionary.expected.converged] = -np.inf
        return moved

    def _estimate(self, rows: Rows) -> Array:
        """What a set of faults gives together, guessed from what each gives alone."""
        mean: Array = self.mean[0]
        for row in rows:
            mean = self._joined(mean, np.array([row]))[0]
        return mean

    def _joined(self, mean: Array, rows: Ints) -> Array:
        """Readings with each of `rows` besides what gives `mean`: most faults act on one another through the supply,
        which scales what the others give; where a reading turns about or is slight, the shifts are added."""
        scale = self.scales[rows] & (mean * self.mean[0] >= 0.0)
        found: Array = np.where(scale, mean * self.factor[rows], mean + self.mean[rows] - self.mean[0])
        return found

    def screen(self, starts: Iterable[Rows], most: int = GROWN // 2) -> list[Hypothesis]:
        """The likeliest supersets by one more fault of another stage, what they give together guessed."""
        active = np.flatnonzero(self.active)
        cov = self.dictionary.expected.covariance
        found: dict[Rows, Hypothesis] = {}
        for start in starts:
            rows = list(start)
            joined = self._joined(self._estimate(start), active)
            lead = int(rows[-1]) if rows else 0
            precision, log_det = self._precision(cov[lead : lead + 1])
            likelihood = _normal(self.values - joined, precision[0], float(log_det[0]))
            score = likelihood + self.log_prior[active] + self.log_prior[rows].sum()
            score[np.isin(self.stage[active], self.stage[rows])] = -np.inf
            top = np.argsort(-score)[:most]
            for k in top:
                if np.isfinite(score[k]):
                    key = tuple(sorted((*rows, int(active[k]))))
                    found[key] = Hypothesis(key, float(likelihood[k]), float(score[k]))
        return sorted(found.values(), key=lambda h: -h.log_posterior)

    def guess(self) -> None:
        """What else could be there beside a good explanation: estimated, or, where the explanation is a gross fault
        that changes what every other one does, solved with one degree of each."""
        best = self.best(1)[0]
        if best.rows and self._gross(best.rows):
            if len(best.rows) > 1 or not self._beside_one(best.rows[0]):
                lead = set(self.stage[list(best.rows)])
                others = [row for row in self._one_degree() if self.stage[row] not in lead]
                self._solve(tuple(sorted((*best.rows, row))) for row in others)
            return
        for hypothesis in self.screen([h.rows for h in self.best(2)]):
            self.known.setdefault(hypothesis.rows, hypothesis)

    def _beside_one(self, lead: int) -> bool:
        """Keep the scores of the pairs with one row, with the spread it has alone; whether there are such pairs."""
        rows, mean = self.dictionary.pairs.rows, self.dictionary.pairs.mean
        here = np.flatnonzero((rows == lead).any(axis=1) & self.active[rows].all(axis=1))
        precision, log_det = self._precision(self.dictionary.expected.covariance[lead : lead + 1])
        found = _normal(self.values - mean[here][:, self.columns], precision[0], float(log_det[0]))
        for (a, b), likelihood in zip(rows[here].tolist(), found.tolist(), strict=True):
            if (a, b) not in self.known:
                self._keep((a, b), likelihood, likelihood + float(self.log_prior[a] + self.log_prior[b]))
        return len(here) > 0

    def _gross(self, rows: Rows) -> bool:
        """Whether a set of faults moves most test points, read or not, by more than three tenths."""
        mean = self.dictionary.expected.mean
        shift = np.abs(mean[list(rows)] - mean[0]).max(axis=0)
        return bool((shift > 0.3 * np.abs(mean[0]) + 0.1).mean() > 0.5)

    def _one_degree(self) -> list[int]:
        """The middle degree of every fault that moves a reading."""
        degrees: list[int] = middle_degrees(self.owner, np.flatnonzero(self.active)).tolist()
        return degrees

    def extend(self, by_pairs: bool = False) -> None:
        """Add the best supersets of the best hypotheses, by one more fault of another stage, and, if asked, the best of
        all pairs; solved together."""
        # Faults that explain part of the readings may be poor alone, so the beam is joined by the best of each stage.
        starts = dict.fromkeys(
            [*((row,) for row in self._best_by_stage(4)), *(h.rows for h in self.best(BEAM) if h.rows)]
        )
        wanted = [h.rows for h in self.screen(starts) if h.rows not in self.known][:GROWN]
        self._solve([*wanted, *(self._pairs() if by_pairs else ())])
        self._polish()

    def _pairs(self) -> list[Rows]:
        """Two faults that act through one another, which no guess from each alone finds: of all pairs, one degree of
        each, those that give most of the readings."""
        rows, mean = self.dictionary.pairs.rows, self.dictionary.pairs.mean
        variance = self._variance()
        miss = np.zeros(len(rows))
        for k, column in enumerate(self.columns):
            off = self.values[k] - mean[:, column]
            miss += np.minimum(off**2 / np.maximum(*variance[rows, k].T), CLIPPED)
        score = self.log_prior[rows].sum(axis=1) - 0.5 * miss
        top = np.argsort(-score)[:PAIRED]
        return [(a, b) for a, b in rows[top].tolist()]

    def _variance(self) -> Array:
        """Variance of each reading with each row, roughly: of sound parts, the meter, and how bad the fault is."""
        found: Array = 1.0 / np.diagonal(self.sound_precision) + self.noise + (0.1 * (self.mean - self.mean[0])) ** 2
        return found

    def _polish(self) -> None:
        """Exchange each fault of the best hypotheses for the likeliest others of its stage, the rest held, until
        nothing is gained."""
        for _ in range(PASSES):
            best = self.best(POLISHED)
            sets: dict[Rows, None] = {}
            for here in best:
                for row in here.rows if len(here.rows) > 1 else ():
                    rest = tuple(r for r in here.rows if r != row)
                    same = np.flatnonzero((self.stage == self.stage[row]) & self.active)
                    order = np.argsort(-self.beside(self.hypothesis(rest))[same], kind="stable")
                    sets |= {tuple(sorted((*rest, int(r)))): None for r in same[order[:EXCHANGED]]}
            self._solve(sets)
            if self.best(POLISHED) == best:
                return

    def _best_by_stage(self, most: int) -> list[int]:
        """For each stage the faults that explain most of the readings, what they don't explain set aside."""
        active = np.flatnonzero(self.active)
        shift = self.mean[active] - self.mean[0]
        residual = self.values - self.mean[0]
        variance = self._variance()[active]
        gain = np.minimum(residual**2 / variance, 50.0) - np.minimum((residual - shift) ** 2 / variance, 50.0)
        total = gain.sum(axis=1)
        found: list[int] = []
        for stage in np.unique(self.stage[active]):
            here = np.flatnonzero(self.stage[active] == stage)
            found += [int(active[k]) for k in here[np.argsort(-total[here])[:most]] if total[k] > 4.0]
        return found

    def _solve(self, sets: Iterable[Rows]) -> None:
        """Solve sets of faults together and keep their scores. Those without an operating point are left out."""
        fresh = [rows for rows in dict.fromkeys(sets) if rows not in self.known]
        found_together = zip(fresh, self.dictionary.together(fresh), strict=True)
        solved = [(rows, one) for rows, one in found_together if one is not None]
        if not solved:
            return
        mean = np.array([one[0][self.columns] for _, one in solved])
        precision, log_det = self._precision(np.array([one[1] for _, one in solved]))
        found = _normal(self.values - mean, precision, log_det)
        for k, (rows, _) in enumerate(solved):
            self.joint[rows] = mean[k]
            self._keep(rows, float(found[k]), float(found[k] + self.log_prior[list(rows)].sum()))


def _normal(miss: Array, precision: Array, log_det: Array | float) -> Array:
    """Log-density of a normal law: miss (rows, n); precision (n, n) for all rows or (rows, n, n)."""
    if precision.ndim == 2:
        distance = ((miss @ precision) * miss).sum(axis=1)
    else:
        distance = np.einsum("ri,ri->r", np.matmul(precision, miss[..., None])[..., 0], miss)
    result: Array = -0.5 * (distance + log_det + miss.shape[1] * _LOG_2PI)
    return result
