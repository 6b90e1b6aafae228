"""The power supply: ripple, hum, droppers, discharge, and the lamp for first power."""

from __future__ import annotations

import math

from ..reference.tables import load
from . import cycle
from .cycle import pulses
from .figure import Figure, figure, positive
from .notation import show
from .sums import watts

LETHAL = "Lethal volts remain after unplugging. Bleed, then measure across each capacitor before touching anything."
TRIANGLE = 2 * math.sqrt(3)  # peak to peak over RMS


@figure
def ripple_peak_to_peak_V(
    *, load_mA: float, reservoir_F: float, mains_Hz: float = 60.0, rectification: str = "full wave"
) -> Figure:
    """Ripple on the first filter capacitor, peak to peak: I / (pulses x f x C)."""
    positive(reservoir_F=reservoir_F, mains_Hz=mains_Hz)
    rate = pulses(rectification) * mains_Hz
    value = load_mA / 1000 / (rate * reservoir_F)
    return Figure(
        name="ripple at the first capacitor, peak to peak",
        value=value,
        unit="V",
        steps=(
            f"ripple frequency = {rate:.4g} Hz",
            f"{load_mA:.4g} mA / ({rate:.4g} Hz x {show(reservoir_F, 'F')}) = {value:.4g} V",
            f"as a triangle {value:.4g} V / 3.464 = {value / TRIANGLE:.4g} V RMS",
        ),
        rests_on="The capacitor carries the load between charging pulses taken as instant: reads high, by a tenth "
        "when the ripple is small and by up to half when it is large; supply.cycle_ripple_V works through the pulses.",
        source="textbook-identity",
    )


@figure
def ripple_rms_V(
    *, load_mA: float, reservoir_F: float, mains_Hz: float = 60.0, rectification: str = "full wave"
) -> Figure:
    """The same ripple as an AC meter shows it: peak to peak / (2 sqrt 3)."""
    peak = ripple_peak_to_peak_V(
        load_mA=load_mA, reservoir_F=reservoir_F, mains_Hz=mains_Hz, rectification=rectification
    )
    value = peak.value / TRIANGLE
    return Figure(
        name="ripple at the first capacitor, RMS",
        value=value,
        unit="V",
        steps=(*peak.steps[:2], f"{peak.value:.4g} V / 3.464 = {value:.4g} V RMS"),
        rests_on=peak.rests_on + " A meter through a capacitor, rated for the supply, reads it.",
        source="textbook-identity",
    )


@figure
def cycle_ripple_V(
    *,
    winding_rms_V: float,
    load_mA: float,
    reservoir_F: float,
    rectifier: str = "silicon",
    source_per_plate_ohm: float = 75.0,
    mains_Hz: float = 60.0,
    rectification: str = "full wave",
) -> Figure:
    """Ripple on the first filter capacitor, peak to peak, worked through the charging pulses of one cycle."""
    found = cycle.settled(
        winding_rms_V=winding_rms_V, load_mA=load_mA, reservoir_F=reservoir_F, rectifier=rectifier,
        source_per_plate_ohm=source_per_plate_ohm, mains_Hz=mains_Hz, rectification=rectification,
    )  # fmt: skip
    plain = ripple_peak_to_peak_V(
        load_mA=load_mA, reservoir_F=reservoir_F, mains_Hz=mains_Hz, rectification=rectification
    )
    return Figure(
        name="ripple at the first capacitor, peak to peak",
        value=found.ripple_V,
        unit="V",
        steps=(
            cycle.words(found, rectifier, winding_rms_V, source_per_plate_ohm, load_mA),
            f"ripple {found.ripple_V:.4g} V peak to peak, {found.ripple_rms_V:.4g} V RMS on an AC meter",
            f"the handbook sum, with instantaneous pulses, gives {plain.value:.4g} V",
        ),
        rests_on=cycle.RESTS_ON,
        source="three-halves-law",
    )


@figure
def reservoir_F(
    *, ripple_rms_V: float, load_mA: float, mains_Hz: float = 60.0, rectification: str = "full wave"
) -> Figure:
    """Capacitance the first filter capacitor still has, from the ripple measured on it."""
    positive(ripple_rms_V=ripple_rms_V, mains_Hz=mains_Hz)
    rate = pulses(rectification) * mains_Hz
    peak = ripple_rms_V * TRIANGLE
    value = load_mA / 1000 / (rate * peak)
    return Figure(
        name="capacitance left in the first filter capacitor",
        value=value,
        unit="F",
        steps=(
            f"peak to peak = {ripple_rms_V:.4g} V x 3.464 = {peak:.4g} V",
            f"{load_mA:.4g} mA / ({rate:.4g} Hz x {peak:.4g} V) = {show(value, 'F')}",
        ),
        rests_on="Triangular ripple and the whole supply current known; good to about a fifth.",
        source="textbook-identity",
        warnings=(LETHAL,),
    )


@figure
def choke_ripple_rms_V(*, output_V: float, choke_H: float, filter_F: float, mains_Hz: float = 60.0) -> Figure:
    """Ripple of a full-wave choke-input filter: (sqrt 2 / 3) V / ((2 pi 2f)^2 L C - 1)."""
    positive(choke_H=choke_H, filter_F=filter_F, mains_Hz=mains_Hz)
    reactance = (4 * math.pi * mains_Hz) ** 2 * choke_H * filter_F
    if reactance <= 1:
        raise ValueError("this choke and capacitor resonate at or above the ripple; they do not filter it")
    before = output_V * math.sqrt(2) / 3
    value = before / (reactance - 1)
    return Figure(
        name="ripple of the choke-input filter, RMS",
        value=value,
        unit="V",
        steps=(
            f"before the filter = {output_V:.4g} V x 0.4714 = {before:.4g} V RMS at {2 * mains_Hz:.4g} Hz",
            f"(4 pi x {mains_Hz:.4g} Hz)^2 x {show(choke_H, 'H')} x {show(filter_F, 'F')} = {reactance:.4g}",
            f"ripple = {before:.4g} V / ({reactance:.4g} - 1) = {value:.4g} V RMS",
        ),
        rests_on="First harmonic of a full-wave rectifier, current never stopping in the choke (see critical_choke_H).",
        source="textbook-identity",
    )


@figure
def critical_choke_H(*, output_V: float, load_mA: float, mains_Hz: float = 60.0) -> Figure:
    """Least inductance that keeps current flowing in a choke-input filter: R / (6 pi f)."""
    positive(load_mA=load_mA, mains_Hz=mains_Hz, output_V=output_V)
    load_ohm = 1000 * output_V / load_mA
    value = load_ohm / (6 * math.pi * mains_Hz)
    return Figure(
        name="critical inductance",
        value=value,
        unit="H",
        steps=(
            f"load = {output_V:.4g} V / {load_mA:.4g} mA = {show(load_ohm, 'ohm')}",
            f"{show(load_ohm, 'ohm')} / (6 pi x {mains_Hz:.4g} Hz) = {value:.3g} H",
        ),
        rests_on="Full wave, ideal choke; below it the output climbs toward the peak.",
        source="textbook-identity",
    )


@figure
def section_ripple_ratio(
    *, filter_F: float, resistance_ohm: float = 0.0, choke_H: float = 0.0, ripple_Hz: float = 120.0
) -> Figure:
    """How much of the ripple one filter section lets through, by resistor or by choke."""
    positive(filter_F=filter_F, ripple_Hz=ripple_Hz)
    angular = 2 * math.pi * ripple_Hz
    if bool(resistance_ohm) == bool(choke_H):
        raise ValueError("give either the resistor or the choke of the section")
    if resistance_ohm:
        value = 1 / math.hypot(1, angular * resistance_ohm * filter_F)
        step = f"1 / sqrt(1 + (2 pi x {ripple_Hz:.4g} Hz x {show(resistance_ohm, 'ohm')} x {show(filter_F, 'F')})^2)"
    else:
        product = angular**2 * choke_H * filter_F
        if product <= 1:
            raise ValueError("this choke and capacitor resonate at or above the ripple; they do not filter it")
        value = 1 / (product - 1)
        step = f"1 / ((2 pi x {ripple_Hz:.4g} Hz)^2 x {show(choke_H, 'H')} x {show(filter_F, 'F')} - 1)"
    return Figure(
        name="ripple let through by the section",
        value=value,
        unit="ratio",
        steps=(f"{step} = {value:.4g}", f"20 log10({value:.4g}) = {20 * math.log10(value):.3g} dB"),
        rests_on="The load after the section draws no ripple current of its own.",
        source="textbook-identity",
    )


@figure
def hum_multiple_ratio(*, hum_Hz: float, mains_Hz: float = 60.0) -> Figure:
    """Sort hum by its frequency: 1 is line frequency, 2 is twice line, 0 is neither."""
    positive(hum_Hz=hum_Hz, mains_Hz=mains_Hz)
    ratio = hum_Hz / mains_Hz
    multiple = next((float(whole) for whole in (1, 2) if abs(ratio / whole - 1) <= 0.06), 0.0)
    verdict = {1.0: "line frequency", 2.0: "twice line frequency"}.get(
        multiple, "neither line nor twice line frequency"
    )
    meaning = {
        1.0: "heater wiring, half-wave bias supply, ground loop, pickup from a transformer",
        2.0: "high-voltage filter, rectifier or push-pull balance",
    }.get(multiple, "not plain hum: look for oscillation, a dimmer or rectifier buzz with many harmonics")
    return Figure(
        name="hum as a multiple of the line frequency",
        value=multiple,
        unit="ratio",
        steps=(f"{hum_Hz:.4g} Hz / {mains_Hz:.4g} Hz = {ratio:.3g}: {verdict}", meaning),
        rests_on="A tuner, phone or scope reading within 6 percent.",
        source="common-practice",
        verdict=verdict,
        chosen=True,
    )


@figure
def dropper_ohm(*, from_V: float, to_V: float, current_mA: float) -> Figure:
    """Resistance of a supply dropper for the wanted volts at a current."""
    positive(current_mA=current_mA)
    value = 1000 * (from_V - to_V) / current_mA
    positive(resistance_ohm=value)
    return Figure(
        name="dropping resistor",
        value=value,
        unit="ohm",
        steps=(
            f"({from_V:.4g} - {to_V:.4g}) V / {current_mA:.4g} mA = {show(value, 'ohm')}",
            f"heat = ({from_V:.4g} - {to_V:.4g}) V x {current_mA:.4g} mA = {(from_V - to_V) * current_mA / 1000:.3g} W",
        ),
        rests_on="The current at idle after that node, all later nodes included.",
        source="textbook-identity",
    )


@figure
def dropper_W(*, drop_V: float, resistance_ohm: float) -> Figure:
    """Heat in a supply dropper from the volts across it; fit at least twice that."""
    positive(resistance_ohm=resistance_ohm)
    value = watts(drop_V, resistance_ohm)
    return Figure(
        name="heat in the dropper",
        value=value,
        unit="W",
        steps=(
            f"{drop_V:.4g} V squared / {show(resistance_ohm, 'ohm')} = {value:.3g} W",
            f"fit 2 x {value:.3g} W = {2 * value:.3g} W or more",
        ),
        rests_on="Idle; a fault after it can put the whole supply across it.",
        source="textbook-identity",
    )


@figure
def bleed_s(*, start_V: float, capacitance_F: float, bleeder_ohm: float, safe_V: float = 50.0) -> Figure:
    """Seconds for a bleeder to bring a capacitor down to a safe voltage: R C ln(V0 / V)."""
    positive(start_V=start_V, capacitance_F=capacitance_F, bleeder_ohm=bleeder_ohm, safe_V=safe_V)
    tau = bleeder_ohm * capacitance_F
    value = max(0.0, tau * math.log(start_V / safe_V))
    peak = watts(start_V, bleeder_ohm)
    return Figure(
        name=f"time to fall to {safe_V:g} V",
        value=value,
        unit="s",
        steps=(
            f"time constant = {show(bleeder_ohm, 'ohm')} x {show(capacitance_F, 'F')} = {tau:.4g} s",
            f"{tau:.4g} s x ln({start_V:.4g} / {safe_V:.4g}) = {value:.4g} s",
            f"the bleeder takes {peak:.3g} W at first",
        ),
        rests_on="An exponential with nothing else drawing. A bleeder may be open: the meter decides, not the clock.",
        source="textbook-identity",
        warnings=(LETHAL, "capacitors recover some volts by themselves: keep the bleeder clipped on"),
    )


@figure
def bleed_minutes(*, start_V: float, capacitance_F: float, bleeder_ohm: float, safe_V: float = 50.0) -> Figure:
    """The same in minutes."""
    seconds = bleed_s(start_V=start_V, capacitance_F=capacitance_F, bleeder_ohm=bleeder_ohm, safe_V=safe_V)
    return Figure(
        name=seconds.name,
        value=seconds.value / 60,
        unit="minutes",
        steps=(*seconds.steps, f"{seconds.value:.4g} s / 60 = {seconds.value / 60:.3g} minutes"),
        rests_on=seconds.rests_on,
        source=seconds.source,
        warnings=seconds.warnings,
    )


LAMPS_W = (25.0, 40.0, 60.0, 75.0, 100.0, 150.0, 200.0)


@figure
def limiter_lamp_W(*, consumption_W: float) -> Figure:
    """Filament lamp to put in series with the mains for first power, from what the amp takes at idle."""
    positive(consumption_W=consumption_W)
    value = next((size for size in LAMPS_W if size >= consumption_W), LAMPS_W[-1])
    window = load().window("first_power_lamp_W")
    return Figure(
        name="current-limiter lamp",
        value=value,
        unit="W",
        steps=(f"amp takes {consumption_W:.4g} W at idle; next lamp size {value:g} W",),
        rests_on="A filament lamp of the mains voltage, not LED. Bright then dim is good; staying bright means a "
        f"short. Usual {window.floor:g} to {window.ceiling:g} W; too big a lamp limits nothing.",
        source=window.source,
        warnings=("all volts read low through the lamp: judge none of them by the sheet", LETHAL),
        chosen=True,
    )
