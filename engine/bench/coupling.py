"""Coupling and bypass networks: corners, shelves, losses, and the value for a wanted corner."""

from __future__ import annotations

import math

from .figure import Curve, Figure, figure, positive
from .notation import show
from .preferred import nearest
from .sums import beside, halved

LOWEST_NOTES = "Low E of a guitar is 82 Hz, of a bass guitar 41 Hz."


def corner(capacitance_F: float, resistance_ohm: float) -> float:
    """Hertz at which a capacitor's reactance equals the resistance it works into (-3 dB)."""
    positive(capacitance_F=capacitance_F, resistance_ohm=resistance_ohm)
    return 1 / (2 * math.pi * resistance_ohm * capacitance_F)


def loss(frequency_Hz: float, corner_Hz: float) -> float:
    """Loss in dB of one high-pass network at a frequency: -10 log10(1 + (fc/f)^2)."""
    return -10 * math.log10(1 + (corner_Hz / frequency_Hz) ** 2)


@figure
def corner_Hz(*, coupling_F: float, load_ohm: float, source_ohm: float = 0.0) -> Figure:
    """Corner of a coupling capacitor with its load and the resistance it is fed from."""
    value = corner(coupling_F, load_ohm + source_ohm)
    return Figure(
        name="corner of the coupling capacitor",
        value=value,
        unit="Hz",
        steps=(
            f"resistance = {show(load_ohm, 'ohm')} + {show(source_ohm, 'ohm')} = {show(load_ohm + source_ohm, 'ohm')}",
            f"1 / (2 pi x {show(load_ohm + source_ohm, 'ohm')} x {show(coupling_F, 'F')}) = {show(value, 'Hz')}",
        ),
        rests_on=f"-3 dB there; source_ohm is the stage before, plate load || plate resistance. {LOWEST_NOTES}",
        source="textbook-identity",
    )


@figure
def stage_output_ohm(*, plate_load_ohm: float, plate_resistance_ohm: float) -> Figure:
    """Resistance a common-cathode stage with a bypassed cathode feeds its coupling capacitor from."""
    positive(plate_load_ohm=plate_load_ohm, plate_resistance_ohm=plate_resistance_ohm)
    value = beside(plate_load_ohm, plate_resistance_ohm)
    return Figure(
        name="output resistance of the stage",
        value=value,
        unit="ohm",
        steps=(f"{show(plate_load_ohm, 'ohm')} || {show(plate_resistance_ohm, 'ohm')} = {show(value, 'ohm')}",),
        rests_on="Cathode bypassed; unbypassed, add (mu + 1) times the cathode resistor to the plate resistance.",
        source="textbook-identity",
    )


@figure
def capacitor_F(*, target_Hz: float, load_ohm: float, source_ohm: float = 0.0, series: str = "E6") -> Figure:
    """Coupling capacitor for a wanted corner, rounded to the nearest preferred value."""
    positive(target_Hz=target_Hz, load_ohm=load_ohm)
    exact = 1 / (2 * math.pi * target_Hz * (load_ohm + source_ohm))
    value = nearest(exact, series)
    given = corner(value, load_ohm + source_ohm)
    return Figure(
        name="capacitor for the wanted corner",
        value=value,
        unit="F",
        steps=(
            f"1 / (2 pi x {show(target_Hz, 'Hz')} x {show(load_ohm + source_ohm, 'ohm')}) = {show(exact, 'F')}",
            f"nearest in {series.upper()}: {show(value, 'F')}, which turns at {show(given, 'Hz')}",
        ),
        rests_on=LOWEST_NOTES,
        source="iec-60063",
        warnings=("rate it for the full supply volts at switch-on, see preferred.capacitor_rating_V",),
        chosen=True,
    )


@figure
def loss_dB(
    *,
    frequency_Hz: float,
    corner_Hz: float,
    second_Hz: float = 0.0,
    third_Hz: float = 0.0,
    fourth_Hz: float = 0.0,
) -> Figure:
    """Level at a note after one to four coupling networks in cascade, relative to midband."""
    positive(frequency_Hz=frequency_Hz)
    corners = [value for value in (corner_Hz, second_Hz, third_Hz, fourth_Hz) if value]
    parts = [loss(frequency_Hz, value) for value in corners]
    frequencies = tuple(10 ** (1 + index * 3 / 60) for index in range(61))
    levels = tuple(sum(loss(frequency, value) for value in corners) for frequency in frequencies)
    return Figure(
        name=f"level at {show(frequency_Hz, 'Hz')}",
        value=sum(parts),
        unit="dB",
        steps=(
            *(f"corner {show(value, 'Hz')}: {part:.3g} dB" for value, part in zip(corners, parts, strict=True)),
            f"together {sum(parts):.3g} dB",
        ),
        rests_on="Networks that do not load each other, as tubes between them ensure.",
        source="textbook-identity",
        curve=Curve("coupling networks", "Hz", "dB", (("level", frequencies, levels),), x_log=True),
    )


@figure
def cascade_corner_Hz(*, corner_Hz: float, second_Hz: float, third_Hz: float = 0.0, fourth_Hz: float = 0.0) -> Figure:
    """Frequency where several coupling networks in cascade are 3 dB down together."""
    corners = [value for value in (corner_Hz, second_Hz, third_Hz, fourth_Hz) if value]
    positive(corner_Hz=sum(corners))
    half_power_dB = 10 * math.log10(0.5)
    value = halved(2 * sum(corners), lambda note: sum(loss(note, value) for value in corners) < half_power_dB)
    return Figure(
        name="corner of the cascade",
        value=value,
        unit="Hz",
        steps=(
            "corners " + ", ".join(show(item, "Hz") for item in corners),
            f"their losses add to 3.01 dB at {show(value, 'Hz')}",
        ),
        rests_on="Networks that do not load each other. Found by bisection the interval.",
        source="textbook-identity",
    )


def bypass(
    mu: float, plate_resistance: float, load: float, cathode: float, capacitance: float, bare: float = 0.0
) -> tuple[float, float]:
    """Zero and pole in hertz of a bypassed cathode: fz = 1/(2 pi Rk Ck), fp = fz (1 + (mu+1) Rk / (rp + RL)).

    bare: resistance in the same cathode that is not bypassed, which stands (mu+1) times beside rp and RL.
    """
    zero = corner(capacitance, cathode)
    return zero, zero * (1 + (mu + 1) * cathode / (plate_resistance + load + (mu + 1) * bare))


@figure
def bypass_corner_Hz(
    *,
    bypass_F: float,
    cathode_resistor_ohm: float,
    load_ohm: float,
    plate_resistance_ohm: float = 62500.0,
    mu: float = 100.0,
    unbypassed_ohm: float = 0.0,
) -> Figure:
    """Where a cathode bypass has lifted the gain to within 3 dB of full. Defaults: 12AX7 at 250 V.

    load_ohm: plate load beside the following grid leak; unbypassed_ohm: a second resistor in the same cathode that has
    no capacitor across it.
    """
    positive(plate_resistance_ohm=plate_resistance_ohm, load_ohm=load_ohm, mu=mu)
    zero, pole = bypass(mu, plate_resistance_ohm, load_ohm, cathode_resistor_ohm, bypass_F, unbypassed_ohm)
    around_ohm = plate_resistance_ohm + load_ohm + (mu + 1) * unbypassed_ohm
    return Figure(
        name="upper corner of the cathode bypass",
        value=pole,
        unit="Hz",
        steps=(
            f"lower corner = 1 / (2 pi x {show(cathode_resistor_ohm, 'ohm')} x {show(bypass_F, 'F')}) = {zero:.4g} Hz",
            f"upper corner = {zero:.4g} x (1 + {mu + 1:.4g} x {show(cathode_resistor_ohm, 'ohm')} / "
            f"{show(around_ohm, 'ohm')}) = {pole:.4g} Hz",
        ),
        rests_on=f"Triode with its load; gain falls from full above this to the unbypassed gain. {LOWEST_NOTES}",
        source="textbook-identity",
    )


@figure
def bypass_shelf_dB(
    *,
    cathode_resistor_ohm: float,
    load_ohm: float,
    plate_resistance_ohm: float = 62500.0,
    mu: float = 100.0,
    unbypassed_ohm: float = 0.0,
) -> Figure:
    """Gain lost at low notes when the cathode is not bypassed (or its capacitor is open).

    unbypassed_ohm: a second resistor in the same cathode that has no capacitor across it (a partly bypassed cathode).
    """
    positive(plate_resistance_ohm=plate_resistance_ohm, load_ohm=load_ohm, mu=mu)
    around_ohm = plate_resistance_ohm + load_ohm + (mu + 1) * unbypassed_ohm
    full = mu * load_ohm / around_ohm
    bare = mu * load_ohm / (around_ohm + (mu + 1) * cathode_resistor_ohm)
    shelf = 20 * math.log10(bare / full)
    return Figure(
        name="shelf of an unbypassed cathode",
        value=shelf,
        unit="dB",
        steps=(
            f"bypassed gain = {mu:.4g} x {show(load_ohm, 'ohm')} / {show(around_ohm, 'ohm')} = {full:.4g}",
            f"unbypassed gain = {bare:.4g}",
            f"20 log10({bare:.4g} / {full:.4g}) = {shelf:.3g} dB",
        ),
        rests_on="Small signals. Defaults are those of a 12AX7 at 250 V.",
        source="textbook-identity",
    )


@figure
def bypass_level_dB(
    *,
    note_Hz: float,
    bypass_F: float,
    cathode_resistor_ohm: float,
    load_ohm: float,
    plate_resistance_ohm: float = 62500.0,
    mu: float = 100.0,
    unbypassed_ohm: float = 0.0,
) -> Figure:
    """Level of a note through a bypassed, or partly bypassed, cathode relative to the stage's full gain, with the
    response.

    unbypassed_ohm: a second resistor in the same cathode that has no capacitor across it.
    """
    positive(note_Hz=note_Hz, plate_resistance_ohm=plate_resistance_ohm, load_ohm=load_ohm, mu=mu)
    zero, pole = bypass(mu, plate_resistance_ohm, load_ohm, cathode_resistor_ohm, bypass_F, unbypassed_ohm)

    def level(frequency: float) -> float:
        return 20 * math.log10(zero / pole * math.hypot(1, frequency / zero) / math.hypot(1, frequency / pole))

    axis = tuple(10 ** (1 + index * 3 / 60) for index in range(61))
    return Figure(
        name=f"level at {show(note_Hz, 'Hz')}",
        value=level(note_Hz),
        unit="dB",
        steps=(
            f"shelf from {zero:.4g} Hz to {pole:.4g} Hz, its foot {20 * math.log10(zero / pole):.3g} dB from full gain",
            f"at {show(note_Hz, 'Hz')} {level(note_Hz):.3g} dB",
        ),
        rests_on=f"Triode with its load, small signals; 0 dB is the gain with the capacitor as good as a short. "
        f"{LOWEST_NOTES}",
        source="textbook-identity",
        curve=Curve("cathode bypass", "Hz", "dB", (("level", axis, tuple(map(level, axis))),), x_log=True),
    )


@figure
def bypass_capacitor_F(
    *,
    target_Hz: float,
    cathode_resistor_ohm: float,
    load_ohm: float,
    plate_resistance_ohm: float = 62500.0,
    mu: float = 100.0,
    series: str = "E6",
) -> Figure:
    """Cathode bypass that puts its upper corner at a wanted frequency, nearest preferred value."""
    positive(target_Hz=target_Hz, cathode_resistor_ohm=cathode_resistor_ohm, load_ohm=load_ohm)
    lift = 1 + (mu + 1) * cathode_resistor_ohm / (plate_resistance_ohm + load_ohm)
    exact = lift / (2 * math.pi * cathode_resistor_ohm * target_Hz)
    value = nearest(exact, series)
    return Figure(
        name="bypass capacitor for the wanted corner",
        value=value,
        unit="F",
        steps=(
            f"{lift:.4g} / (2 pi x {show(cathode_resistor_ohm, 'ohm')} x {show(target_Hz, 'Hz')}) = {show(exact, 'F')}",
            f"nearest in {series.upper()}: {show(value, 'F')}",
        ),
        rests_on=f"Triode with its load. {LOWEST_NOTES}",
        source="textbook-identity",
        warnings=("rate it for the cathode volts with the tube shorted, 25 V at least for a preamp stage",),
        chosen=True,
    )
