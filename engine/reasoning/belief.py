"""How probable each cause is, exactly, with several faults at once.

The model. Causes stand in groups; in a group at most one is true, and groups are independent beforehand. A
finding is a noisy-OR of its causes with a leak: each cause that is true shows it with its own probability,
independently, and the leak shows it besides.

The sum. Findings that are absent multiply each cause's weight by the probability of not showing them, and
couple nothing. Findings that are present couple the groups that can show them; parts that nothing couples are summed
apart, each over all combinations of its causes (subsets.py).

Where that would take too long or too much memory (MOST_WIDTH, MOST_CELLS, MOST_WORK), the answer is
an estimate (messages.py), and says so by its `bound`: how far any cause may be off; it is zero whenever the answer is
exact. It is told from the weakest links, which are bounded instead of summed: taken as absent for a lower and as always
open for an upper bound of every joint probability. An estimate of many scenarios at once has the bound that every
probability has.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .messages import estimated
from .subsets import Array, Component, joint
from .turns import Turns

MOST_WIDTH = 20
MOST_WORK = 60_000_000  # cells gone through in one inference, over all scenarios: a second
WORTH_BOUNDING = 2  # findings beyond MOST_WIDTH up to which the bound may tell something
NO_BOUND = 1.0
MOST_CELLS = 8_000_000  # of the tables kept at one time, 64 MB; scenarios are taken in portions that fit


@dataclass(frozen=True)
class BeliefNetwork:
    """Causes 0..C-1: `prior` (C,) and `groups`, a partition of the causes. A group's priors sum below 1,
    or to 1 when one of its causes is certain to be there. left_out: (groups,), what the priors of further causes of
    each group sum to, which are certain not to be there."""

    prior: Array
    groups: tuple[tuple[int, ...], ...]
    left_out: Array | float = 0.0

    def __post_init__(self) -> None:
        listed = sorted(cause for group in self.groups for cause in group)
        if listed != list(range(len(self.prior))):
            raise ValueError("the groups must list every cause once")
        for group in self.groups:
            total = float(sum(self.prior[cause] for cause in group))
            if total > 1 + 1e-12:
                raise ValueError(f"the priors of a group sum to {total:g}, above 1")

    @cached_property
    def group_of(self) -> NDArray[np.intp]:
        """The number of each cause's group; shape (C,)."""
        numbers = np.empty(len(self.prior), dtype=np.intp)
        for number, group in enumerate(self.groups):
            numbers[list(group)] = number
        return numbers

    @cached_property
    def none(self) -> Array:
        """How probable it is beforehand that none of a group's causes is there; shape (groups,)."""
        return np.asarray(np.maximum(0.0, 1 - self.totals(self.prior[None, :])[0] - self.left_out))

    def only(self, columns: NDArray[np.intp]) -> BeliefNetwork:
        """The network of these causes, all others being certain not to be there. Groups without any are gone, and with
        them their share of the evidence."""
        place = {column: number for number, column in enumerate(columns.tolist())}
        kept = [tuple(place[cause] for cause in group if cause in place) for group in self.groups]
        left = self.totals(self.prior[None, :])[0] + self.left_out
        prior = self.prior[columns]
        ours = [(group, left[number] - prior[list(group)].sum()) for number, group in enumerate(kept) if group]
        return BeliefNetwork(prior, tuple(group for group, _ in ours), np.array([out for _, out in ours]))

    @cached_property
    def _by_group(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        order = np.argsort(self.group_of, kind="stable")
        return order, np.searchsorted(self.group_of[order], np.arange(len(self.groups)))

    def totals(self, weight: Array) -> Array:
        """Weights (K, C) summed by group; shape (K, groups)."""
        order, starts = self._by_group
        return np.asarray(np.add.reduceat(weight[:, order], starts, axis=1))


@dataclass(frozen=True)
class Rows:
    """Findings as rows: `shows` (R, C), the probability that each cause shows it, and `leak` (R,); or (K, R), a row
    for each of K scenarios. A present finding with a leak of 1 says nothing: it is as if it had been left out."""

    shows: Array
    leak: Array

    @staticmethod
    def none(causes: int) -> Rows:
        return Rows(np.zeros((0, causes)), np.zeros(0))


@dataclass(frozen=True)
class Posterior:
    """probability: (K, C), each cause's under each of K scenarios. log_evidence: (K,), the natural logarithm of
    the probability of the evidence (with a scenario's factors as given). bound: the most that any probability may be
    off; 0 when exact."""

    probability: Array
    log_evidence: Array
    bound: float


def infer(
    network: BeliefNetwork,
    present: Rows,
    absent: Rows | None = None,
    factors: Array | None = None,
    most_width: int = MOST_WIDTH,
    only_evidence: bool = False,
    most_work: int = MOST_WORK,
) -> Posterior:
    """The posterior of every cause.

    factors: (K, C), one row a scenario, multiplies the odds of each cause against its absence (from rules, from
    readings, or from further absent findings); default one row of ones. only_evidence: leave the probabilities out,
    which are more than half of the work; they are then NaN. most_width, most_work: up to where it is exact.
    """
    causes = len(network.prior)
    factors = np.ones((1, causes)) if factors is None else np.atleast_2d(factors)
    absent = absent or Rows.none(causes)
    weight = network.prior * factors * np.prod(1 - absent.shows, axis=0)
    log_evidence = np.full(len(factors), float(np.sum(np.log1p(-absent.leak))))

    leak = np.broadcast_to(present.leak, (len(factors), len(present.shows)))
    bound = 0.0
    coupled, parts = _parts(network, present)
    totals = network.none + network.totals(weight)
    probability = weight / totals[:, network.group_of]
    alone = [number for number in range(len(network.groups)) if number not in coupled]
    log_evidence += np.log(totals[:, alone]).sum(axis=1)
    for groups, rows in parts:
        columns = [cause for number in groups for cause in network.groups[number]]
        part = Component(
            groups=_numbered([network.groups[number] for number in groups]),
            none=network.none[groups],
            shows=present.shows[np.ix_(rows, columns)],
        )
        distinct, back = _distinct(np.concatenate([weight[:, columns], leak[:, rows]], axis=1))
        weights, leaks = np.split(distinct.T, [len(columns)])
        answer, logs, error = _solve(part, weights, leaks, most_width, only_evidence, most_work)
        probability[:, columns] = answer.T[back]
        log_evidence += logs[back]
        bound = max(bound, error)
    return Posterior(probability, log_evidence, bound)


def _parts(network: BeliefNetwork, present: Rows) -> tuple[set[int], list[tuple[list[int], list[int]]]]:
    """The connected parts: groups, and the present findings (rows) that couple them."""
    touching = [set(network.group_of[np.nonzero(shows)[0]].tolist()) for shows in present.shows]
    parts: list[tuple[set[int], list[int]]] = []
    for row, groups in enumerate(touching):
        joined: tuple[set[int], list[int]] = (set(groups), [row])
        apart = []
        for other in parts:
            if other[0] & joined[0]:
                joined = (joined[0] | other[0], other[1] + joined[1])
            else:
                apart.append(other)
        parts = [*apart, joined]
    coupled = set().union(*touching) if touching else set()
    return coupled, [(sorted(groups), sorted(rows)) for groups, rows in parts]


def _distinct(scenarios: Array) -> tuple[Array, list[int]]:
    """The rows that differ, and for each row which of them it is: most scenarios are alike in most parts."""
    places: dict[bytes, int] = {}
    back = [places.setdefault(row.tobytes(), len(places)) for row in scenarios]
    first = np.searchsorted(np.maximum.accumulate(back), np.arange(len(places)))
    return scenarios[first], back


def _numbered(groups: Sequence[tuple[int, ...]]) -> tuple[tuple[int, ...], ...]:
    """The same groups over columns 0, 1, 2 ... in order."""
    start = 0
    renumbered = []
    for group in groups:
        renumbered.append(tuple(range(start, start + len(group))))
        start += len(group)
    return tuple(renumbered)


def _solve(
    part: Component, weight: Array, leak: Array, most_width: int, only_evidence: bool, most_work: int
) -> tuple[Array, Array, float]:
    """The part under each scenario, with weights (causes, K) and leaks (findings, K)."""
    scenarios = weight.shape[1]
    if _fits(part.turns, most_width) and part.turns.cells * scenarios <= max(most_work, part.turns.cells):
        at_once = max(1, MOST_CELLS // max(1, part.turns.tables))
        portions = [slice(start, start + at_once) for start in range(0, scenarios, at_once)]
        solved = [joint(part, weight[:, some], leak[:, some], only_evidence) for some in portions]
        return np.concatenate([one for one, _ in solved], axis=1), np.concatenate([log for _, log in solved]), 0.0
    probability, logs = estimated(part, weight, leak)
    if scenarios > 1 or part.turns.width > most_width + WORTH_BOUNDING:
        return probability, logs, NO_BOUND
    bottom, top, log_bottom, log_top = _bounds(part, weight, leak, most_width, only_evidence)
    logs = np.clip(logs, log_bottom, log_top)
    if only_evidence:
        return bottom, logs, 0.0
    probability = np.clip(probability, bottom, top)
    return probability, logs, float(np.max(np.maximum(top - probability, probability - bottom)))


def _fits(turns: Turns, most_width: int) -> bool:
    return turns.width <= most_width and turns.tables <= MOST_CELLS


def _bounds(
    part: Component, weight: Array, leak: Array, most_width: int, only_evidence: bool
) -> tuple[Array, Array, Array, Array]:
    """The least and the most that each probability can be, and the logarithm of the evidence."""
    trimmed, open_leak = _trimmed(part, leak, most_width)
    low, low_log = joint(trimmed, weight, leak, only_evidence)
    high, high_log = joint(trimmed, weight, open_leak, only_evidence)
    # The joint of each cause lies between; its probability is least with the most of all that it excludes.
    shift = np.exp(low_log - high_log)
    bottom = low * shift / np.maximum(low * shift + (1 - high), 1e-300)
    top = high / np.maximum(high + (1 - low) * shift, 1e-300)
    return bottom, top, low_log, high_log


def _trimmed(part: Component, leak: Array, most_width: int) -> tuple[Component, Array]:
    """The part with its weakest links cut until it is narrow enough, as if they were never there; and the leaks that
    make it as if they were always open."""
    rows, columns = np.nonzero(part.shows)
    weakest = np.argsort(part.shows[rows, columns], kind="stable")

    def cut(links: int) -> Component:
        shows = part.shows.copy()
        shows[rows[weakest[:links]], columns[weakest[:links]]] = 0
        return Component(part.groups, part.none, shows)

    links = bisect.bisect_left(range(len(rows)), True, key=lambda links: _fits(cut(links).first_turns, most_width))
    open_leak = leak.copy()
    for row, column in zip(rows[weakest[:links]], columns[weakest[:links]], strict=True):
        open_leak[row] = 1 - (1 - open_leak[row]) * (1 - part.shows[row, column])
    return cut(links), open_leak
