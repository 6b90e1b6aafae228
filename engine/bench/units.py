"""The units of the bench: what each is called, how it is written, and what range is plausible."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Unit:
    """symbol and scale: value x scale is in the SI unit `symbol`; quantity and wanted: as said to people;
    low, high: the range a number may have on a guitar-amplifier bench."""

    symbol: str
    scale: float
    quantity: str
    wanted: str
    low: float
    high: float


UNITS: dict[str, Unit] = {
    "V": Unit("V", 1.0, "a voltage", "volts", -2000.0, 2000.0),
    "mV": Unit("V", 1e-3, "a voltage", "millivolts", -2e6, 2e6),
    "mA": Unit("A", 1e-3, "a current", "milliamperes", -10e3, 10e3),
    "A": Unit("A", 1.0, "a current", "amperes", -100.0, 100.0),
    "ohm": Unit("Ω", 1.0, "a resistance", "ohms", 0.0, 1e12),
    "F": Unit("F", 1.0, "a capacitance", "farads (say 22n or 40u)", 0.0, 0.01),
    "H": Unit("H", 1.0, "an inductance", "henries", 0.0, 1e4),
    "Hz": Unit("Hz", 1.0, "a frequency", "hertz", 0.0, 10e6),
    "W": Unit("W", 1.0, "a power", "watts", 0.0, 5000.0),
    "dB": Unit("dB", 1.0, "a level", "decibels", -300.0, 300.0),
    "percent": Unit("%", 1.0, "a share", "percent", -1e4, 1e4),
    "C": Unit("°C", 1.0, "a temperature", "degrees Celsius", -60.0, 400.0),
    "s": Unit("s", 1.0, "a time", "seconds", 0.0, 1e7),
    "minutes": Unit("s", 60.0, "a time", "minutes", 0.0, 1e5),
    "m": Unit("m", 1.0, "a length", "metres", 0.0, 1000.0),
    "mm2": Unit("mm²", 1.0, "a cross-section", "square millimeters", 0.0, 1000.0),
    "count": Unit("", 1.0, "a plain number", "a plain number", 0.0, 1e6),
    "ratio": Unit("", 1.0, "a plain number", "a plain number", -1e9, 1e9),
}
PREFIXED = frozenset({"V", "A", "Ω", "F", "H", "Hz", "W"})


def unit_of(name: str) -> str:
    """The unit that the name of a figure or parameter ends in: ``plate_V`` gives ``V``; '' when none."""
    suffix = name.rsplit("_", 1)[-1]
    return suffix if suffix in UNITS and suffix != name else ""
