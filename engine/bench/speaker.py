"""Speakers and their cables: nominal load, output watts, cabinets together, loss in the cable."""

from __future__ import annotations

import math

from ..reference.tables import load
from .figure import Figure, choice, figure, positive
from .notation import show
from .sums import beside, watts

NOMINAL = (2.0, 3.2, 4.0, 8.0, 16.0, 32.0)
COPPER_OHM_M = 1.724e-8


@figure
def nominal_ohm(*, dc_ohm: float) -> Figure:
    """Nominal impedance from the DC resistance at the speaker's terminals, amp disconnected."""
    window = load().window("speaker_resistance_percent")
    low, high = window.floor / 100, window.ceiling / 100
    positive(dc_ohm=dc_ohm)
    expected = dc_ohm / ((low + high) / 2)
    value = min(NOMINAL, key=lambda nominal: abs(math.log(nominal / expected)))
    sound = low * 0.9 <= dc_ohm / value <= high * 1.1
    return Figure(
        name="nominal impedance",
        value=value,
        unit="ohm",
        steps=(
            f"DC is {100 * low:g} to {100 * high:g} % of nominal: {dc_ohm:.3g} ohm / 0.8 = {expected:.3g} ohm",
            f"nearest nominal {value:g} ohm, of which it is {100 * dc_ohm / value:.3g} %",
        ),
        rests_on="One speaker or a plain group of them, no transformer in between; subtract the cable's resistance.",
        source=window.source,
        verdict="" if sound else "fits no nominal value well: look at the wiring and at each speaker alone",
        chosen=True,
    )


@figure
def resistance_share_percent(*, dc_ohm: float, impedance_ohm: float) -> Figure:
    """DC resistance as a share of nominal impedance; 75 to 85 percent is usual."""
    positive(impedance_ohm=impedance_ohm)
    window = load().window("speaker_resistance_percent")
    value = 100 * dc_ohm / impedance_ohm
    return Figure(
        name="DC resistance as a share of nominal",
        value=value,
        unit="percent",
        steps=(
            f"{dc_ohm:.3g} ohm / {impedance_ohm:.3g} ohm = {value:.3g} %",
            f"usual {window.floor:g} to {window.ceiling:g} %",
        ),
        rests_on="Measured at the speaker, amp disconnected.",
        source=window.source,
        verdict="usual" if window.floor - 10 <= value <= window.ceiling + 10 else "unusual",
    )


@figure
def output_W(*, rms_V: float, load_ohm: float) -> Figure:
    """Output watts from RMS volts across a load."""
    positive(load_ohm=load_ohm)
    value = watts(rms_V, load_ohm)
    return Figure(
        name="output",
        value=value,
        unit="W",
        steps=(f"{rms_V:.4g} V x {rms_V:.4g} V / {load_ohm:.4g} ohm = {value:.3g} W",),
        rests_on="A sine just below clipping, a resistive load, a true-RMS meter that is right at that frequency.",
        source="textbook-identity",
        warnings=("a dummy load gets hot, and a speaker that stands in for one can be hurt and can hurt ears",),
    )


@figure
def output_V(*, output_W: float, load_ohm: float) -> Figure:
    """RMS volts that a wanted output makes across a load."""
    positive(load_ohm=load_ohm, output_W=output_W)
    value = math.sqrt(output_W * load_ohm)
    return Figure(
        name="output volts",
        value=value,
        unit="V",
        steps=(f"sqrt({output_W:.4g} W x {load_ohm:.4g} ohm) = {value:.4g} V RMS",),
        rests_on="A sine across a resistive load.",
        source="textbook-identity",
    )


@figure
def together_ohm(*, one_ohm: float, two_ohm: float, wiring: str = "parallel", three_ohm: float = 0.0,
                 four_ohm: float = 0.0) -> Figure:  # fmt: skip
    """Impedance of two to four speakers or cabinets. wiring: parallel, series or series parallel (four)."""
    speakers = [ohm for ohm in (one_ohm, two_ohm, three_ohm, four_ohm) if ohm]
    positive(one_ohm=one_ohm, two_ohm=two_ohm)
    kind = choice("wiring", wiring, ("parallel", "series", "series parallel"))
    if kind == "series":
        value = sum(speakers)
    elif kind == "parallel":
        value = beside(*speakers)
    elif len(speakers) != 4:
        raise ValueError("series parallel is for four speakers")
    else:
        value = beside(speakers[0] + speakers[1], speakers[2] + speakers[3])
    shares = _shares(kind, speakers)
    return Figure(
        name="impedance together",
        value=value,
        unit="ohm",
        steps=(
            f"{', '.join(f'{ohm:g}' for ohm in speakers)} ohm in {kind} = {value:.4g} ohm",
            "share of the power: " + ", ".join(f"{100 * share:.3g} %" for share in shares),
        ),
        rests_on="Nominal impedances. Unequal speakers share the power unequally.",
        source="textbook-identity",
    )


def _shares(kind: str, speakers: list[float]) -> list[float]:
    """Share of the power each speaker takes."""
    if kind == "series":
        return [ohm / sum(speakers) for ohm in speakers]
    if kind == "parallel":
        return [(1 / ohm) / sum(1 / other for other in speakers) for ohm in speakers]
    arms = (speakers[:2], speakers[2:])
    total = sum(1 / sum(arm) for arm in arms)
    return [ohm / sum(arm) / sum(arm) / total for arm in arms for ohm in arm]


def wire_ohm_per_m(gauge: float) -> tuple[float, float]:
    """Ohms per meter and square millimeters of copper wire of an AWG size: d = 0.127 mm x 92^((36 - n) / 39)."""
    if not -3 <= gauge <= 40:
        raise ValueError("wire gauges (AWG) run from -3 (4/0) to 40 here")
    area_mm2 = math.pi / 4 * (0.127 * 92 ** ((36 - gauge) / 39)) ** 2
    return COPPER_OHM_M / (area_mm2 * 1e-6), area_mm2


@figure
def lead_ohm(*, length_m: float, gauge: float = 18.0) -> Figure:
    """Resistance of a speaker cable, out and back, of copper wire of an AWG gauge."""
    per_m, area = wire_ohm_per_m(gauge)
    value = 2 * length_m * per_m
    return Figure(
        name="resistance of the cable",
        value=value,
        unit="ohm",
        steps=(
            f"AWG {gauge:g}: {area:.3g} mm² of copper",
            f"2 x {length_m:.3g} m x {1000 * per_m:.4g} milliohm/m = {1000 * value:.4g} milliohm",
        ),
        rests_on="Copper at 20 C; plugs, crimps and broken strands add to it. A guitar cord is not a speaker cable.",
        source="awg-definition",
    )


@figure
def lead_loss_percent(*, length_m: float, load_ohm: float, gauge: float = 18.0) -> Figure:
    """Share of the output that heats the speaker cable."""
    positive(load_ohm=load_ohm)
    lead = lead_ohm(length_m=length_m, gauge=gauge)
    value = 100 * lead.value / (lead.value + load_ohm)
    return Figure(
        name="output lost in the cable",
        value=value,
        unit="percent",
        steps=(*lead.steps, f"{lead.value:.3g} / ({lead.value:.3g} + {load_ohm:.3g}) ohm = {value:.3g} %"),
        rests_on=lead.rests_on,
        source="awg-definition",
        verdict="fine" if value < 5 else "too thin or too long",
        warnings=(show(lead.value, "ohm") + " in the cable",) if value >= 5 else (),
    )
