"""Sets of faults, at most one a stage, scored against one set of readings.

The readings under a hypothesis are taken as normal, with the dictionary's mean and covariance (part tolerance, tube
spread, mains) and the meter's error. Single faults are scored from the dictionary. Larger sets are found by screening
(the shifts of the faults simply added) and then solved exactly together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..devices.tubes import Array
from .dictionary import Dictionary, expect
from .faults import Severity

#: Odds that a given fault is there, per unit of its weight, before any reading.
FAULT_ODDS = 0.0005
BEAM = 8
EXACT = 24
POLISHED = 3
EXCHANGED = 16
#: One more fault is looked for when the squared distance of the readings is this many standard deviations above what
#: sound tolerances give; when it is VERY_POOR, by the long way.
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

    def _precision(self, covariance: Array, chosen: bool = True) -> tuple[Array, Array]:
        """Inverse of covariance plus the meter's, and its log-determinant, for each row."""
        picked = covariance[:, self.columns[:, None], self.columns[None, :]] if chosen else covariance
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
        """Log-posterior of a hypothesis with each row beside it, that row's own prior left out, the shifts added."""
        if not rest.rows:
            return self.single.copy()
        mean = self.joint.get(rest.rows)
        if mean is None:
            mean = self.mean[0] + (self.mean[list(rest.rows)] - self.mean[0]).sum(axis=0)
        lead = rest.rows[-1]
        precision, log_det = self._precision(self.dictionary.expected.covariance[lead : lead + 1])
        shift = np.where(self.active[:, None], self.mean - self.mean[0], 0.0)
        found = _normal(self.values - mean - shift, precision[0], float(log_det[0]))
        start = rest.log_posterior if np.isfinite(rest.log_posterior) else found[0]
        moved: Array = start + found - found[0]
        moved[~self.dictionary.expected.converged] = -np.inf
        return moved

    def screen(self, starts: Iterable[Rows], most: int = EXACT) -> list[Hypothesis]:
        """The likeliest supersets by one more fault of another stage, the shifts of both simply added."""
        active = np.flatnonzero(self.active)
        shift = self.mean - self.mean[0]
        cov = self.dictionary.expected.covariance
        found: dict[Rows, Hypothesis] = {}
        for start in starts:
            rows = list(start)
            joined = self.mean[0] + shift[rows].sum(axis=0)
            lead = int(rows[-1]) if rows else 0
            precision, log_det = self._precision(cov[lead : lead + 1])
            likelihood = _normal(self.values - joined - shift[active], precision[0], float(log_det[0]))
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
            lead = set(self.stage[list(best.rows)])
            self._solve(tuple(sorted((*best.rows, row))) for row in self._one_degree() if self.stage[row] not in lead)
            return
        for hypothesis in self.screen([h.rows for h in self.best(2)]):
            self.known.setdefault(hypothesis.rows, hypothesis)

    def _gross(self, rows: Rows) -> bool:
        """Whether a set of faults moves most readings by more than three tenths."""
        shift = np.abs(self.mean[list(rows)] - self.mean[0]).max(axis=0)
        return bool((shift > 0.3 * np.abs(self.mean[0]) + 0.1).mean() > 0.5)

    def _one_degree(self) -> list[int]:
        """The middle degree of every fault that moves a reading."""
        active = np.flatnonzero(self.active)
        _, first, count = np.unique(self.owner[active], return_index=True, return_counts=True)
        return [int(row) for row in active[first + count // 2]]

    def extend(self) -> None:
        """Add the best supersets of the best hypotheses, by one more fault of another stage, solved exactly."""
        # Faults that explain part of the readings may be poor alone, so the beam is joined by the best of each stage.
        starts = dict.fromkeys(
            [*((row,) for row in self._best_by_stage(4)), *(h.rows for h in self.best(BEAM) if h.rows)]
        )
        wanted = [h.rows for h in self.screen(starts) if h.rows not in self.known]
        self._solve(wanted[: 2 * EXACT])
        self._polish_best()

    def search(self) -> None:
        """The long way, for two faults that act through one another: the best fault of each stage with one degree of
        every fault elsewhere, all solved exactly."""
        starts = {row for h in self.best(3) for row in h.rows} | set(self._best_by_stage(1))
        others = self._one_degree()
        self._solve(
            {tuple(sorted((row, other))) for row in starts for other in others if self.stage[row] != self.stage[other]}
        )
        self._polish_best()

    def _polish_best(self) -> None:
        for hypothesis in self.best(POLISHED):
            self._polish(hypothesis)

    def _polish(self, start: Hypothesis) -> None:
        """Exchange each fault of a hypothesis for the likeliest others of its stage, the rest held, until nothing is
        gained."""
        here = start
        while len(here.rows) > 1:
            before = here
            for row in here.rows:
                if row not in here.rows:
                    continue
                rest = tuple(r for r in here.rows if r != row)
                same = np.flatnonzero((self.stage == self.stage[row]) & self.active)
                likely = same[np.argsort(-self.beside(self.hypothesis(rest))[same], kind="stable")][:EXCHANGED]
                sets = [tuple(sorted((*rest, int(r)))) for r in likely]
                self._solve(sets)
                here = max(
                    (self.known[s] for s in sets if s in self.known), key=lambda h: h.log_posterior, default=here
                )
            if here.log_posterior <= before.log_posterior:
                return

    def _best_by_stage(self, most: int) -> list[int]:
        """For each stage the faults that explain most of the readings, what they don't explain set aside."""
        active = np.flatnonzero(self.active)
        shift = self.mean[active] - self.mean[0]
        residual = self.values - self.mean[0]
        variance = 1.0 / np.diagonal(self.sound_precision) + self.noise + (0.1 * shift) ** 2
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
        if not fresh:
            return
        dictionary = self.dictionary
        severities = [self._together(rows) for rows in fresh]
        expected = expect(dictionary.solver, severities, self.points, dictionary.meter)
        precision, log_det = self._precision(expected.covariance, chosen=False)
        found = _normal(self.values - expected.mean, precision, log_det)
        for k, rows in enumerate(fresh):
            if expected.converged[k]:
                self.joint[rows] = expected.mean[k]
                self._keep(rows, float(found[k]), float(found[k] + self.log_prior[list(rows)].sum()))

    def _together(self, rows: Sequence[int]) -> Severity:
        lead, *others = [self.dictionary.severities[row] for row in rows]
        variant = lead.variant
        for severity in others:
            variant = variant | severity.variant
        return Severity("together", variant, lead.spread, lead.moves, lead.tube, lead.siemens)


def _normal(miss: Array, precision: Array, log_det: Array | float) -> Array:
    """Log-density of a normal law: miss (rows, n); precision (n, n) for all rows or (rows, n, n)."""
    if precision.ndim == 2:
        distance = ((miss @ precision) * miss).sum(axis=1)
    else:
        distance = np.einsum("ri,ri->r", np.matmul(precision, miss[..., None])[..., 0], miss)
    result: Array = -0.5 * (distance + log_det + miss.shape[1] * _LOG_2PI)
    return result
