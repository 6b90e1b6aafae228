"""A supply at one load current, as handbooks and ngspice give it."""

from __future__ import annotations

from chopstick.engine.devices.supply import SupplySpec, curve


def printed_level(spec: SupplySpec, load_A: float) -> tuple[float, float, float]:
    """Level (V), ripple peak to peak (V) and peak rectifier current (A) at one load current."""
    found = curve(spec)
    level = found.level(load_A)
    return level, found.at(level, found.ripple_pp_V), found.at(level, found.peak_A)
