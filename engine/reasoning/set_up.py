"""How the amp stands on the bench: plugged in or not, bled or not, on the limiter or on full mains, and what hands did
in it before the power came. What is not known is taken at its most dangerous: an amp is charged and plugged in until
somebody says otherwise, and every entry of work under power makes it so again, even one that was taken back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from .log import NOT_THIS_AMP, Answer, HoldAnswered, Log, LogEntry, Reading, RepairDone, Undone

INSIDE = ("inside", "clip-on", "iron")


@dataclass(frozen=True)
class SetUp:
    """How the amp stands. stage: of work, '' while nothing is known. answered: the standing holds that were answered
    since the amp last moved on; false for one answered no, or whose volts are too high. volts: what the filter nodes
    read at the last bleeding. prepared: checks and repairs for which hands were inside before this power. powered:
    whether it ever was under power on this job."""

    stage: model.Stage | Literal[""] = ""
    answered: Mapping[str, bool] = field(default_factory=dict)
    volts: Mapping[str, float] = field(default_factory=dict)
    prepared: frozenset[str] = frozenset()
    powered: bool = False

    @property
    def live(self) -> bool:
        """Whether the amp may be plugged in."""
        return self.stage not in ("look", "cold")


def hands_inside(work: model.Work) -> bool:
    """Whether hands go into the chassis for it, before or during. An entry that does not say is judged by its stage."""
    return work.hands in INSIDE if work.hands is not None else work.stage == "cold"


def prepared_first(work: model.Work) -> bool:
    """Whether it is done under power after hands were inside."""
    return work.stage in model.POWERED and hands_inside(work)


def is_cleared(hold: model.Hold, entry: HoldAnswered) -> bool:
    """Whether an answer to a hold opens the way: yes was said, and where volts are asked for, all were read and low."""
    wanted = hold.volts if isinstance(hold, model.Move) else None
    low = wanted is None or (bool(entry.volts) and all(abs(volts) < wanted.below for volts in entry.volts.values()))
    return entry.cleared and low


def work_of(base: KnowledgeBase, entry: LogEntry) -> model.Work | None:
    """The check or repair that an entry is work of; None for one that needs no work on the amp."""
    if isinstance(entry, RepairDone):
        return base.repairs.get(entry.repair)
    if isinstance(entry, Answer) and entry.answer == NOT_THIS_AMP:
        return None
    return base.checks.get(entry.check) if isinstance(entry, Answer | Reading) else None


def set_up_of(base: KnowledgeBase, log: Log) -> SetUp:
    """How the amp stands after a log."""
    gone = {entry.number for number, entry in enumerate(log, 1) if isinstance(entry, Undone) and entry.number < number}
    now = _Reading(base)
    for number, entry in enumerate(log, 1):
        now.take(entry, taken_back=number in gone)
    return SetUp(now.stage, now.answered, now.volts, now.prepared, now.powered)


class _Reading:
    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base
        self.stage: model.Stage | Literal[""] = ""
        self.answered: dict[str, bool] = {}
        self.volts: Mapping[str, float] = {}
        self.prepared: frozenset[str] = frozenset()
        self.powered = False

    def take(self, entry: LogEntry, taken_back: bool) -> None:
        if isinstance(entry, HoldAnswered):
            hold = self.base.holds.get(entry.hold)
            if hold is not None and hold.standing:
                self._moved(hold, entry, taken_back)
            return
        work = work_of(self.base, entry)
        if work is None:
            return
        if work.stage in model.POWERED:
            self._other_power_ends(work.stage)
            self._under_power(work.stage)
        elif not taken_back and hands_inside(work):
            self._lapse(powered=True)  # worked on: to be made ready for power anew
            self.stage = "cold" if self.stage in ("look", "cold") else self.stage

    def _moved(self, hold: model.Hold, entry: HoldAnswered, taken_back: bool) -> None:
        cleared = is_cleared(hold, entry)
        if hold.blocks in model.POWERED:
            if taken_back and not cleared:
                return
            if cleared:
                if self.stage == "cold":
                    self.prepared = frozenset(entry.prepared)
                if isinstance(hold, model.Move):
                    self._other_power_ends(hold.blocks)
                self._under_power(hold.blocks)
            if not taken_back:
                self.answered[hold.id] = cleared
            return
        if taken_back:
            return
        self.volts = entry.volts or self.volts
        self.answered[hold.id] = cleared
        if cleared:
            self._lapse(powered=True)
            if hold.blocks == "cold" or self.stage != "cold":
                self.stage = hold.blocks
        elif hold.blocks == "cold" and self.stage == "cold":
            self.stage = "look"

    def _other_power_ends(self, stage: model.Stage) -> None:
        """The limiter is in, or it is out: what led to the other power holds no more, even after work out of turn."""
        for id_ in list(self.answered):
            move = self.base.moves.get(id_)
            powered = move is not None and move.blocks in model.POWERED
            if move is not None and powered and (move.blocks == "first power") != (stage == "first power"):
                del self.answered[id_]

    def _under_power(self, stage: model.Stage) -> None:
        self.stage, self.powered = stage, True
        self._lapse(powered=False)

    def _lapse(self, powered: bool) -> None:
        """Standing holds hold only as long as the amp stays as it is."""
        for id_ in list(self.answered):
            if (self.base.holds[id_].blocks in model.POWERED) == powered:
                del self.answered[id_]
        if powered:
            self.prepared = frozenset()
