"""From readings to ranked faults: likelihoods under every fault, alone and in company with faults of other stages.

A hypothesis is a set of faults, at most one a stage. Its readings are taken as normal with the dictionary's mean and
covariance (part tolerance, tube spread, mains, meter). Single faults come from the dictionary. Where one fault does
not explain the readings, the best hypotheses are extended by faults of other stages: the candidates are screened by
adding the shifts that the two faults cause alone, and the best are then solved exactly together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .dictionary import Dictionary, expect
from .faults import Severity
from .network import Ints
from .tubes import Array

#: Odds against a fault being there at all, per unit of weight. An amp on the bench has about one fault that shows.
FAULT_ODDS = 0.0005
MOST_FAULTS = 3
BEAM = 8
EXACT = 24
POLISHED = 3
#: One more fault is looked for when the squared distance of the readings is this many standard deviations above what
#: sound tolerances give.
POOR = 3.0
VERY_POOR = 6.0
_LOG_2PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True)
class Hypothesis:
    """A set of dictionary rows (one a stage), its log-likelihood and its log-posterior (not normalised)."""

    rows: tuple[int, ...]
    log_likelihood: float
    log_posterior: float


@dataclass(frozen=True)
class Candidate:
    """One fault in a ranking."""

    fault: str
    stage: str
    probability: float
    severity: str
    log_likelihood: float
    predicted: Mapping[str, float]
    row: int


@dataclass(frozen=True)
class Ranking:
    """The outcome for one set of readings.

    candidates: faults, most probable first. healthy: probability that no fault is there.
    stages: log-likelihood of the readings by fault of each stage, `none` among them, the other stages being taken at
    their best explanation; the caller adds its own prior odds.
    fit: log-likelihood of the best hypothesis less what a perfect fit would have (0 is perfect; under about minus
    twice the number of readings something is going on that the dictionary does not know).
    """

    candidates: tuple[Candidate, ...]
    healthy: float
    stages: Mapping[str, Mapping[str, float]]
    best: tuple[str, ...]
    fit: float
    hypotheses: tuple[Hypothesis, ...]


def rank(dictionary: Dictionary, readings: Mapping[str, float], most_faults: int = MOST_FAULTS) -> Ranking:
    """Rank the faults of a circuit by readings {test point: volts}. Raises KeyError for an unknown test point."""
    scorer = _Scorer(dictionary, readings)
    known: dict[tuple[int, ...], Hypothesis] = {h.rows: h for h in scorer.singles()}
    if not readings:
        return scorer.ranking(list(known.values()))
    for size in range(2, most_faults + 1):
        best = _best(known, 1)[0]
        beam = [h for h in _best(known, BEAM) if h.rows]
        if not scorer.poor(best):
            # Good as it is; what else could be there beside it is only estimated.
            known.update({h.rows: h for h in scorer.screen(beam[:2]) if h.rows not in known})
            break
        scorer.extend(beam, known)
        if size == 2 and scorer.poor(_best(known, 1)[0], VERY_POOR):
            scorer.search(known)
        if _best(known, 1)[0].rows == best.rows:
            break
    return scorer.ranking(list(known.values()))


def _best(known: Mapping[tuple[int, ...], Hypothesis], count: int) -> list[Hypothesis]:
    return sorted(known.values(), key=lambda h: -h.log_posterior)[:count]


class _Scorer:
    """Likelihoods of one set of readings."""

    def __init__(self, dictionary: Dictionary, readings: Mapping[str, float]) -> None:
        self.dictionary = dictionary
        self.points = tuple(readings)
        self.columns: Ints = dictionary.columns(self.points)
        self.values = np.array([float(readings[p]) for p in self.points])
        expected = dictionary.expected
        self.mean = expected.mean[:, self.columns]
        cov = expected.covariance[:, self.columns[:, None], self.columns[None, :]]
        self.noise = dictionary.meter.variance(self.values)
        self.precision, self.log_det = _precision(cov, self.noise)
        faults = dictionary.faults
        self.owner = dictionary.row_fault
        shift = np.abs(self.mean - self.mean[0])
        self.active = (self.owner >= 0) & (shift > 3.0 * np.sqrt(self.noise)).any(axis=1)
        self.stage = np.array(["", *[f.stage for f in faults]])[self.owner + 1]
        count = np.bincount(self.owner + 1)
        prior = np.array([1.0, *[f.weight * FAULT_ODDS for f in faults]])
        self.log_prior = np.log(prior[self.owner + 1] / count[self.owner + 1])

    def _likelihood(self, miss: Array, precision: Array, log_det: Array) -> Array:
        distance = np.einsum("...i,...ij,...j->...", miss, precision, miss)
        result: Array = -0.5 * (distance + log_det + len(self.points) * _LOG_2PI)
        return result

    def singles(self) -> list[Hypothesis]:
        found = self._likelihood(self.values - self.mean, self.precision, self.log_det)
        found = np.where(self.dictionary.expected.converged, found, -np.inf)
        self.single_likelihood = found
        posterior = found + self.log_prior
        return [
            Hypothesis(() if row == 0 else (row,), float(found[row]), float(posterior[row]))
            for row in range(len(found))
            if np.isfinite(posterior[row])
        ]

    def poor(self, best: Hypothesis, limit: float = POOR) -> bool:
        """Whether the best explanation so far leaves readings unexplained."""
        count = len(self.points)
        rows = best.rows or (0,)
        ideal = -0.5 * (self.log_det[rows[-1]] + count * _LOG_2PI)
        return bool(2.0 * (ideal - best.log_likelihood) > count + limit * np.sqrt(2.0 * count))

    def screen(self, starts: Sequence[Hypothesis], most: int = EXACT) -> list[Hypothesis]:
        """The likeliest supersets by one more fault of another stage, the shifts of both simply added."""
        active = np.flatnonzero(self.active)
        shift = self.mean - self.mean[0]
        found: dict[tuple[int, ...], Hypothesis] = {}
        for start in starts:
            rows = list(start.rows)
            joined = self.mean[0] + shift[rows].sum(axis=0)
            miss = self.values - joined - shift[active]
            likelihood = self._likelihood(miss, self.precision[active], self.log_det[active])
            prior = self.log_prior[active] + self.log_prior[rows].sum()
            score = np.where(np.isin(self.stage[active], self.stage[rows]), -np.inf, likelihood + prior)
            for k in np.argsort(-score)[:most]:
                if np.isfinite(score[k]):
                    key = tuple(sorted((*rows, int(active[k]))))
                    found[key] = Hypothesis(key, float(likelihood[k]), float(score[k]))
        return sorted(found.values(), key=lambda h: -h.log_posterior)

    def extend(self, beam: Sequence[Hypothesis], known: dict[tuple[int, ...], Hypothesis]) -> None:
        """Add the best supersets of the hypotheses in `beam`, by one more fault of another stage, solved exactly."""
        # Faults that explain part of the readings may be poor alone, so the beam is joined by the best of each stage.
        alone = [Hypothesis((row,), 0.0, 0.0) for row in self._best_by_stage(4)]
        starts = {h.rows: h for h in (*alone, *beam)}
        wanted = [h.rows for h in self.screen(list(starts.values())) if h.rows not in known]
        known.update({h.rows: h for h in self._exact(wanted[: 2 * EXACT])})
        for hypothesis in _best(known, POLISHED):
            self.polish(hypothesis, known)

    def search(self, known: dict[tuple[int, ...], Hypothesis]) -> None:
        """The long way, for two faults that act through one another: the best fault of each stage with one degree of
        every fault elsewhere, all solved exactly."""
        starts = {row for h in _best(known, 3) for row in h.rows} | set(self._best_by_stage(1))
        active = np.flatnonzero(self.active)
        _, first, count = np.unique(self.owner[active], return_index=True, return_counts=True)
        middle = active[first + count // 2]
        pairs = {
            tuple(sorted((row, int(other)))) for row in starts for other in middle if self.stage[row] != self.stage[other]
        }
        known.update({h.rows: h for h in self._exact([pair for pair in pairs if pair not in known])})
        for hypothesis in _best(known, POLISHED):
            self.polish(hypothesis, known)

    def polish(self, start: Hypothesis, known: dict[tuple[int, ...], Hypothesis]) -> None:
        """Exchange each fault of a hypothesis for every other of its stage, the rest held, solved exactly."""
        here = start
        for _ in range(2 * MOST_FAULTS):
            if len(here.rows) < 2:
                return
            before = here
            for row in here.rows:
                if row not in here.rows:
                    continue
                rest = tuple(r for r in here.rows if r != row)
                same = np.flatnonzero((self.stage == self.stage[row]) & self.active)
                sets = [tuple(sorted((*rest, int(r)))) for r in same]
                known.update({h.rows: h for h in self._exact([s for s in sets if s not in known])})
                here = max((known[s] for s in sets if s in known), key=lambda h: h.log_posterior, default=here)
            if here.log_posterior <= before.log_posterior:
                return

    def _best_by_stage(self, most: int) -> list[int]:
        """For each stage the faults that explain most of the readings, what they don't explain set aside."""
        active = np.flatnonzero(self.active)
        shift = self.mean[active] - self.mean[0]
        residual = self.values - self.mean[0]
        variance = 1.0 / np.diagonal(self.precision[0]) + self.noise + (0.1 * shift) ** 2
        gain = np.minimum(residual**2 / variance, 50.0) - np.minimum((residual - shift) ** 2 / variance, 50.0)
        total = gain.sum(axis=1)
        found: list[int] = []
        for stage in sorted(set(self.stage[active])):
            here = np.flatnonzero(self.stage[active] == stage)
            found += [int(active[k]) for k in here[np.argsort(-total[here])[:most]] if total[k] > 4.0]
        return found

    def _exact(self, sets: Sequence[tuple[int, ...]]) -> list[Hypothesis]:
        dictionary = self.dictionary
        if not sets:
            return []
        severities = [self._together(rows) for rows in sets]
        expected = expect(dictionary.solver, severities, self.points, dictionary.meter)
        precision, log_det = _precision(expected.covariance, self.noise)
        found = self._likelihood(self.values - expected.mean, precision, log_det)
        return [
            Hypothesis(rows, float(found[k]), float(found[k] + self.log_prior[list(rows)].sum()))
            for k, rows in enumerate(sets)
            if expected.converged[k]
        ]

    def _together(self, rows: tuple[int, ...]) -> Severity:
        severities = [self.dictionary.severities[row] for row in rows]
        variant = severities[0].variant
        for severity in severities[1:]:
            variant = variant | severity.variant
        lead = severities[0]
        return Severity("together", variant, lead.spread, lead.moves, lead.tube, lead.siemens)

    def ranking(self, hypotheses: list[Hypothesis]) -> Ranking:
        faults = self.dictionary.faults
        logs = np.array([h.log_posterior for h in hypotheses])
        weights = np.exp(logs - logs.max())
        weights /= weights.sum()
        probability = np.zeros(len(faults))
        lead: dict[int, tuple[float, int]] = {}
        likelihood = np.full(len(faults), -np.inf)
        for hypothesis, weight in zip(hypotheses, weights, strict=True):
            for row in hypothesis.rows:
                fault = int(self.owner[row])
                probability[fault] += weight
                likelihood[fault] = max(likelihood[fault], hypothesis.log_likelihood)
                if weight >= lead.get(fault, (-1.0, 0))[0]:
                    lead[fault] = (float(weight), row)
        order = np.argsort(-self._log_odds(hypotheses, logs), kind="stable")
        candidates = tuple(
            Candidate(
                faults[k].id, faults[k].stage, float(probability[k]), self.dictionary.severities[lead[k][1]].label,
                float(likelihood[k]), dict(zip(self.points, self.mean[lead[k][1]].tolist(), strict=True)),
                lead[k][1],
            )
            for k in map(int, order)
            if k in lead
        )  # fmt: skip
        best = max(hypotheses, key=lambda h: h.log_posterior)
        ideal = -0.5 * (self.log_det[best.rows[-1] if best.rows else 0] + len(self.points) * _LOG_2PI)
        healthy = float(sum(w for h, w in zip(hypotheses, weights, strict=True) if not h.rows))
        return Ranking(
            candidates, healthy, self._by_stage(hypotheses), tuple(faults[self.owner[row]].id for row in best.rows),
            best.log_likelihood - ideal, tuple(sorted(hypotheses, key=lambda h: -h.log_posterior)[:50]),
        )  # fmt: skip

    def _log_odds(self, hypotheses: list[Hypothesis], logs: Array) -> Array:
        """Log-odds of each fault: unlike a probability near one it still tells two certain faults apart."""
        members = np.zeros((len(self.dictionary.faults), len(hypotheses)), dtype=bool)
        for k, hypothesis in enumerate(hypotheses):
            for row in hypothesis.rows:
                members[self.owner[row], k] = True
        held = np.where(members, logs, -np.inf)
        rest = np.where(members, -np.inf, logs)
        with np.errstate(divide="ignore"):
            result: Array = _log_sum(held) - _log_sum(rest)
        return np.nan_to_num(result, nan=-np.inf)

    def _by_stage(self, hypotheses: list[Hypothesis]) -> dict[str, dict[str, float]]:
        """Log-likelihood of each fault of each stage, the others at their best (with the prior of the others)."""
        faults = self.dictionary.faults
        found: dict[str, dict[str, float]] = {stage: {"none": -np.inf} for stage in {f.stage for f in faults}}
        for hypothesis in hypotheses:
            here = {str(self.stage[row]): row for row in hypothesis.rows}
            for stage, table in found.items():
                others = sum(float(self.log_prior[row]) for s, row in here.items() if s != stage)
                name = faults[self.owner[here[stage]]].id if stage in here else "none"
                table[name] = max(table.get(name, -np.inf), hypothesis.log_likelihood + others)
        return found


def _log_sum(logs: Array) -> Array:
    top = np.maximum(logs.max(axis=1, keepdims=True), -1e300)
    result: Array = top[:, 0] + np.log(np.exp(logs - top).sum(axis=1))
    return result


def _precision(covariance: Array, noise: Array) -> tuple[Array, Array]:
    """Inverse of covariance plus the meter's, and its log-determinant, for each row."""
    full = covariance + np.eye(len(noise)) * noise
    if not len(noise):
        return full, np.zeros(len(covariance))
    return np.linalg.inv(full), np.linalg.slogdet(full)[1]


#: Two faults whose readings differ by less than this many standard deviations, over every test point, count as one
#: class: even the best use of all readings would confuse them almost one time in three.
SEPARABLE = 1.0


def alike(dictionary: Dictionary, row: int) -> tuple[str, ...]:
    """The faults that no reading at any test point can tell from the one of dictionary row `row`, itself first."""
    far = distances(dictionary, row)
    return tuple(sorted((name for name in far if far[name] < SEPARABLE), key=lambda name: far[name]))


def distances(dictionary: Dictionary, row: int) -> dict[str, float]:
    """How far each fault at its nearest degree is from one dictionary row, in standard deviations, all points read.

    Between two neighbouring degrees of a fault its readings are taken to lie on the straight line between theirs.
    """
    expected = dictionary.expected
    noise = dictionary.meter.variance(expected.mean[row])
    precision, _ = _precision(expected.covariance[row : row + 1], noise)
    shift = expected.mean - expected.mean[row]
    weighed = shift @ precision[0]
    square = np.einsum("ri,ri->r", weighed, shift)
    cross = np.einsum("ri,ri->r", weighed[:-1], shift[1:])
    # Nearest point of the segment between rows k and k+1: |s0 + t (s1 - s0)|^2 at its least over 0 <= t <= 1.
    length = np.maximum(square[:-1] + square[1:] - 2.0 * cross, 1e-12)
    t = np.clip((square[:-1] - cross) / length, 0.0, 1.0)
    between = square[:-1] + t * (t * length - 2.0 * (square[:-1] - cross))
    same = (dictionary.row_fault[:-1] == dictionary.row_fault[1:]) & expected.converged[:-1] & expected.converged[1:]
    found: dict[str, float] = {}
    for k, owner in enumerate(dictionary.row_fault):
        if owner < 0 or not expected.converged[k]:
            continue
        name = dictionary.faults[owner].id
        least = min(float(square[k]), float(between[k]) if k < len(between) and same[k] else np.inf)
        found[name] = min(found.get(name, np.inf), float(np.sqrt(max(least, 0.0))))
    return found
