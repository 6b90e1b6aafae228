"""Putting another rectifier in the socket: new volts, limits, and whether it drops in.

A vacuum diode carries I = P x V^(3/2); the perveance P follows from one printed drop at one current.
"""

from __future__ import annotations

from ..knowledge.reference import UnknownName, load
from ..knowledge.reference_model import Drop, Rectifier, RectifierLimit
from .figure import Figure, figure, positive

SOLID_STATE = ("silicon", "solid state", "diode", "diodes")


def _rectifier(name: str) -> Rectifier | None:
    """The rectifier tube of that name; None for silicon. Raises ValueError."""
    if name.strip().lower().replace("-", " ") in SOLID_STATE:
        return None
    try:
        return load().rectifier(name)
    except UnknownName as error:
        raise ValueError(str(error)) from error


def _printed(rectifier: Rectifier) -> Drop:
    return min(rectifier.drop, key=lambda drop: not drop.seen)


def drop(name: str, load_mA: float) -> float:
    """Volts a rectifier drops at a load current; about 1 V for silicon."""
    rectifier = _rectifier(name)
    if rectifier is None:
        return 1.0
    printed = _printed(rectifier)
    return float(printed.drop_V * (load_mA / printed.at_mA) ** (2 / 3))


def _from(name: str) -> tuple[str, str, str]:
    """Words on the printed drop, its source id, and a warning when it is from memory."""
    rectifier = _rectifier(name)
    if rectifier is None:
        return "silicon: about 1 V", "common-practice", ""
    printed = _printed(rectifier)
    seen = "" if printed.seen else f"the drop of the {rectifier.name} is from memory: confirm it on the sheet"
    return f"{rectifier.name}: {printed.drop_V:g} V at {printed.at_mA:g} mA on file", printed.source, seen


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
        steps=(words, f"x ({load_mA:.4g} mA / that current)^(2/3) = {value:.3g} V"),
        rests_on="Average load current; with a capacitor input the peaks, and their drop, are larger.",
        source=source,
    ).warn(warning)


@figure
def new_supply_V(
    *, present_V: float, load_mA: float, present: str, wanted: str, source_per_plate_ohm: float = 0.0
) -> Figure:
    """Supply volts after a rectifier swap, the load current following the volts.

    source_per_plate_ohm: winding and series resistance of one plate, when known.
    """
    positive(present_V=present_V, load_mA=load_mA)
    before = drop(present, load_mA)
    no_drop = present_V + before + source_per_plate_ohm * load_mA / 1000
    low, high = 0.0, no_drop
    for _ in range(60):
        volts = (low + high) / 2
        current = load_mA * volts / present_V
        left = no_drop - drop(wanted, max(current, 1e-9)) - source_per_plate_ohm * current / 1000
        low, high = (volts, high) if left > volts else (low, volts)
    volts = (low + high) / 2
    current = load_mA * volts / present_V
    old, new = _from(present), _from(wanted)
    return Figure(
        name="supply volts after the swap",
        value=volts,
        unit="V",
        steps=(
            f"now: {old[0]}, so {before:.3g} V at {load_mA:.4g} mA; {no_drop:.4g} V before the rectifier",
            f"then: {new[0]}, so {drop(wanted, current):.3g} V at {current:.4g} mA",
            f"supply {present_V:.4g} V becomes {volts:.4g} V ({volts - present_V:+.3g} V)",
        ),
        rests_on="Average currents, load that draws in proportion to the volts, bias left as it is. "
        "Good to about a third of the change: peak currents make it larger in a capacitor-input supply.",
        source="three-halves-law",
    ).warn(old[2], new[2], "set the bias again after the swap")


@figure
def output_current_percent(*, load_mA: float, rectifier: str) -> Figure:
    """DC load as a share of what the rectifier may deliver."""
    limit = _limit(rectifier, "output_mA")
    if limit is None:
        raise ValueError("silicon has no current limit on file: see the diode's own sheet")
    value, block, name = limit
    percent = 100 * load_mA / value
    return Figure(
        name="load as a share of the rectifier's limit",
        value=percent,
        unit="percent",
        steps=(f"{name} delivers {value:g} mA; {load_mA:.4g} mA is {percent:.3g} % of it",),
        rests_on="Highest figure on file; at higher plate volts it is less.",
        source=block.source,
        verdict="over" if percent > 100 else "within",
    ).warn("" if block.seen else "the limit is from memory: confirm it on the sheet")


@figure
def first_capacitor_percent(*, first_capacitor_F: float, rectifier: str) -> Figure:
    """First filter capacitor as a share of the largest the rectifier's sheet allows."""
    limit = _limit(rectifier, "first_capacitor_uF")
    if limit is None:
        raise ValueError("silicon sets no such limit")
    value, block, name = limit
    percent = 100 * first_capacitor_F * 1e6 / value
    return Figure(
        name="first capacitor as a share of the rectifier's limit",
        value=percent,
        unit="percent",
        steps=(f"{name} allows {value:g} uF; {first_capacitor_F * 1e6:.4g} uF is {percent:.3g} % of it",),
        rests_on="At the least source resistance on the sheet; with more resistance a larger one is allowed.",
        source=block.source,
        verdict="over" if percent > 100 else "within",
    ).warn("" if block.seen else "the limit is from memory: confirm it on the sheet")


def _limit(name: str, key: str) -> tuple[float, RectifierLimit, str] | None:
    rectifier = _rectifier(name)
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
    *, present: str, wanted: str, load_mA: float, first_capacitor_F: float, winding_A: float = 0.0
) -> Figure:
    """How many things stand in the way of a swap; 0 means it drops in.

    winding_A: what the rectifier heater winding can give; by default what the present tube draws.
    """
    old, new = _rectifier(present), _rectifier(wanted)
    against: list[str] = []
    notes: list[str] = []
    if new is None:
        against.append("silicon gives no warm-up delay: full volts before the tubes conduct, and more of them")
    else:
        heater = winding_A or (old.heater.A if old else 0.0)
        if old and old.heater.V != new.heater.V:
            against.append(f"heater {new.heater.V:g} V against {old.heater.V:g} V")
        if heater and heater * 1.001 < new.heater.A:
            against.append(f"heater draws {new.heater.A:g} A, the winding is known to give {heater:g} A")
        for percent, words in (
            (output_current_percent(load_mA=load_mA, rectifier=wanted).value, "the DC load"),
            (
                first_capacitor_percent(first_capacitor_F=first_capacitor_F, rectifier=wanted).value,
                "the first capacitor",
            ),
        ):
            if percent > 100:
                against.append(f"{words} is {percent:.0f} % of what the {new.name} allows")
        if old and old.indirectly_heated and not new.indirectly_heated:
            notes.append(f"the {new.name} is directly heated: volts come up before the other tubes are warm")
        if old and _bases(old) != _bases(new):
            against.append(f"the {new.name} does not fit the socket of the {old.name}")
    return Figure(
        name="what stands against the swap",
        value=float(len(against)),
        unit="count",
        steps=tuple(against) or ("nothing on file stands against it",),
        rests_on="Heater, DC load, first capacitor and socket as filed; work out the new volts as well.",
        source="common-practice",
        verdict="drops in" if not against else "does not drop in",
        chosen=True,
    ).warn(*notes)


def _bases(rectifier: Rectifier) -> str:
    """The socket, by the family: octal 5 V types and 6X5 each, miniature and noval by name."""
    if rectifier.name.startswith("5"):
        return "octal, 5 V"
    return {"6X5GT": "octal, 6.3 V", "6X4": "7-pin"}.get(rectifier.name, "noval")
