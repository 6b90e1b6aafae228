"""Putting another rectifier in the socket: new volts, limits, and whether it drops in.

A vacuum diode carries I = P x V^(3/2); the perveance P follows from one printed drop at one current. With a
capacitor input the current comes in pulses, several times the mean: they are worked out over the half cycle, the
supply taken as steady. With a choke input the current is the mean.
"""

from __future__ import annotations

from typing import Any

from ..late import late
from ..reference.model import Drop, Rectifier, RectifierLimit
from ..reference.tables import load
from . import cycle
from .figure import Figure, choice, figure, positive
from .laws import rectifier_law, rectifier_sheet
from .notation import show
from .sums import halved

with late():
    import numpy as np

POINTS = 240  # of the half cycle


def _printed(rectifier: Rectifier) -> list[Drop]:
    """The printed drops that were read, or all of them when none was."""
    return [drop for drop in rectifier.drop if drop.seen] or list(rectifier.drop)


def drop(name: str, load_mA: float) -> float:
    """Volts a rectifier drops at a steady current."""
    law = rectifier_law(name)
    return float(law.threshold_V + (load_mA / 1000 / law.perveance) ** (2 / 3))


def _from(name: str) -> tuple[str, str, str]:
    """Words on the printed drops, their source id, and a warning when they are from memory."""
    rectifier = rectifier_sheet(name)
    if rectifier is None:
        return "silicon: about 1 V", "common-practice", ""
    printed = _printed(rectifier)
    seen = "" if printed[0].seen else f"the drop of the {rectifier.name} is from memory: confirm it on the sheet"
    figures = " and ".join(f"{drop.drop_V:g} V at {drop.at_mA:g} mA" for drop in printed)
    return f"{rectifier.name}: {figures} on file", printed[0].source, seen


@figure
def rectifier_drop_V(*, rectifier: str, load_mA: float) -> Figure:
    """Volts dropped in a rectifier at a load current, by the three-halves law from its printed drop."""
    positive(load_mA=load_mA)
    words, source, warning = _from(rectifier)
    value = drop(rectifier, load_mA)
    return Figure(
        name="drop of the rectifier",
        value=value,
        unit="V",
        steps=(words, f"by the three-halves law at {load_mA:.4g} mA: {value:.3g} V"),
        rests_on="Average load current; with a capacitor input the peaks, and their drop, are larger.",
        source=source,
    ).warn(warning)


def mean_current(peak_V: float, supply_V: float, law: Any, source_ohm: float) -> float:
    """Mean amperes that a full-wave rectifier delivers from a sine of that peak into a steady supply."""
    wave = peak_V * np.abs(np.sin((np.arange(POINTS) + 0.5) * np.pi / POINTS))
    over = np.maximum(wave - law.threshold_V - supply_V, 0.0)
    current = halved(  # tube drop and source drop share what is left over
        law.perveance * over**1.5,
        lambda current: over > source_ohm * current + (current / law.perveance) ** (2 / 3),
    )
    return float(current.mean())


def supply_volts(
    rms_V: float, rectifier: str, source_ohm: float, amperes_per_volt: float, fixed_A: float = 0.0
) -> float:
    """DC volts on the first capacitor for a winding (RMS per plate) and a load I = fixed + slope x V."""
    peak = rms_V * 2**0.5
    law = rectifier_law(rectifier)
    return float(
        halved(peak, lambda volts: mean_current(peak, volts, law, source_ohm) > fixed_A + amperes_per_volt * volts)
    )


@figure
def winding_supply_V(
    *, winding_rms_V: float, load_mA: float, rectifier: str, source_per_plate_ohm: float = 75.0
) -> Figure:
    """Supply volts on the first capacitor from winding volts (RMS each side, loaded), rectifier and load."""
    positive(winding_rms_V=winding_rms_V, load_mA=load_mA)
    words, _, warning = _from(rectifier)
    volts = supply_volts(winding_rms_V, rectifier, source_per_plate_ohm, 0.0, load_mA / 1000)
    peak = winding_rms_V * 2**0.5
    return Figure(
        name="supply volts on the first capacitor",
        value=volts,
        unit="V",
        steps=(
            f"peak of the winding {winding_rms_V:.4g} V x 1.414 = {peak:.4g} V",
            f"{words}; {source_per_plate_ohm:.3g} ohm per side",
            f"pulses average {load_mA:.4g} mA at {volts:.4g} V",
        ),
        rests_on="Capacitor input, full wave, no ripple; source resistance is winding and series resistor a side.",
        source="three-halves-law",
    ).warn(warning)


@figure
def new_supply_V(
    *,
    present_V: float,
    load_mA: float,
    present: str,
    wanted: str,
    source_per_plate_ohm: float = 75.0,
    first: str = "capacitor",
) -> Figure:
    """Supply volts after a rectifier swap, the load current following the volts. first: capacitor or choke."""
    positive(present_V=present_V, load_mA=load_mA)
    slope = load_mA / 1000 / present_V
    if choice("first filter part", first, ("capacitor", "choke")) == "choke":
        before = present_V + drop(present, load_mA) + source_per_plate_ohm * load_mA / 1000
        how = f"mean current: {before:.4g} V before the rectifier"
        volts = halved(before, lambda v: before - drop(wanted, 1000 * slope * v) - source_per_plate_ohm * slope * v > v)
    else:
        now = rectifier_law(present)
        enough = 3 * present_V
        while mean_current(enough, present_V, now, source_per_plate_ohm) < load_mA / 1000:
            enough *= 2
        peak = halved(enough, lambda p: mean_current(p, present_V, now, source_per_plate_ohm) < load_mA / 1000)
        how = f"so the winding gives {peak / 2**0.5:.4g} V RMS a side"
        volts = supply_volts(peak / 2**0.5, wanted, source_per_plate_ohm, slope)
    old, new = _from(present), _from(wanted)
    return Figure(
        name="supply volts after the swap",
        value=volts,
        unit="V",
        steps=(
            f"now: {old[0]}; {present_V:.4g} V at {load_mA:.4g} mA, {how}",
            f"then: {new[0]}; {show(slope * volts, 'A')}",
            f"supply {present_V:.4g} V becomes {volts:.4g} V ({volts - present_V:+.3g} V)",
        ),
        rests_on=f"{source_per_plate_ohm:g} ohm per side, a load in proportion to the volts, bias left as it is; "
        "ripple and the transformer's own regulation left out.",
        source="three-halves-law",
    ).warn(old[2], new[2], "set the bias again after the swap")


@figure
def output_current_percent(*, load_mA: float, rectifier: str) -> Figure:
    """DC load as a share of what the rectifier may deliver."""
    return _of_limit(
        rectifier, "output_mA", load_mA, "DC load", "mA", f"load {load_mA:.4g} mA",
        "Highest figure on file; at higher plate volts it is less.",
    )  # fmt: skip


@figure
def first_capacitor_percent(*, first_capacitor_F: float, rectifier: str) -> Figure:
    """First filter capacitor as a share of the largest the rectifier's sheet allows."""
    return _of_limit(
        rectifier, "first_capacitor_uF", first_capacitor_F * 1e6, "first capacitor", "uF",
        f"first capacitor {first_capacitor_F * 1e6:.4g} uF",
        "At the least source resistance on the sheet; with more resistance a larger one is allowed.",
    )  # fmt: skip


@figure
def peak_inverse_percent(*, winding_rms_V: float, rectifier: str, wiring: str = "center tap") -> Figure:
    """Peak inverse volts on a rectifier as a share of what it can take. wiring: center tap (volts a side) or bridge."""
    positive(winding_rms_V=winding_rms_V)
    times = {"center tap": 2, "bridge": 1}[choice("wiring", wiring, ("center tap", "bridge"))]
    volts = times * 2**0.5 * winding_rms_V
    return _of_limit(
        rectifier, "peak_inverse_V", volts, "peak inverse volts", "V",
        f"{times} x 1.414 x {winding_rms_V:.4g} V RMS = {volts:.4g} V with nothing drawn",
        "The capacitor at the peak and the winding at its other peak: standby, or tubes not yet warm. Mains spikes "
        "come on top.",
    )  # fmt: skip


@figure
def peak_plate_percent(
    *,
    winding_rms_V: float,
    load_mA: float,
    first_capacitor_F: float,
    rectifier: str,
    source_per_plate_ohm: float = 75.0,
    mains_Hz: float = 60.0,
) -> Figure:
    """Peak current of one plate, in the settled charging pulses, as a share of what the rectifier can take."""
    found = cycle.settled(
        winding_rms_V=winding_rms_V, load_mA=load_mA, reservoir_F=first_capacitor_F, rectifier=rectifier,
        source_per_plate_ohm=source_per_plate_ohm, mains_Hz=mains_Hz, rectification="full wave",
    )  # fmt: skip
    return _of_limit(
        rectifier, "peak_plate_mA", found.peak_mA, "peak plate current", "mA",
        cycle.words(found, rectifier, winding_rms_V, source_per_plate_ohm, load_mA),
        f"{cycle.RESTS_ON} The first pulses after switching on hot are several times higher.",
    )  # fmt: skip


def _of_limit(name: str, key: str, value: float, what: str, unit: str, step: str, rests_on: str) -> Figure:
    limit = _limit(name, key)
    if limit is None:
        raise ValueError(f"silicon has no {what} on file: see the diode's own sheet")
    allowed, block, type_ = limit
    percent = 100 * value / allowed
    return Figure(
        name=f"{what} as a share of the rectifier's limit",
        value=percent,
        unit="percent",
        steps=(step, f"{type_} stands {allowed:g} {unit}; {value:.4g} {unit} is {percent:.3g} % of it"),
        rests_on=rests_on,
        source=block.source,
        verdict="over" if percent > 100 else "within",
    ).warn("" if block.seen else "the limit is from memory: confirm it on the sheet")


def _limit(name: str, key: str) -> tuple[float, RectifierLimit, str] | None:
    rectifier = rectifier_sheet(name)
    if rectifier is None:
        return None
    for block in sorted(rectifier.limits, key=lambda block: not block.seen):
        value = getattr(block, key)
        if value is None and key == "output_mA":
            value = max((point.output_mA for point in block.at if point.output_mA), default=None)
        if value is not None:
            return float(value), block, rectifier.name
    raise ValueError(f"no {key} of the {rectifier.name} is on file")


@figure
def drop_in_count(
    *,
    present: str,
    wanted: str,
    load_mA: float,
    first_capacitor_F: float,
    winding_A: float = 0.0,
    winding_rms_V: float = 0.0,
    source_per_plate_ohm: float = 75.0,
    mains_Hz: float = 60.0,
) -> Figure:
    """How many things rule out a swap; 0 means it drops in.

    winding_A: what the rectifier heater winding can give, by default what the present tube draws; winding_rms_V: of the
    high-voltage winding a side, for peak inverse volts and peak plate current, which are left out without it.
    """
    old, new = rectifier_sheet(present), rectifier_sheet(wanted)
    against: list[str] = []
    notes: list[str] = []
    if new is None:
        against.append("silicon gives no warm-up delay: full volts before the tubes conduct, and more of them")
    else:
        heater = winding_A or (old.heater.A if old else 0.0)
        if old and old.heater.V != new.heater.V:
            against.append(f"heater {new.heater.V:g} V against {old.heater.V:g} V")
        if not heater:
            notes.append(f"no heater winding is known of, and the {new.name} wants {new.heater.A:g} A: give winding_A")
        elif heater * 1.001 < new.heater.A:
            against.append(f"heater draws {new.heater.A:g} A, the winding is known to give {heater:g} A")
        shares = {
            "the DC load": output_current_percent(load_mA=load_mA, rectifier=wanted).value,
            "the first capacitor": first_capacitor_percent(first_capacitor_F=first_capacitor_F, rectifier=wanted).value,
        }
        if winding_rms_V:
            shares["the peak inverse volts"] = peak_inverse_percent(winding_rms_V=winding_rms_V, rectifier=wanted).value
            shares["the peak plate current"] = peak_plate_percent(
                winding_rms_V=winding_rms_V, load_mA=load_mA, first_capacitor_F=first_capacitor_F, rectifier=wanted,
                source_per_plate_ohm=source_per_plate_ohm, mains_Hz=mains_Hz,
            ).value  # fmt: skip
        else:
            notes.append("peak inverse volts and peak plate current are not judged: give winding_rms_V")
        for words, percent in shares.items():
            if percent > 100:
                against.append(f"{words} is {percent:.0f} % of what the {new.name} allows")
        if old and old.indirectly_heated and not new.indirectly_heated:
            notes.append(f"the {new.name} is directly heated: volts come up before the other tubes are warm")
        if old and _plugs_in(old) != _plugs_in(new):
            against.append(f"the {new.name} does not fit the socket of the {old.name}")
    return Figure(
        name="what rules out the swap",
        value=float(len(against)),
        unit="count",
        steps=tuple(against) or ("nothing on file rules it out",),
        rests_on="Heater, DC load, first capacitor, peaks and socket as filed; work out the new volts as well.",
        source="common-practice",
        verdict="drops in" if not against else "does not drop in",
        chosen=True,
    ).warn(*notes)


def _plugs_in(rectifier: Rectifier) -> tuple[str, dict[str, tuple[int, ...]]]:
    """The socket and the pins: two rectifiers with the same answer plug in for one another."""
    base = load().bases[rectifier.base]
    return base.socket, base.pins
