"""What a ranking of faults says, in the form that a belief over causes takes in.

A fault of the best set stands in a stage that is off: one more thing that asks for an explanation, which that fault
gives, or any other that explains the readings in its place. So two faults that each explain them do not add up. Next
to the best set the readings point away from a fault, or leave it as it was, by a factor.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from .rank import Alternatives, FaultRanking

#: No set of readings is believed further than by this factor: the amp may differ from its circuit file.
BOUND = 1000.0
#: The same when the readings fit no fault of the circuit.
POOR_BOUND = 10.0
#: A stage is off when a fault explains the readings this many times better than a good one does; among some hundred
#: faults, one that does a few times better is there by chance.
OFF = 100.0


@dataclass(frozen=True)
class StageOff:
    """A stage whose readings ask for an explanation. leak: how well a good one explains them; explains: how often
    each fault would, above that; both against the fault that does so best."""

    stage: str
    leak: float
    explains: Mapping[str, float]


@dataclass(frozen=True)
class Evidence:
    """off: the stages that ask for an explanation, each once. factors: for each fault, what the readings leave of its
    odds, at most 1; what points to it is in `off`."""

    off: tuple[StageOff, ...]
    factors: Mapping[str, float]


def weigh(found: FaultRanking) -> Evidence:
    """A ranking as evidence, bounded both ways; less far when it explains the readings poorly."""
    depth = math.log(BOUND if found.explained else POOR_BOUND)
    off: dict[str, StageOff] = {}
    leaves = {fault: _lifted(gain, -depth) for fault, gain in found.beside.items()}
    for one in found.alternatives:
        top = max(one.faults.values())
        if one.stage in off or top - one.none < math.log(OFF):
            continue
        off[one.stage] = stage = _stage_off(one, top, depth)
        for fault, share in stage.explains.items():
            leaves[fault] = max(leaves[fault], math.log(max(share, 1e-300)))
    return Evidence(tuple(off.values()), {fault: math.exp(min(0.0, level)) for fault, level in leaves.items()})


def _stage_off(one: Alternatives, top: float, depth: float) -> StageOff:
    leak = math.exp(_lifted(one.none - top, -depth))
    shares = {fault: math.exp(_lifted(value - top, -depth)) for fault, value in one.faults.items()}
    return StageOff(one.stage, leak, {f: max(0.0, min(1.0, (s - leak) / (1.0 - leak))) for f, s in shares.items()})


def _lifted(level: float, floor: float) -> float:
    """A log-likelihood that never falls below a floor, without a corner."""
    top, low = max(level, floor), min(level, floor)
    return top + math.log1p(math.exp(low - top))
