"""How probable each cause is, exactly, with several faults at once.

The model. Causes stand in groups; in a group at most one is true, and groups are independent beforehand. A
finding is a noisy-OR of its causes with a leak: each cause that is true shows it with its own probability,
independently, and the leak shows it besides.

The sum. Findings that are absent multiply each cause's weight by the probability of not showing them, and
couple nothing. Findings that are present couple the groups that can show them. The sum over all combinations
of causes is taken as a sum over subsets of the present findings that are already shown (Heckerman's Quickscore,
UAI 1989, from memory, regrouped): group by group, a table over those subsets is updated. Where Quickscore adds
and subtracts 2^n terms, every term here is positive, so there is no cancellation and the last digits hold. A
finding leaves the table after the last group that can show it, so the cost is set by the number of findings
open at one time (the width), not by how many there are; unconnected parts are summed apart.

Beyond MOST_WIDTH open findings the weakest links are bounded instead of summed: taken as absent for a lower and
as always open for an upper bound of every joint probability. The result then carries `bound`, the widest half
interval of any cause; it is zero whenever the answer is exact.
"""

from __future__ import annotations

import bisect
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
MOST_WIDTH = 15
MOST_CELLS = 8_000_000  # of the tables kept at one time; scenarios are taken in portions that fit


@dataclass(frozen=True)
class Network:
    """Causes 0..C-1: `prior` (C,) and `groups`, a partition of the causes. A group's priors sum below 1,
    or to 1 when one of its causes is certain to be there."""

    prior: Array
    groups: tuple[tuple[int, ...], ...]

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

    def totals(self, weight: Array) -> Array:
        """Weights (K, C) summed by group; shape (K, groups)."""
        order = np.argsort(self.group_of, kind="stable")
        starts = np.searchsorted(self.group_of[order], np.arange(len(self.groups)))
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
    the probability of the evidence (with a scenario's factors as given). bound: half the widest interval of any
    probability; 0 when exact."""

    probability: Array
    log_evidence: Array
    bound: float


def infer(
    network: Network,
    present: Rows,
    absent: Rows | None = None,
    factors: Array | None = None,
    most_width: int = MOST_WIDTH,
    only_evidence: bool = False,
) -> Posterior:
    """The posterior of every cause.

    factors: (K, C), one row a scenario, multiplies the odds of each cause against its absence (from rules, from
    readings, or from further absent findings); default one row of ones. only_evidence: leave the probabilities out,
    which are more than half of the work; they are then NaN.
    """
    causes = len(network.prior)
    factors = np.ones((1, causes)) if factors is None else np.atleast_2d(factors)
    absent = absent or Rows.none(causes)
    weight = network.prior * factors * np.prod(1 - absent.shows, axis=0)
    none = np.maximum(0.0, 1 - network.totals(network.prior[None, :])[0])
    log_evidence = np.full(len(factors), float(np.sum(np.log1p(-absent.leak))))

    leak = np.broadcast_to(present.leak, (len(factors), len(present.shows)))
    bound = 0.0
    coupled, parts = _parts(network, present)
    totals = none + network.totals(weight)
    probability = weight / totals[:, network.group_of]
    alone = [number for number in range(len(network.groups)) if number not in coupled]
    log_evidence += np.log(totals[:, alone]).sum(axis=1)
    for groups, rows in parts:
        columns = [cause for number in groups for cause in network.groups[number]]
        scenarios = np.concatenate([weight[:, columns], leak[:, rows]], axis=1)
        distinct, back = np.unique(scenarios, axis=0, return_inverse=True)
        back = back.reshape(-1)
        part = _Part(
            groups=_numbered([network.groups[number] for number in groups]),
            none=none[list(groups)],
            shows=present.shows[np.ix_(rows, columns)],
        )
        weights, leaks = distinct[:, : len(columns)], distinct[:, len(columns) :]
        answer, logs, error = _solve(part, weights, leaks, most_width, only_evidence)
        probability[:, columns] = answer[back]
        log_evidence += logs[back]
        bound = max(bound, error)
    return Posterior(probability, log_evidence, bound)


def _parts(network: Network, present: Rows) -> tuple[set[int], list[tuple[list[int], list[int]]]]:
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


def _numbered(groups: Sequence[tuple[int, ...]]) -> tuple[tuple[int, ...], ...]:
    """The same groups over columns 0, 1, 2 ... in order."""
    start = 0
    renumbered = []
    for group in groups:
        renumbered.append(tuple(range(start, start + len(group))))
        start += len(group)
    return tuple(renumbered)


@dataclass(frozen=True)
class _Part:
    groups: tuple[tuple[int, ...], ...]
    none: Array
    shows: Array

    @cached_property
    def touched(self) -> tuple[frozenset[int], ...]:
        """For each group, the findings that it can show."""
        starts = [group[0] for group in self.groups]
        shown = np.logical_or.reduceat(self.shows > 0, starts, axis=1)
        return tuple(frozenset(np.flatnonzero(column).tolist()) for column in shown.T)


def _solve(
    part: _Part, weight: Array, leak: Array, most_width: int, only_evidence: bool
) -> tuple[Array, Array, float]:
    """The part under each scenario, with weights (K, causes) and leaks (K, findings)."""
    order, width = _order(part)
    if width <= most_width:
        at_once = max(1, MOST_CELLS // (2**width * max(1, len(part.groups))))
        pieces = []
        for start in range(0, len(weight), at_once):
            some = slice(start, start + at_once)
            pieces.append(_normalised(part, *_joint(part, weight[some], leak[some], order, only_evidence)))
        return np.concatenate([piece[0] for piece in pieces]), np.concatenate([piece[1] for piece in pieces]), 0.0
    trimmed, open_leak = _trimmed(part, leak, most_width)
    order = _order(trimmed)[0]
    low, low_log = _joint(trimmed, weight, leak, order, only_evidence)
    high, high_log = _joint(trimmed, weight, open_leak, order, only_evidence)
    if only_evidence:
        return np.full(weight.shape, np.nan), (low_log + high_log) / 2, 0.0
    return _between(part, (low, low_log), (high, high_log))


_Joints = tuple[list[Array], Array]


def _between(part: _Part, low: _Joints, high: _Joints) -> tuple[Array, Array, float]:
    """Each cause's probability from bounds of the joints: middle and half width of the interval."""
    shift = np.exp(low[1] - high[1])[:, None]
    size = sum(len(group) for group in part.groups)
    middle = np.zeros((len(shift), size))
    half = 0.0
    for group, joint_low, joint_high in zip(part.groups, low[0], high[0], strict=True):
        at_least = joint_low * shift
        rest_least = at_least.sum(axis=1, keepdims=True) - at_least
        rest_most = joint_high.sum(axis=1, keepdims=True) - joint_high
        bottom = at_least / np.maximum(at_least + rest_most, 1e-300)
        top = joint_high / np.maximum(joint_high + rest_least, 1e-300)
        middle[:, group] = ((bottom + top) / 2)[:, 1:]
        half = max(half, float(np.max((top - bottom)[:, 1:] / 2)))
    return middle, (low[1] + high[1]) / 2, half


def _trimmed(part: _Part, leak: Array, most_width: int) -> tuple[_Part, Array]:
    """The part with its weakest links cut until it is narrow enough, as if they were never there; and the leaks that
    make it as if they were always open."""
    rows, columns = np.nonzero(part.shows)
    weakest = np.argsort(part.shows[rows, columns], kind="stable")

    def cut(links: int) -> _Part:
        shows = part.shows.copy()
        shows[rows[weakest[:links]], columns[weakest[:links]]] = 0
        return _Part(part.groups, part.none, shows)

    links = bisect.bisect_left(range(len(rows)), True, key=lambda links: _order(cut(links))[1] <= most_width)
    open_leak = leak.copy()
    for row, column in zip(rows[weakest[:links]], columns[weakest[:links]], strict=True):
        open_leak[:, row] = 1 - (1 - open_leak[:, row]) * (1 - part.shows[row, column])
    return cut(links), open_leak


def _order(part: _Part) -> tuple[list[int], int]:
    """An order of the groups that keeps few findings open, and the most that are open at once.

    Groups that touch the same findings go together: after the first, the others open nothing.
    """
    waiting: dict[frozenset[int], list[int]] = {}
    for group, rows in enumerate(part.touched):
        waiting.setdefault(rows, []).append(group)
    left = Counter(row for rows in waiting for row in rows)
    opened: set[int] = set()
    order: list[int] = []
    width = 0

    def cost(rows: frozenset[int]) -> tuple[int, int, int]:
        closing = sum(left[row] == 1 for row in rows)
        opening = len(rows - opened)
        return opening - closing, opening, waiting[rows][0]

    while waiting:
        near = [rows for rows in waiting if rows & opened] or list(waiting)
        chosen = min(near, key=cost)
        order += waiting.pop(chosen)
        opened |= chosen
        width = max(width, len(opened))
        left.subtract(chosen)
        opened = {row for row in opened if left[row]}
    return order, width


@dataclass(frozen=True)
class _Step:
    """One group's turn: the findings that enter the table before it and those that leave after it."""

    group: int
    entering: tuple[int, ...]
    axes: dict[int, int]  # finding -> axis of the table during the turn
    leaving: tuple[int, ...]


def _steps(part: _Part, order: Sequence[int]) -> Iterator[_Step]:
    last = {row: place for place, group in enumerate(order) for row in part.touched[group]}
    open_rows: list[int] = []
    for place, group in enumerate(order):
        entering = tuple(row for row in sorted(part.touched[group]) if row not in open_rows)
        open_rows += entering
        leaving = tuple(row for row in open_rows if last[row] == place)
        yield _Step(group, entering, {row: axis + 1 for axis, row in enumerate(open_rows)}, leaving)
        open_rows = [row for row in open_rows if row not in leaving]


def _joint(
    part: _Part, weight: Array, leak: Array, order: Sequence[int], only_evidence: bool = False
) -> tuple[list[Array], Array]:
    """For each group, the joint weights (K, 1 + causes) of 'none' and each cause with all findings present, up to
    a common factor a scenario; and the logarithm (K,) of the evidence.

    Every group's weights are first scaled to sum to 1, so that the tables only shrink, and only as findings leave.
    """
    scenarios = len(weight)
    totals = np.empty((scenarios, len(part.groups)))
    for g, group in enumerate(part.groups):
        totals[:, g] = part.none[g] + weight[:, group].sum(axis=1)
    totals[totals <= 0] = 1.0
    logs = np.log(totals).sum(axis=1)
    untouched = [row for row in range(len(part.shows)) if not part.shows[row].any()]
    logs += np.log(leak[:, untouched]).sum(axis=1)
    steps = list(_steps(part, order))
    shares: list[list[Array]] = [
        [part.none[g] / totals[:, g], *(weight[:, cause] / totals[:, g] for cause in group)]
        for g, group in enumerate(part.groups)
    ]
    table = np.ones(scenarios)
    before: list[Array] = []
    for step in steps:
        for row in step.entering:
            open_ = _wide(leak[:, row], table)
            table = np.stack([table * (1 - open_), table * open_], axis=-1)
        before.append(table)
        none, *ours = shares[step.group]
        after = _wide(none, table) * table
        for cause, share in zip(part.groups[step.group], ours, strict=True):
            after += _wide(share, table) * _shown(part, cause, step, table)
        for row in sorted(step.leaving, key=lambda row: -step.axes[row]):
            after = np.take(after, 1, axis=step.axes[row])
        if step.leaving:
            peak = after.reshape(scenarios, -1).max(axis=1)
            peak[peak <= 0] = 1.0
            logs += np.log(peak)
            after /= _wide(peak, after)
        table = after
    if only_evidence:
        return [np.full((scenarios, 1 + len(group)), np.nan) for group in part.groups], logs

    joints: list[Array] = [np.zeros(0)] * len(part.groups)
    back = np.ones(scenarios)
    for step, table in zip(reversed(steps), reversed(before), strict=True):
        for row in sorted(step.leaving, key=lambda row: step.axes[row]):
            back = np.stack([np.zeros_like(back), back], axis=step.axes[row])
        rests = [back, *(_unshown(part, cause, step, back) for cause in part.groups[step.group])]
        sums = [(table * rest).reshape(scenarios, -1).sum(axis=1) for rest in rests]
        joint = np.stack([share * sum_ for share, sum_ in zip(shares[step.group], sums, strict=True)], axis=1)
        joints[step.group] = joint / np.maximum(joint.sum(axis=1, keepdims=True), 1e-300)
        back = np.zeros_like(back)
        for share, rest in zip(shares[step.group], rests, strict=True):
            back += _wide(share, back) * rest
        for row in reversed(step.entering):
            open_ = _wide(leak[:, row], back[..., 0])
            back = back[..., 0] * (1 - open_) + back[..., 1] * open_
        if step.leaving:
            peak = back.reshape(scenarios, -1).max(axis=1)
            peak[peak <= 0] = 1.0
            back /= _wide(peak, back)
    return joints, logs


def _normalised(part: _Part, joints: list[Array], logs: Array) -> tuple[Array, Array]:
    probability = np.zeros((len(logs), sum(len(group) for group in part.groups)))
    for group, joint in zip(part.groups, joints, strict=True):
        probability[:, group] = joint[:, 1:]
    return probability, logs


def _wide(values: Array, table: Array) -> Array:
    """Per-scenario values shaped to multiply a table (K, 2, 2, ...)."""
    return values.reshape((-1,) + (1,) * (table.ndim - 1))


def _shown(part: _Part, cause: int, step: _Step, table: Array) -> Array:
    """The table after a cause that is true has shown what it shows: each open finding it touches is added to the
    subset with its probability."""
    table = table.copy()
    for often, bare, shown in _halves(part, cause, step, table):
        shown += bare * often
        bare *= 1 - often
    return table


def _unshown(part: _Part, cause: int, step: _Step, back: Array) -> Array:
    """The same step backwards (its transpose)."""
    back = back.copy()
    for often, bare, shown in _halves(part, cause, step, back):
        bare *= 1 - often
        bare += shown * often
    return back


def _halves(part: _Part, cause: int, step: _Step, table: Array) -> Iterator[tuple[float, Array, Array]]:
    """For each finding that a cause shows: how often, and the table's halves (views) without and with it."""
    for row in part.touched[step.group]:
        often = float(part.shows[row, cause])
        if often:
            bare, shown = table.swapaxes(0, step.axes[row])
            yield often, bare, shown
