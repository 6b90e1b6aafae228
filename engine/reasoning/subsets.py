"""The sum over all combinations of causes, as a sum over subsets of the present findings that are already shown
(Heckerman's Quickscore, UAI 1989, from memory, regrouped).

Group by group, a table over those subsets is updated. Where Quickscore adds and subtracts 2^n terms, every term here
is positive, so there is no cancellation and the last digits hold. A finding leaves the table after the last group that
can show it, so the cost is set by the number of findings open at one time (the width), not by how many there are.

A group that can show only one of the findings needs no turn at the table: all such groups of a finding are to the
others what a leak is, and are counted into it. What each of them has to do with it is told afterwards, from how
probable all the rest is with the finding shown already and not.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .turns import Turns, turns

Array = NDArray[np.float64]
_TINY = 1e-300


@dataclass(frozen=True)
class Component:
    """Groups and the present findings that couple them. groups: the columns of each; none (G,): how probable it is
    beforehand that none of a group's causes is there; shows (R, C)."""

    groups: tuple[tuple[int, ...], ...]
    none: Array
    shows: Array

    @cached_property
    def touched(self) -> tuple[frozenset[int], ...]:
        """For each group, the findings that it can show."""
        starts = [group[0] for group in self.groups]
        shown = np.logical_or.reduceat(self.shows > 0, starts, axis=1)
        return tuple(frozenset(np.flatnonzero(column).tolist()) for column in shown.T)

    @cached_property
    def lone(self) -> Mapping[int, _LoneGroups]:
        """For each finding, the groups that can show it and no other."""
        found = defaultdict(list)
        for group, rows in enumerate(self.touched):
            if len(rows) == 1:
                found[min(rows)].append(group)
        lone = {}
        for row, groups in found.items():
            columns = [cause for group in groups for cause in self.groups[group]]
            sizes = [len(self.groups[group]) for group in groups]
            lone[row] = _LoneGroups(groups, columns, sizes, np.cumsum([0, *sizes[:-1]]), self.shows[row, columns, None])
        return lone

    @cached_property
    def turns(self) -> Turns:
        """The order of the other groups, and what it costs."""
        return turns(self.touched, tuple(len(group) for group in self.groups))

    @property
    def first_turns(self) -> Turns:
        """An order that is quickly found."""
        return turns(self.touched, tuple(len(group) for group in self.groups), trying=False)

    @cached_property
    def steps(self) -> tuple[_Step, ...]:
        """The order, turn by turn."""
        order = self.turns.groups
        last = {row: place for place, group in enumerate(order) for row in self.touched[group]}
        opened: list[int] = []
        steps = []
        for place, group in enumerate(order):
            entering = tuple(row for row in sorted(self.touched[group]) if row not in opened)
            opened = [*reversed(entering), *opened]
            axes = {row: axis for axis, row in enumerate(opened)}
            leaving = tuple(row for row in opened if last[row] == place)
            shown = tuple(
                tuple((axes[row], float(self.shows[row, cause])) for row in opened if self.shows[row, cause])
                for cause in self.groups[group]
            )
            steps.append(_Step(group, entering, shown, tuple(axes[row] for row in leaving)))
            opened = [row for row in opened if row not in leaving]
        return tuple(steps)


@dataclass(frozen=True)
class _LoneGroups:
    """Groups that can show one finding only: their numbers, the columns of all their causes, how many each has, where
    each begins, and how often each cause shows the finding (causes, 1)."""

    groups: list[int]
    columns: list[int]
    sizes: list[int]
    starts: NDArray[np.intp]
    often: Array


@dataclass(frozen=True)
class _Step:
    """One group's turn: the findings that enter the table before it, each on a new first axis; for each cause, the axis
    of each finding it shows, and how often; and the axes that leave after it."""

    group: int
    entering: tuple[int, ...]
    shown: tuple[tuple[tuple[int, float], ...], ...]
    leaving: tuple[int, ...]


def joint(part: Component, weight: Array, leak: Array, only_evidence: bool = False) -> tuple[Array, Array]:
    """Each cause's probability (C, K) with all findings present, for weights (C, K) and leaks (R, K) of K scenarios;
    and the logarithm (K,) of the evidence. only_evidence: leave the probabilities out; they are then NaN.

    Every group's weights are first scaled to sum to 1, so that the tables only shrink, and only as findings leave.
    """
    starts = [group[0] for group in part.groups]
    totals = part.none[:, None] + np.add.reduceat(weight, starts, axis=0)
    totals[totals <= 0] = 1.0
    share = weight / np.repeat(totals, [len(group) for group in part.groups], axis=0)
    none = part.none[:, None] / totals
    logs = np.log(totals).sum(axis=0)
    lone = _Lone(part, share, leak)
    tables = _Tables(part, none, share, lone.leak)
    open_ = {row for rows in part.touched if len(rows) > 1 for row in rows}
    logs += tables.logs + np.log(lone.leak[[row for row in range(len(leak)) if row not in open_]]).sum(axis=0)
    if only_evidence:
        return np.full(weight.shape, np.nan), logs
    probability = share.copy()  # as it stays for a group that can show none of them
    lone.tell(none, tables.backward(probability), probability)
    return probability, logs


class _Lone:
    """The groups that can show one finding only, counted into its leak."""

    def __init__(self, part: Component, share: Array, leak: Array) -> None:
        self.part, self.share, self.leak = part, share, leak.copy()
        self.silent: dict[int, Array] = {}  # by finding, for each group: the log of how probable it is that all
        # other groups and the leak leave it unshown
        with np.errstate(divide="ignore"):  # what is certain to show leaves no chance that it is not shown
            for row, lone in part.lone.items():
                ours = np.add.reduceat(share[lone.columns] * lone.often, lone.starts, axis=0)
                each = np.log1p(-np.minimum(1.0, np.concatenate([leak[row][None, :], ours])))
                self.leak[row] = -np.expm1(each.sum(axis=0))
                before, after = np.cumsum(each, axis=0), np.cumsum(each[:0:-1], axis=0)[::-1]
                self.silent[row] = before[:-1] + np.concatenate([after[1:], np.zeros((1, len(leak[row])))])

    def tell(self, none: Array, with_it: Mapping[int, tuple[Array, Array]], probability: Array) -> None:
        """Sets the probabilities of their causes. with_it: by finding, how probable the rest is, up to a common
        factor, while it is not shown yet and once it is; a finding that is left out is all that there is."""
        for row, lone in self.part.lone.items():
            bare, shown = with_it.get(row, (0.0, 1.0))
            unless_ours = bare * np.exp(self.silent[row]) - shown * np.expm1(self.silent[row])
            kept = np.repeat(unless_ours, lone.sizes, axis=0) * (1 - lone.often) + shown * lone.often
            ours = self.share[lone.columns] * kept
            total = none[lone.groups] * unless_ours + np.add.reduceat(ours, lone.starts, axis=0)
            probability[lone.columns] = ours / np.repeat(np.maximum(total, _TINY), lone.sizes, axis=0)


class _Tables:
    """The groups that can show several findings, in turn. A table has an axis of two for each open finding, not shown
    and shown, and the scenarios last."""

    def __init__(self, part: Component, none: Array, share: Array, leak: Array) -> None:
        self.part, self.none, self.share, self.leak = part, none, share, leak
        self.logs = np.zeros(leak.shape[1])
        self.entered: list[Array] = []  # the table before each finding enters
        self.before: list[Array] = []  # the table before each group's turn
        table = np.ones(leak.shape[1])
        for step in part.steps:
            for row in step.entering:
                self.entered.append(table)
                table = np.stack([table * (1 - leak[row]), table * leak[row]])
            self.before.append(table)
            after = none[step.group] * table
            for cause, shown in zip(part.groups[step.group], step.shown, strict=True):
                after += share[cause] * _shown(table, shown)
            for axis in reversed(step.leaving):
                after = after.take(1, axis=axis)
            if step.leaving:
                peak = _peak(after)
                self.logs += np.log(peak)
                after /= peak
            table = after

    def backward(self, probability: Array) -> Mapping[int, tuple[Array, Array]]:
        """Sets the probabilities of their causes, and tells for each finding how probable the rest is, up to a common
        factor, while it is not shown yet and once it is."""
        with_it: dict[int, tuple[Array, Array]] = {}
        back = np.ones(len(self.logs))
        entered = iter(reversed(self.entered))
        for step, table in zip(reversed(self.part.steps), reversed(self.before), strict=True):
            for axis in step.leaving:
                back = np.stack([np.zeros_like(back), back], axis=axis)
            none, causes = self.none[step.group], list(self.part.groups[step.group])
            rests = [_unshown(back, shown) for shown in step.shown]
            ours = np.array([self.share[c] * _sum(table * rest) for c, rest in zip(causes, rests, strict=True)])
            probability[causes] = ours / np.maximum(none * _sum(table * back) + ours.sum(axis=0), _TINY)
            back = none * back
            for cause, rest in zip(causes, rests, strict=True):
                back += self.share[cause] * rest
            for row in reversed(step.entering):
                bare, shown = back
                without = next(entered)
                with_it[row] = _sum(without * bare), _sum(without * shown)
                back = bare * (1 - self.leak[row]) + shown * self.leak[row]
            if step.leaving:
                back /= _peak(back)
        return with_it


def _sum(table: Array) -> Array:
    return np.asarray(table.reshape(-1, table.shape[-1]).sum(axis=0))


def _peak(table: Array) -> Array:
    peak = table.reshape(-1, table.shape[-1]).max(axis=0)
    peak[peak <= 0] = 1.0
    return np.asarray(peak)


def _shown(table: Array, shows: Sequence[tuple[int, float]]) -> Array:
    """The table after a cause that is true has shown what it shows: each open finding it touches is added to the
    subset with its probability."""
    table = table.copy()
    for often, bare, shown in _halves(table, shows):
        shown += bare * often
        bare *= 1 - often
    return table


def _unshown(back: Array, shows: Sequence[tuple[int, float]]) -> Array:
    """The same step backwards (its transpose)."""
    back = back.copy()
    for often, bare, shown in _halves(back, shows):
        bare *= 1 - often
        bare += shown * often
    return back


def _halves(table: Array, shows: Sequence[tuple[int, float]]) -> Iterator[tuple[float, Array, Array]]:
    """For each finding that a cause shows: how often, and the table's halves (views) without and with it."""
    for axis, often in shows:
        bare, shown = table.swapaxes(0, axis)
        yield often, bare, shown
