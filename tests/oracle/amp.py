"""How the amp stands after a log, as somebody would know it who stood beside the bench. What is not known is taken at
its most dangerous: an amp that nothing is said of is plugged in and charged."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.log import (
    CANT_TELL,
    NOT_THIS_AMP,
    Answer,
    HoldAnswered,
    LogEntry,
    Reading,
    RepairDone,
)

Mains = Literal["none", "limited", "full"]
Numbered = tuple[int, LogEntry]


@dataclass
class Amp:
    """unplugged: the plug lies in sight. bled: every filter node was read below the limit, and no power since. led: the
    power that a move led to and that still is there; 'none' for a power that nothing led to. prepared: for what hands
    were in the chassis before that power. stepped: the checks of the way to full mains that were told since the amp
    came, or since work after which it is gone anew."""

    unplugged: bool = False
    bled: bool = False
    led: Mains = "none"
    hot: bool = False
    prepared: set[str] = field(default_factory=set)
    stepped: set[str] = field(default_factory=set)

    @property
    def safe_inside(self) -> bool:
        return self.unplugged and self.bled

    def unknown(self) -> None:
        self.unplugged = self.bled = False
        self.led = "none"


def hands_of(work: model.Work) -> model.Hands:
    """Where the hands go; of an entry that does not say it, what its stage of work allows at most."""
    return work.hands or ("inside" if work.stage == "cold" else "outside")


def work_of(base: KnowledgeBase, entry: LogEntry) -> model.Work | None:
    """The check or repair that an entry tells of; None for one that is no work on the amp, or that nobody knows."""
    if isinstance(entry, Answer | Reading):
        if isinstance(entry, Answer) and entry.answer == NOT_THIS_AMP:
            return None
        return base.checks.get(entry.check)
    return base.repairs.get(entry.repair) if isinstance(entry, RepairDone) else None


def power_for(stage: model.Stage) -> Mains:
    """How a stage of work under power is fed."""
    return "limited" if stage == "first power" else "full"


def moves_of(base: KnowledgeBase) -> Mapping[str, model.Hold]:
    """What says how the amp stands: its moves or, on a small base without any, its standing holds."""
    return base.moves or {hold.id: hold for hold in base.holds.values() if hold.standing}


def move_to(base: KnowledgeBase, stage: str) -> model.Hold | None:
    """The move that leads to a stage of work; that to play is the one to live."""
    stage = "live" if stage == "play" else stage
    return next((move for move in moves_of(base).values() if move.blocks == stage), None)


def volts_missing(move: model.Hold, entry: HoldAnswered, nodes: Iterable[str]) -> str:
    """What is wrong with the volts typed at a move; '' where they let hands in."""
    if not isinstance(move, model.Move) or move.volts is None:
        return ""
    unread = [node for node in nodes if node not in entry.volts]
    if unread or not entry.volts:
        return f"filter nodes not read: {unread or 'all'}"
    high = {node: volts for node, volts in entry.volts.items() if not abs(volts) < move.volts.below}
    return f"still charged: {high}" if high else ""


def stands(base: KnowledgeBase, entries: Iterable[Numbered], gone: frozenset[int], nodes: Iterable[str] = ()) -> Amp:
    """The amp after these entries. gone: those taken back. What made the amp safe counts no more then; what put it under
    power, or hands in it, was done all the same."""
    amp, nodes = Amp(), tuple(nodes)
    for number, entry in entries:
        if isinstance(entry, HoldAnswered):
            if entry.hold in moves_of(base):
                _moved(amp, moves_of(base)[entry.hold], entry, number in gone, nodes)
            continue
        if (work := work_of(base, entry)) is not None and work.hands != "none":
            _worked(amp, work)
        _steps(base, amp, entry, number in gone)
    return amp


def _moved(amp: Amp, move: model.Hold, entry: HoldAnswered, gone: bool, nodes: tuple[str, ...]) -> None:
    if move.blocks in model.POWERED:
        if not entry.cleared:
            amp.led = "none"
            return
        bled = amp.safe_inside
        amp.unknown()
        amp.hot = True
        if not gone:
            amp.led = "limited" if move.blocks == "first power" else "full"
            amp.prepared = set(entry.prepared) if bled else amp.prepared | set(entry.prepared)
    elif not entry.cleared:
        if move.blocks == "cold":
            amp.bled = False  # a plug that was seen lying there lies there still
        else:
            amp.unknown()
    elif not gone:
        amp.unplugged, amp.led = True, "none"
        amp.hot = False
        if move.blocks == "cold":
            amp.bled = not volts_missing(move, entry, nodes)


def _worked(amp: Amp, work: model.Work) -> None:
    if work.stage in model.POWERED:
        amp.unplugged = amp.bled = False
        amp.hot = True
        if amp.led != power_for(work.stage):
            amp.led = "none"  # out of turn: nobody knows whether the limiter is in
    elif not amp.unplugged and hands_of(work) != "outside":
        amp.unknown()  # hands were in where nobody had made it safe: nobody knows now how it stands


def _steps(base: KnowledgeBase, amp: Amp, entry: LogEntry, gone: bool) -> None:
    way = {check for move in base.moves.values() for check in move.through}
    if isinstance(entry, Answer | Reading) and entry.check in way and not gone and told(entry):
        amp.stepped.add(entry.check)
    if isinstance(entry, RepairDone) and entry.cause in base.causes:
        anew = {area for move in base.moves.values() for area in move.anew_after}
        if base.area_of(entry.cause) in anew:
            amp.stepped.clear()


def told(entry: Answer | Reading) -> bool:
    return not (isinstance(entry, Answer) and entry.answer == CANT_TELL)


def checks_told(base: KnowledgeBase, entries: Iterable[Numbered]) -> Iterator[tuple[str, int, bool]]:
    """Each check that was answered, with its entry and whether that told anything."""
    for number, entry in entries:
        if isinstance(entry, Answer) and entry.check in base.checks:
            known = entry.answer in (CANT_TELL, NOT_THIS_AMP) or entry.answer in base.checks[entry.check].answers
            if known:
                yield entry.check, number, told(entry)
        elif isinstance(entry, Reading) and entry.check in base.checks:
            yield entry.check, number, not base.checks[entry.check].readings.keys().isdisjoint(entry.values)
