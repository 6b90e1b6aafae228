"""Idle current, plate dissipation and bias of the output tubes.

Plate dissipation is plate-to-cathode volts times cathode current less screen current. Volts are to chassis.
"""

from __future__ import annotations

from ..reference.tables import load
from .figure import Figure, choice, figure, not_negative, positive
from .notation import show
from .ratings import allowed, screen_share
from .sums import apart_percent, milliamperes

LIVE = "High voltage is present: one hand, insulated probe, meter lead clipped on before power is applied."
IDLE = "Measured at idle, warmed up, no signal; volts and current taken within the same minute."


def _plate_current(cathode_mA: float, screen_mA: float | None, tube: str) -> tuple[float, tuple[str, ...], str, str]:
    """Plate current, the steps to it, a warning when the screen share is estimated, and the source."""
    not_negative(cathode_mA=cathode_mA)
    if screen_mA is not None:
        if screen_mA >= cathode_mA > 0 or screen_mA > cathode_mA:
            raise ValueError("screen current can't reach the whole cathode current; check both readings")
        step = f"plate current = {cathode_mA:.4g} mA - {screen_mA:.4g} mA screen = {cathode_mA - screen_mA:.4g} mA"
        return cathode_mA - screen_mA, (step,), "", "textbook-identity"
    share, where, source = screen_share(tube)
    screen = cathode_mA * share / (1 + share)
    steps = (
        f"screen share of plate current {100 * share:.3g} % ({where})",
        f"screen current = {cathode_mA:.4g} mA x {share:.3g} / {1 + share:.4g} = {screen:.3g} mA",
        f"plate current = {cathode_mA:.4g} mA - {screen:.3g} mA = {cathode_mA - screen:.4g} mA",
    )
    return cathode_mA - screen, steps, "screen current is estimated from the sheet's ratio, not measured", source


def across_tube(plate_V: float, cathode_V: float) -> float:
    """Volts from plate to cathode. Raises ValueError when there are none."""
    across = plate_V - cathode_V
    if across <= 0:
        raise ValueError(f"plate {plate_V:g} V is not above cathode {cathode_V:g} V; check both readings")
    return across


@figure
def plate_dissipation_W(
    *, plate_V: float, cathode_mA: float, cathode_V: float = 0.0, screen_mA: float | None = None, tube: str = ""
) -> Figure:
    """Watts in the plate of one tube. Give screen_mA=0 when the current read is that of the plate alone."""
    across = across_tube(plate_V, cathode_V)
    plate_mA, steps, warning, source = _plate_current(cathode_mA, screen_mA, tube)
    watts = across * plate_mA / 1000
    return Figure(
        name="plate dissipation",
        value=watts,
        unit="W",
        steps=(
            f"plate to cathode = {plate_V:.4g} V - {cathode_V:.4g} V = {across:.4g} V",
            *steps,
            f"dissipation = {across:.4g} V x {plate_mA:.4g} mA = {watts:.3g} W",
        ),
        rests_on=IDLE,
        source=source,
    ).warn(warning)


@figure
def plate_dissipation_percent(
    *,
    plate_V: float,
    cathode_mA: float,
    cathode_V: float = 0.0,
    screen_mA: float | None = None,
    tube: str = "",
    rating_W: float | None = None,
    system: str = "",
) -> Figure:
    """Plate dissipation of one tube as a share of the fitted tube's rating; rating_W by hand wins."""
    rating = allowed(tube, "plate_W", rating_W, system)
    positive(rating_W=rating.value)
    watts = plate_dissipation_W(
        plate_V=plate_V, cathode_mA=cathode_mA, cathode_V=cathode_V, screen_mA=screen_mA, tube=tube
    )
    percent = 100 * watts.value / rating.value
    return Figure(
        name="plate dissipation as a share of the rating",
        value=percent,
        unit="percent",
        steps=(
            *watts.steps,
            f"rating {rating.value:.4g} W ({rating.why})",
            f"share = {watts.value:.3g} W / {rating.value:.4g} W = {percent:.3g} %",
        ),
        rests_on=f"{IDLE} A share is only worth comparing under one rating system.",
        source=rating.source,
        warnings=watts.warnings,
        verdict="over the rating" if percent > 100 else "",
    ).warn(rating.warning, "over the plate rating: bias colder now" if percent > 100 else "")


@figure
def cathode_current_mA(*, cathode_V: float, cathode_resistor_ohm: float, tubes: float = 1.0) -> Figure:
    """Cathode current of one tube from the volts across its cathode resistor, shared by `tubes` tubes."""
    positive(cathode_resistor_ohm=cathode_resistor_ohm, tubes=tubes)
    total = milliamperes(cathode_V, cathode_resistor_ohm)
    steps = [f"total = {cathode_V:.4g} V / {show(cathode_resistor_ohm, 'ohm')} = {total:.4g} mA"]
    if tubes > 1:
        steps.append(f"each of {tubes:g} tubes = {total:.4g} mA / {tubes:g} = {total / tubes:.4g} mA")
    return Figure(
        name="cathode current of one tube",
        value=total / tubes,
        unit="mA",
        steps=tuple(steps),
        rests_on="The resistor's real value, measured unplugged and discharged; it holds plate and screen current.",
        source="textbook-identity",
    ).warn("a shared resistor hides a mismatch: it gives the mean of the tubes" if tubes > 1 else "")


@figure
def sense_current_mA(*, sense_mV: float, sense_ohm: float = 1.0) -> Figure:
    """Cathode current from the millivolts across a sense resistor: 1 mV is 1 mA at 1 ohm."""
    positive(sense_ohm=sense_ohm)
    current = sense_mV / sense_ohm
    return Figure(
        name="cathode current",
        value=current,
        unit="mA",
        steps=(f"{sense_mV:.4g} mV / {show(sense_ohm, 'ohm')} = {current:.4g} mA",),
        rests_on="Plate and screen current together. A 1 % resistor; a clip lead's own resistance counts.",
        source="textbook-identity",
    )


@figure
def primary_drop_current_mA(*, drop_V: float, primary_ohm: float) -> Figure:
    """Plate current from the volts dropped in one half of the output transformer primary."""
    positive(primary_ohm=primary_ohm)
    current = milliamperes(drop_V, primary_ohm)
    return Figure(
        name="plate current",
        value=current,
        unit="mA",
        steps=(f"{drop_V:.4g} V / {show(primary_ohm, 'ohm')} = {current:.4g} mA",),
        rests_on="Plate current alone. Copper gains about 4 % in 10 C: measure the half winding warm, discharged.",
        source="textbook-identity",
        warnings=(LIVE, "both meter leads are at supply volts"),
    )


@figure
def shunt_current_mA(*, meter_mA: float, primary_ohm: float, meter_ohm: float = 1.0) -> Figure:
    """Plate current from a milliammeter across one half of the primary, with what still flows in the winding."""
    positive(primary_ohm=primary_ohm)
    current = meter_mA * (1 + meter_ohm / primary_ohm)
    return Figure(
        name="plate current",
        value=current,
        unit="mA",
        steps=(f"{meter_mA:.4g} mA x (1 + {meter_ohm:.4g} / {primary_ohm:.4g}) = {current:.4g} mA",),
        rests_on="Plate current alone; the meter takes nearly all of it because its resistance is far lower.",
        source="textbook-identity",
        warnings=(LIVE, "the meter and its leads are at full supply volts, and a slip shorts them to chassis"),
    )


@figure
def screen_current_mA(*, cathode_mA: float, tube: str = "") -> Figure:
    """Screen current estimated from cathode current by the ratio on the tube's sheet."""
    plate_mA, steps, warning, source = _plate_current(cathode_mA, None, tube)
    return Figure(
        name="screen current, estimated",
        value=cathode_mA - plate_mA,
        unit="mA",
        steps=steps,
        rests_on="The sheet's idle conditions. Measure the drop in the screen resistor for the real figure.",
        source=source,
        warnings=(warning,),
    )


@figure
def screen_drop_current_mA(*, drop_V: float, screen_resistor_ohm: float) -> Figure:
    """Screen current from the volts across its own resistor."""
    positive(screen_resistor_ohm=screen_resistor_ohm)
    current = milliamperes(drop_V, screen_resistor_ohm)
    return Figure(
        name="screen current",
        value=current,
        unit="mA",
        steps=(f"{drop_V:.4g} V / {show(screen_resistor_ohm, 'ohm')} = {current:.4g} mA",),
        rests_on="A resistor of one tube; halve for one shared by a pair.",
        source="textbook-identity",
        warnings=(LIVE,),
    )


@figure
def pair_mismatch_percent(*, one_mA: float, other_mA: float) -> Figure:
    """Difference of the idle currents of a pair as a share of their mean."""
    not_negative(one_mA=one_mA, other_mA=other_mA)
    mean = (one_mA + other_mA) / 2
    percent = abs(apart_percent(one_mA, other_mA))
    limit = load().window("pair_mismatch_percent").ceiling
    return Figure(
        name="mismatch of the pair",
        value=percent,
        unit="percent",
        steps=(
            f"mean = ({one_mA:.4g} + {other_mA:.4g}) mA / 2 = {mean:.4g} mA",
            f"difference = {abs(one_mA - other_mA):.3g} mA / {mean:.4g} mA = {percent:.3g} %",
        ),
        rests_on="Swap the two tubes to see whether the difference moves with the tube or stays with the socket.",
        source="common-practice",
        verdict="matched" if percent <= limit else "mismatched",
    )


WINDOWS = {
    ("ab", "fixed"): "idle_fixed_bias_class_ab_percent",
    ("ab", "cathode"): "idle_cathode_bias_class_ab_percent",
    ("a", "cathode"): "idle_single_ended_class_a_percent",
    ("a", "fixed"): "idle_single_ended_class_a_percent",
}


@figure
def idle_outside_percent(*, dissipation_percent: float, bias: str = "fixed", amp_class: str = "AB") -> Figure:
    """How far idle dissipation lies outside the usual window: 0 inside, negative below, positive above.

    bias: fixed or cathode; amp_class: AB or push-pull, A or single-ended.
    """
    amp_class = {"single-ended": "A", "push-pull": "AB"}.get(amp_class.strip().lower(), amp_class)
    key = (choice("class", amp_class, ("a", "ab")), choice("bias", bias, ("fixed", "cathode")))
    window = load().window(WINDOWS[key])
    low, high = window.floor, window.ceiling
    outside = min(dissipation_percent - low, 0.0) + max(dissipation_percent - high, 0.0)
    verdict = "within the usual window" if not outside else "colder than usual" if outside < 0 else "hotter than usual"
    return Figure(
        name="idle dissipation outside the usual window",
        value=outside,
        unit="percent",
        steps=(
            f"usual for class {amp_class.upper()}, {bias} bias: {low:g} to {high:g} % of the rating",
            f"{dissipation_percent:.3g} % is {abs(outside):.3g} % outside: {verdict}",
        ),
        rests_on="A habit of the trade, not a limit; the limit is the rating itself.",
        source=window.source,
        verdict=verdict,
    )


@figure
def idle_current_mA(
    *,
    plate_V: float,
    wanted_percent: float,
    cathode_V: float = 0.0,
    tube: str = "",
    rating_W: float | None = None,
    system: str = "",
) -> Figure:
    """Plate current of one tube that gives the wanted share of its plate rating."""
    across = across_tube(plate_V, cathode_V)
    rating = allowed(tube, "plate_W", rating_W, system)
    current = 10 * wanted_percent * rating.value / across
    return Figure(
        name="plate current for the wanted dissipation",
        value=current,
        unit="mA",
        steps=(
            f"rating {rating.value:.4g} W ({rating.why})",
            f"{wanted_percent:.3g} % x {rating.value:.4g} W / {across:.4g} V = {current:.4g} mA",
        ),
        rests_on="Plate current alone: add the screen's for a cathode reading. Volts rise as the current falls.",
        source=rating.source,
    ).warn(rating.warning)


@figure
def bias_change_V(
    *, present_mA: float, wanted_mA: float, tube: str = "", transconductance_mA_per_volt: float | None = None
) -> Figure:
    """Change of grid volts that takes one tube from its present to the wanted plate current."""
    positive(present_mA=present_mA, wanted_mA=wanted_mA)
    driven_V, step, source = drive(present_mA, tube, transconductance_mA_per_volt)
    change = driven_V * ((wanted_mA / present_mA) ** (2 / 3) - 1)
    way = "more negative (colder)" if change < 0 else "less negative (hotter)" if change > 0 else "as it is"
    return Figure(
        name="change of grid bias",
        value=change,
        unit="V",
        steps=(
            step,
            f"{driven_V:.3g} V x (({wanted_mA:.4g} / {present_mA:.4g})^(2/3) - 1) = {change:.3g} V: {way}",
        ),
        rests_on="Constant plate and screen volts, an average tube; get there in two or three steps.",
        source=source,
        verdict=way,
    )


def drive(plate_mA: float, tube: str, given: float | None) -> tuple[float, str, str]:
    """Volts of effective grid drive at a plate current, I = K x drive^1.5: volts = 1.5 I / gm; a step; the source."""
    if given is not None:
        positive(transconductance=given)
        volts = 1.5 * plate_mA / given
        return volts, f"volts = 1.5 x {plate_mA:.4g} mA / {given:.3g} mA/V = {volts:.3g} V", "three-halves-law"
    sheet_mA, sheet_gm, source = _sheet_transconductance(tube)
    volts = 1.5 * sheet_mA / sheet_gm * (plate_mA / sheet_mA) ** (2 / 3)
    step = (
        f"sheet {sheet_gm:.3g} mA/V at {sheet_mA:.3g} mA; drive at {plate_mA:.4g} mA by the three-halves law = "
        f"{volts:.3g} V"
    )
    return volts, step, source


def _sheet_transconductance(tube: str) -> tuple[float, float, str]:
    """Plate mA, transconductance in mA/V and source id of a tube's best operating point."""
    if not tube:
        raise ValueError("say which tube is fitted, or give its transconductance in mA per volt")
    try:
        family = load().tube(tube)
    except LookupError as error:
        raise ValueError(str(error)) from error
    points = [point for point in family.operating_points if point.plate_mA and point.transconductance_uA_per_V]
    if not points:
        raise ValueError(f"no transconductance of a {family.name} is on file; give it in mA per volt")
    best = min(points, key=lambda point: not point.seen)
    return best.plate_mA or 0.0, (best.transconductance_uA_per_V or 0.0) / 1000, best.source
