"""What somebody who works with care says to a hold or a move."""

from __future__ import annotations

from datetime import datetime

from chopstick.engine.reasoning.log import HoldAnswered
from chopstick.engine.reasoning.nodes import filter_nodes
from chopstick.engine.reasoning.session import Standing
from chopstick.engine.reasoning.steps import Step

BLED = 2.0


def hold_answered(now: Standing, step: Step, at: datetime, cleared: bool = True, volts: float = BLED) -> HoldAnswered:
    """Yes, or no, to a hold or a move; with what each filter node reads where that is asked."""
    entry = HoldAnswered(at=at, hold=step.id, cleared=cleared, prepared=step.prepared)
    move = now.base.moves.get(step.id)
    if move is None or move.volts is None or not cleared:
        return entry
    return entry.model_copy(update={"volts": dict.fromkeys(filter_nodes(now) or ("node_1",), volts)})
