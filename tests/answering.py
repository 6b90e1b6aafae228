"""What somebody who works with care says to a hold or a move."""

from __future__ import annotations

from datetime import datetime

from chopstick.engine.knowledge import model
from chopstick.engine.reasoning.log import CANT_TELL, HoldAnswered
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


def nothing_wrong(check: model.Check) -> str | dict[str, float]:
    """What a healthy amp shows at a check: the answer that makes nothing true, or readings in a band that does not."""
    plain = [key for key, answer in check.answers.items() if not answer.findings]
    if check.answers:
        return plain[0] if plain else CANT_TELL
    values = {name: sum(reading.plausible) / 2 for name, reading in check.readings.items()}
    for band in check.bands:
        name = band.of or next(iter(check.readings))
        if not band.findings and name in values:
            low = band.above if isinstance(band.above, int | float) else values[name]
            high = band.below if isinstance(band.below, int | float) else low + 1
            values[name] = (low + high) / 2
    return values
