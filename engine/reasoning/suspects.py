"""A fault that the volts read on a job point to: apart from voltages.py, so that what tells of it solves no circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Suspect:
    """A fault of the circuit that the volts point to. predicted: {test point: volts} with it, at the points read. same:
    faults that no reading at any test point tells from it, itself first; checks: what would. causes: it may be."""

    fault: str
    text: str
    stage: str
    probability: float
    predicted: Mapping[str, float]
    same: tuple[str, ...]
    checks: tuple[str, ...]
    causes: tuple[str, ...]
