"""Which test point to measure next: the one whose reading is expected to tell most about what is wrong."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ..devices.tubes import Array
from .dictionary import Dictionary
from .quantities import offered
from .rank import FaultRanking

_GRID = 160
#: Explanations that are weighed against one another, the likeliest; what is learned of the rest is next to nothing, and
#: the work goes by the square of their number.
_MOST = 30


@dataclass(frozen=True)
class NextPoint:
    """What a reading at a point is expected to tell, in bits, and the band of readings to expect."""

    point: str
    bits: float
    low_V: float
    high_V: float


def next_points(dictionary: Dictionary, ranking: FaultRanking, measured: Collection[str]) -> list[NextPoint]:
    """The test points not yet measured, most telling first: mutual information between the reading and the fault.

    The reading under each fault is normal about its prediction; the mixture's entropy is integrated numerically.
    """
    likely = sorted((c for c in ranking.candidates if c.probability > 1e-4), key=lambda c: -c.probability)[:_MOST]
    rows = [0, *(c.row for c in likely)]
    weight = np.array([ranking.healthy, *(c.probability for c in likely)])
    weight = np.maximum(weight, 1e-6)
    weight /= weight.sum()
    mean = dictionary.expected.mean[rows]
    variance = np.diagonal(dictionary.expected.covariance[rows], axis1=1, axis2=2)
    sigma = np.sqrt(variance + dictionary.meter.variance(mean))
    found: list[NextPoint] = []
    for column, point in enumerate(dictionary.points):
        if point in measured:
            continue
        m, s = mean[:, column], sigma[:, column]
        centre = float(weight @ m)
        width = float(np.sqrt(weight @ (s**2 + (m - centre) ** 2)))
        found.append(NextPoint(point, information_bits(weight, m, s), centre - 2 * width, centre + 2 * width))
    return sorted(found, key=lambda worth: -worth.bits)


@dataclass(frozen=True)
class Unread:
    """What has not been read, and the faults, common ones first, that it would show and nothing read so far does."""

    reading: str
    faults: tuple[str, ...]


#: A fault is shown by a reading that it moves by so many standard deviations, and has been when what was read has left
#: it this share of the odds it had.
SHOWN, LEFT = 4.0, 0.02


def unread(dictionary: Dictionary, ranking: FaultRanking, measured: Collection[str]) -> list[Unread]:
    """Why 'nothing wrong' is too early: readings not taken, with the faults that each would show and none taken has
    spoken against. Those that show most come first; each fault stands once. Volts first, and AC when all are read."""
    left = {name for name, gain in ranking.beside.items() if gain > np.log(LEFT)}
    circuit = dictionary.network.circuit
    names = [point for point in dictionary.points if point not in measured]
    shown = {name: _shown_by(dictionary, name) & left for name in names}
    if not any(shown.values()):
        shown = {name: _shown_by(dictionary, name) & left for name in offered(circuit) if name not in measured}
    weight = {fault.id: fault.weight for fault in dictionary.faults}
    found: list[Unread] = []
    while shown:
        name = max(shown, key=lambda one: sum(weight[fault] for fault in shown[one]))
        faults = shown.pop(name)
        if not faults:
            break
        found.append(Unread(name, tuple(sorted(faults, key=lambda fault: (-weight[fault], fault)))))
        shown = {other: more - faults for other, more in shown.items()}
    return found


def _shown_by(dictionary: Dictionary, name: str) -> set[str]:
    mean, sigma = dictionary.readout(name)
    far = (np.abs(mean - mean[0]) > SHOWN * sigma[0]) & (dictionary.row_fault >= 0) & dictionary.expected.converged
    return {dictionary.faults[owner].id for owner in dictionary.row_fault[far].tolist()}


def information_bits(weight: Array, mean: Array, sigma: Array) -> float:
    """Mutual information (bits) between a choice with the given weights and a normal reading about each mean."""
    # Points of each normal's own quantile-like grid carry equal shares of its weight.
    z = np.linspace(-4.0, 4.0, _GRID)
    density = np.exp(-0.5 * z**2)
    density /= density.sum()
    at = mean[:, None] + sigma[:, None] * z  # (choices, grid)
    log_own = -0.5 * z**2 - np.log(sigma)[:, None]
    spread = (at[:, :, None] - mean) / sigma  # (choices, grid, choices)
    log_each = -0.5 * spread**2 - np.log(sigma) + np.log(weight)
    top = log_each.max(axis=2)
    log_mixture = top + np.log(np.exp(log_each - top[..., None]).sum(axis=2))
    gain = (density * (log_own - log_mixture)).sum(axis=1)
    return float(max(weight @ gain, 0.0) / np.log(2.0))
