"""What the files of kb/reference can say: one frozen model per kind of block."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

System = Literal["design center", "design maximum", "not stated", "absolute maximum"]
SYSTEMS: tuple[System, ...] = ("design center", "design maximum", "not stated", "absolute maximum")


class Block(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)


class Sourced(Block):
    """A block of figures: where they come from, and whether that text was seen."""

    source: str
    seen: bool
    note: str = ""


class Source(Block):
    """One entry of the bibliography."""

    title: str
    publisher: str
    date: str
    seen: bool
    note: str = ""


class Base(Sourced):
    """How a tube plugs in: its socket, and the pins of each electrode."""

    socket: Literal["octal", "noval", "7-pin"]
    pins: dict[str, tuple[int, ...]]


class Heater(Sourced):
    """Heater or filament ratings; `V`, `A` in parallel connection, `series_*` where the tube has a tap."""

    V: float
    A: float
    series_V: float | None = None
    series_A: float | None = None
    tolerance_percent: float | None = None
    ceiling_V: float | None = None


class Rating(Sourced):
    """Limits of the types named, under one rating system."""

    types: tuple[str, ...]
    system: System
    plate_V: float | None = None
    plate_W: float | None = None
    both_plates_W: float | None = None
    plate_cold_V: float | None = None
    plate_signal_peak_W: float | None = None
    plate_plus_screen_W: float | None = None
    plate_mA: float | None = None
    screen_V: float | None = None
    screen_W: float | None = None
    screen_cold_V: float | None = None
    screen_peak_W: float | None = None
    cathode_mA: float | None = None
    grid_mA: float | None = None
    negative_grid_V: float | None = None
    grid_resistor_ohm: float | None = None
    grid_resistor_fixed_bias_ohm: float | None = None
    grid_resistor_cathode_bias_ohm: float | None = None
    grid_resistor_grid_current_bias_ohm: float | None = None
    heater_cathode_V: float | None = None
    heater_cathode_peak_V: float | None = None
    heater_negative_V: float | None = None
    heater_positive_V: float | None = None
    heater_positive_peak_V: float | None = None


class OperatingPoint(Sourced):
    """One printed set of typical conditions. Twin triodes: one section. Pairs: figures for each tube."""

    type: str = ""
    operation: str = ""
    supply_V: float | None = None
    plate_V: float | None = None
    screen_V: float | None = None
    suppressor_V: float | None = None
    grid_V: float | None = None
    cutoff_grid_V: float | None = None
    cathode_resistor_ohm: float | None = None
    common_cathode_resistor_ohm: float | None = None
    plate_load_ohm: float | None = None
    grid_resistor_ohm: float | None = None
    shared_screen_resistor_ohm: float | None = None
    cathode_mA: float | None = None
    cathode_each_mA: float | None = None
    plate_mA: float | None = None
    plate_full_signal_mA: float | None = None
    plate_each_mA: float | None = None
    plate_each_full_signal_mA: float | None = None
    screen_mA: float | None = None
    screen_full_signal_mA: float | None = None
    screen_each_mA: float | None = None
    screen_each_full_signal_mA: float | None = None
    plate_resistance_ohm: float | None = None
    transconductance_uA_per_V: float | None = None
    mu: float | None = None
    mu_grid_to_screen: float | None = None
    load_ohm: float | None = None
    plate_to_plate_load_ohm: float | None = None
    input_rms_V: float | None = None
    output_rms_V: float | None = None
    output_W: float | None = None
    distortion_percent: float | None = None
    gain: float | None = None


class Tube(Block):
    """A family of tube types that plug in for one another, not all with the same ratings."""

    name: str
    types: tuple[str, ...]
    kind: str
    base: str | None = Field(default=None, description="Its base: an entry of bases.yaml.")
    sections: int
    heater: Heater
    ratings: tuple[Rating, ...]
    operating_points: tuple[OperatingPoint, ...]
    push_pull: tuple[OperatingPoint, ...] = ()


class LimitAt(Block):
    """A rectifier limit that depends on the RMS volts per plate."""

    rms_V: float
    output_mA: float | None = None
    source_per_plate_ohm: float | None = None


class RectifierLimit(Sourced):
    system: System
    peak_inverse_V: float | None = None
    peak_plate_mA: float | None = None
    hot_switching_A: float | None = None
    output_mA: float | None = None
    choke_input_output_mA: float | None = None
    capacitor_input_rms_V: float | None = None
    choke_input_rms_V: float | None = None
    source_per_plate_ohm: float | None = None
    first_capacitor_uF: float | None = None
    choke_H: float | None = None
    heater_cathode_V: float | None = None
    heater_cathode_peak_V: float | None = None
    at: tuple[LimitAt, ...] = ()


class Drop(Sourced):
    """Plate-to-cathode volts of one conducting section at a current."""

    drop_V: float
    at_mA: float


class RectifierOperation(Sourced):
    input: Literal["capacitor", "choke"]
    rms_V: float
    output_mA: float
    output_V: float
    first_capacitor_uF: float | None = None
    choke_H: float | None = None
    source_per_plate_ohm: float | None = None


class Rectifier(Block):
    name: str
    types: tuple[str, ...]
    kind: str
    base: str = Field(description="Its base: an entry of bases.yaml.")
    indirectly_heated: bool
    heater: Heater
    limits: tuple[RectifierLimit, ...]
    drop: tuple[Drop, ...]
    operation: tuple[RectifierOperation, ...] = ()


class Lamp(Sourced):
    V: float
    A: float
    candlepower: float
    life_hours: float
    base: str
    bulb: str = ""


class Rerating(Sourced):
    """factor = (V / rated V) ^ exponent"""

    light_exponent: float
    life_exponent: float
    current_exponent: float


class Taper(Sourced):
    mid_percent: float = Field(gt=0, lt=100)
    reverse: bool
    letters: str = ""


class LetterCode(Sourced):
    """Which letter one maker's country or standard prints for each taper; they do not agree."""

    audio: str
    linear: str
    reverse_audio: str


class TrackFigure(Sourced):
    value: float


class Window(Sourced):
    """A limit or window that no single tube owns; the unit ends the name."""

    low: float | None = None
    high: float | None = None

    @property
    def floor(self) -> float:
        """The low end, or minus infinity where the window is open below."""
        return -math.inf if self.low is None else self.low

    @property
    def ceiling(self) -> float:
        """The high end, or infinity where the window is open above."""
        return math.inf if self.high is None else self.high


class ReadingError(Sourced):
    """How far a reading, or a constant, may be off either way: percent of it, and `plus` in its own unit."""

    percent: float = Field(ge=0, lt=100)
    plus: float = Field(default=0.0, ge=0)

    def of(self, value: float) -> float:
        """The half-width of the band around a value."""
        return abs(value) * self.percent / 100 + self.plus
