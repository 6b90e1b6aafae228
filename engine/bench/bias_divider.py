"""The bias divider of a fixed-bias supply: its volts, its trimmer, its resistors, and what a change does."""

from __future__ import annotations

from .bias import across_tube, drive
from .figure import Figure, choice, figure, positive
from .notation import show
from .preferred import nearest
from .ratings import allowed

WIRING = (
    "Wiring assumed: bias source, series resistor, trimmer with the wiper as output, ground resistor, chassis. "
    "The source's own resistance and the grid leaks' load are left out."
)


@figure
def bias_V(
    *,
    source_V: float,
    series_ohm: float,
    ground_ohm: float,
    trimmer_ohm: float = 0.0,
    trimmer_percent: float = 0.0,
) -> Figure:
    """Bias volts at the wiper of a divider; trimmer_percent 100 is the end nearer the source (coldest)."""
    total = series_ohm + trimmer_ohm + ground_ohm
    positive(total_ohm=total)
    below = ground_ohm + trimmer_ohm * trimmer_percent / 100
    volts = source_V * below / total
    return Figure(
        name="bias volts",
        value=volts,
        unit="V",
        steps=(f"{source_V:.4g} V x {show(below, 'ohm')} / {show(total, 'ohm')} = {volts:.4g} V",),
        rests_on=WIRING,
        source="textbook-identity",
    )


@figure
def trimmer_span_V(*, source_V: float, series_ohm: float, ground_ohm: float, trimmer_ohm: float) -> Figure:
    """How many volts the bias trimmer can move, from its hottest to its coldest end."""
    hot = bias_V(source_V=source_V, series_ohm=series_ohm, ground_ohm=ground_ohm, trimmer_ohm=trimmer_ohm)
    cold = bias_V(
        source_V=source_V, series_ohm=series_ohm, ground_ohm=ground_ohm, trimmer_ohm=trimmer_ohm, trimmer_percent=100
    )
    span = abs(cold.value - hot.value)
    return Figure(
        name="span of the bias trimmer",
        value=span,
        unit="V",
        steps=(f"hottest end {hot.value:.4g} V, coldest end {cold.value:.4g} V", f"span = {span:.3g} V"),
        rests_on=WIRING,
        source="textbook-identity",
        warnings=(
            "the hottest end must still bias the tubes safely: check it with the sheet before turning there",
            "a worn wiper that lets go takes the bias away: a resistor from wiper to the cold end saves the tubes",
        ),
    )


@figure
def ground_resistor_ohm(
    *,
    source_V: float,
    wanted_V: float,
    series_ohm: float,
    trimmer_ohm: float = 0.0,
    trimmer_percent: float = 50.0,
    series: str = "E12",
) -> Figure:
    """Ground resistor of a bias divider that gives the wanted volts, rounded to the nearest preferred value."""
    positive(series_ohm=series_ohm)
    share = _wanted_share(wanted_V, source_V)
    exact = (share * (series_ohm + trimmer_ohm) - trimmer_ohm * trimmer_percent / 100) / (1 - share)
    if exact <= 0:
        raise ValueError("no resistor gives that with the trimmer where it is; turn it toward the chassis end")
    value = nearest(exact, series)
    given = bias_V(
        source_V=source_V, series_ohm=series_ohm, ground_ohm=value, trimmer_ohm=trimmer_ohm,
        trimmer_percent=trimmer_percent,
    )  # fmt: skip
    return _resistor("ground resistor of the bias divider", exact, value, given, series)


@figure
def series_resistor_ohm(
    *,
    source_V: float,
    wanted_V: float,
    ground_ohm: float,
    trimmer_ohm: float = 0.0,
    trimmer_percent: float = 50.0,
    series: str = "E12",
) -> Figure:
    """Series resistor of a bias divider that gives the wanted volts, rounded to the nearest preferred value."""
    positive(ground_ohm=ground_ohm)
    share = _wanted_share(wanted_V, source_V)
    exact = (ground_ohm + trimmer_ohm * trimmer_percent / 100) / share - trimmer_ohm - ground_ohm
    if exact <= 0:
        raise ValueError("no resistor gives that with the trimmer where it is; turn it toward the source end")
    value = nearest(exact, series)
    given = bias_V(
        source_V=source_V, series_ohm=value, ground_ohm=ground_ohm, trimmer_ohm=trimmer_ohm,
        trimmer_percent=trimmer_percent,
    )  # fmt: skip
    return _resistor("series resistor of the bias divider", exact, value, given, series)


def _wanted_share(wanted_V: float, source_V: float) -> float:
    share = wanted_V / source_V if source_V else 0.0
    if not 0 < share < 1:
        raise ValueError("the wanted bias must have the sign of the source and be smaller")
    return share


def _resistor(name: str, exact: float, value: float, given: Figure, series: str) -> Figure:
    return Figure(
        name=name,
        value=value,
        unit="ohm",
        steps=(
            f"exact value {show(exact, 'ohm')}",
            f"nearest in {series.upper()}: {show(value, 'ohm')}",
            f"it gives {given.value:.4g} V",
        ),
        rests_on=WIRING,
        source="iec-60063",
        warnings=("set the trimmer to its coldest end before the tubes go back in",),
        chosen=True,
    )


@figure
def change_V(*, source_V: float, from_ohm: float, to_ohm: float, other_ohm: float, position: str = "ground") -> Figure:
    """What changing one resistor of a bias divider does (47 k to 39 k, say). position: ground or series.

    other_ohm: all the rest of the divider, up to the source.
    """
    positive(from_ohm=from_ohm, to_ohm=to_ohm, other_ohm=other_ohm)
    ground = choice("position", position, ("ground", "series")) == "ground"
    before, after = (source_V * (value if ground else other_ohm) / (value + other_ohm) for value in (from_ohm, to_ohm))
    colder_V = abs(after) - abs(before)
    way = "hotter" if colder_V < 0 else "colder" if colder_V > 0 else "as before"
    return Figure(
        name="change of bias",
        value=after - before,
        unit="V",
        steps=(
            f"with {show(from_ohm, 'ohm')} {before:.4g} V, with {show(to_ohm, 'ohm')} {after:.4g} V",
            f"change {after - before:+.3g} V: the tubes idle {way}",
        ),
        rests_on="An unloaded divider with the output between the two parts, and a bias source that holds its volts.",
        source="textbook-identity",
        verdict=way,
    )


@figure
def hottest_end_percent(
    *,
    present_V: float,
    hottest_V: float,
    present_mA: float,
    plate_V: float,
    cathode_V: float = 0.0,
    tube: str = "",
    rating_W: float | None = None,
    system: str = "",
    transconductance_mA_per_volt: float | None = None,
) -> Figure:
    """Plate dissipation, as a share of the rating, that the trimmer's hottest end would bring.

    present_V: at the grid now; hottest_V: at the hottest end, see bias_V; present_mA: plate current of one tube now.
    """
    positive(present_mA=present_mA)
    rating = allowed(tube, "plate_W", rating_W, system)
    positive(rating_W=rating.value)
    across = across_tube(plate_V, cathode_V)
    driven_V, step, _ = drive(present_mA, tube, transconductance_mA_per_volt)
    reached = max(0.0, driven_V + hottest_V - present_V)
    current = present_mA * (reached / driven_V) ** 1.5
    percent = current * across / rating.value / 10
    return Figure(
        name="dissipation at the trimmer's hottest end",
        value=percent,
        unit="percent",
        steps=(
            step,
            f"bias {present_V:.4g} V to {hottest_V:.4g} V: {present_mA:.4g} mA x ({reached:.3g} / {driven_V:.3g})^1.5 "
            f"= {current:.4g} mA",
            f"{across:.4g} V x {current:.4g} mA / {rating.value:.4g} W = {percent:.3g} % ({rating.why})",
        ),
        rests_on="Constant plate and screen volts, so it reads high: the supply sags as the current grows.",
        source=rating.source,
        verdict="unsafe end" if percent > 100 else "safe over its whole travel",
    ).warn(
        rating.warning,
        "never turn there with the tubes in; a fixed resistor keeps the end safe" if percent > 100 else "",
    )


@figure
def safe_travel_percent(
    *,
    source_V: float,
    series_ohm: float,
    ground_ohm: float,
    trimmer_ohm: float,
    present_V: float,
    present_mA: float,
    plate_V: float,
    cathode_V: float = 0.0,
    tube: str = "",
    rating_W: float | None = None,
    system: str = "",
    transconductance_mA_per_volt: float | None = None,
) -> Figure:
    """How much of the bias trimmer's travel, counted from its coldest end, keeps the plates within their rating.

    present_V: at the grid now; present_mA: plate current of one tube now.
    """
    positive(present_mA=present_mA, trimmer_ohm=trimmer_ohm)
    rating = allowed(tube, "plate_W", rating_W, system)
    across = across_tube(plate_V, cathode_V)
    driven_V, step, _ = drive(present_mA, tube, transconductance_mA_per_volt)
    most_mA = 1000 * rating.value / across
    hottest_V = present_V + driven_V * ((most_mA / present_mA) ** (2 / 3) - 1)
    positive(source=abs(source_V))
    wiper_ohm = hottest_V / source_V * (series_ohm + trimmer_ohm + ground_ohm) - ground_ohm
    value = min(max(100 * (1 - wiper_ohm / trimmer_ohm), 0.0), 100.0)
    return Figure(
        name="safe travel of the bias trimmer, from its coldest end",
        value=value,
        unit="percent",
        steps=(
            f"{rating.value:.4g} W / {across:.4g} V = {most_mA:.4g} mA at the most ({rating.why})",
            step,
            f"which takes a bias of {hottest_V:.4g} V at the hottest",
            f"the wiper is then {show(max(wiper_ohm, 0.0), 'ohm')} of {show(trimmer_ohm, 'ohm')} from the hot end",
            f"which leaves {value:.3g} % of the travel, from the cold end",
        ),
        rests_on=f"{WIRING} Constant plate and screen volts, so on the safe side: the supply sags.",
        source=rating.source,
        verdict="safe over its whole travel" if value >= 100 else "the hot end is unsafe",
    ).warn(
        rating.warning,
        "never turn past it with the tubes in; a fixed resistor keeps the end safe" if value < 100 else "",
    )
