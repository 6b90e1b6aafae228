"""Volts, watts and resistances against the ratings of the tube fitted, with the mains taken into account."""

from __future__ import annotations

from contextlib import suppress

from ..reference.tables import load
from .figure import Figure, choice, figure, positive
from .notation import show
from .ratings import Allowed, allowed


def _share(name: str, value: float, unit: str, limit: Allowed, steps: tuple[str, ...], rests_on: str) -> Figure:
    positive(rating=limit.value)
    percent = 100 * value / limit.value
    over = f"over the rating by {show(value - limit.value, unit)}" if percent > 100 else "within the rating"
    return Figure(
        name=name,
        value=percent,
        unit="percent",
        steps=(
            *steps,
            f"rating {show(limit.value, unit)} ({limit.why})",
            f"{show(value, unit)} / {show(limit.value, unit)} = {show(percent, 'percent')}, {over}",
        ),
        rests_on=rests_on,
        source=limit.source,
        verdict="over" if percent > 100 else "within",
    ).warn(limit.warning)


@figure
def plate_voltage_percent(
    *, plate_V: float, cathode_V: float = 0.0, tube: str = "", rating_V: float | None = None, system: str = ""
) -> Figure:
    """Plate-to-cathode volts as a share of the plate rating of the tube fitted."""
    across = plate_V - cathode_V
    return _share(
        "plate volts as a share of the rating",
        across,
        "V",
        allowed(tube, "plate_V", rating_V, system),
        (f"plate to cathode = {plate_V:.4g} V - {cathode_V:.4g} V = {across:.4g} V",),
        "Many guitar amps ran output tubes well over the sheet for years; it shortens tube life and takes good tubes.",
    )


@figure
def plate_voltage_over_V(
    *, plate_V: float, cathode_V: float = 0.0, tube: str = "", rating_V: float | None = None, system: str = ""
) -> Figure:
    """Volts by which the plate is over its rating; negative is room to spare."""
    return _over("plate", plate_V - cathode_V, allowed(tube, "plate_V", rating_V, system))


@figure
def screen_voltage_percent(
    *, screen_V: float, cathode_V: float = 0.0, tube: str = "", rating_V: float | None = None, system: str = ""
) -> Figure:
    """Screen-to-cathode volts as a share of the screen rating of the tube fitted."""
    across = screen_V - cathode_V
    return _share(
        "screen volts as a share of the rating",
        across,
        "V",
        allowed(tube, "screen_V", rating_V, system),
        (f"screen to cathode = {screen_V:.4g} V - {cathode_V:.4g} V = {across:.4g} V",),
        "Screens suffer first when a tube is pushed too hard: look for red-hot screen wires in the dark.",
    )


@figure
def screen_voltage_over_V(
    *, screen_V: float, cathode_V: float = 0.0, tube: str = "", rating_V: float | None = None, system: str = ""
) -> Figure:
    """Volts by which the screen is over its rating; negative is room to spare."""
    return _over("screen", screen_V - cathode_V, allowed(tube, "screen_V", rating_V, system))


def _over(what: str, across: float, limit: Allowed) -> Figure:
    over = across - limit.value
    return Figure(
        name=f"{what} volts over the rating",
        value=over,
        unit="V",
        steps=(
            f"rating {limit.value:.4g} V ({limit.why})",
            f"{across:.4g} V - {limit.value:.4g} V = {over:+.4g} V",
        ),
        rests_on="Volts to the cathode, at idle.",
        source=limit.source,
        verdict="over" if over > 0 else "within",
    ).warn(limit.warning)


@figure
def screen_dissipation_percent(
    *,
    screen_V: float,
    screen_mA: float,
    cathode_V: float = 0.0,
    tube: str = "",
    rating_W: float | None = None,
    system: str = "",
) -> Figure:
    """Screen watts as a share of the screen rating of the tube fitted."""
    across = screen_V - cathode_V
    watts = across * screen_mA / 1000
    return _share(
        "screen dissipation as a share of the rating",
        watts,
        "W",
        allowed(tube, "screen_W", rating_W, system),
        (f"{across:.4g} V x {screen_mA:.3g} mA = {watts:.3g} W",),
        "At idle; screens dissipate several times more at full signal.",
    )


@figure
def heater_voltage_percent(*, heater_V: float, nominal_V: float = 6.3) -> Figure:
    """Heater volts as a share of nominal; 90 to 110 percent is allowed on the sheets read."""
    positive(nominal_V=nominal_V)
    window = load().window("heater_percent")
    percent = 100 * heater_V / nominal_V
    low, high = window.floor, window.ceiling
    verdict = "low" if percent < low else "high" if percent > high else "within"
    return Figure(
        name="heater volts as a share of nominal",
        value=percent,
        unit="percent",
        steps=(f"{heater_V:.4g} V / {nominal_V:.4g} V = {percent:.4g} %, allowed {low:g} to {high:g} %",),
        rests_on="AC RMS volts at the tube's own pins, all tubes fitted and warm.",
        source=window.source,
        verdict=verdict,
    )


@figure
def mains_percent(*, mains_V: float, designed_V: float = 117.0) -> Figure:
    """Mains volts as a share of what the amplifier was designed for (110, 115, 117, 120, 220, 230, 240)."""
    positive(designed_V=designed_V)
    percent = 100 * mains_V / designed_V
    return Figure(
        name="mains as a share of the design volts",
        value=percent,
        unit="percent",
        steps=(f"{mains_V:.4g} V / {designed_V:.4g} V = {percent:.4g} %",),
        rests_on="Every voltage in the amp, heaters included, follows the mains nearly in proportion.",
        source="common-practice",
        verdict="high" if percent > 105 else "low" if percent < 95 else "near",
    ).warn("all volts and heaters run high in proportion: consider a lower tap or a bucking transformer, done by a "
           "licensed person where code requires one" if percent > 105 else "")  # fmt: skip


@figure
def mains_corrected_V(*, reading_V: float, mains_V: float, designed_V: float = 117.0) -> Figure:
    """What a supply or heater reading would be at the mains volts the amplifier was designed for."""
    positive(mains_V=mains_V, designed_V=designed_V)
    corrected = reading_V * designed_V / mains_V
    return Figure(
        name="reading corrected to the design mains",
        value=corrected,
        unit="V",
        steps=(f"{reading_V:.4g} V x {designed_V:.4g} V / {mains_V:.4g} V = {corrected:.4g} V",),
        rests_on="Proportion. Cathode-biased stages follow it closely, fixed-biased ones nearly.",
        source="common-practice",
    )


@figure
def heater_cathode_percent(
    *, cathode_V: float, heater_V: float = 0.0, tube: str = "", rating_V: float | None = None
) -> Figure:
    """Volts between cathode and heater (its DC level) as a share of what the tube allows."""
    across = abs(cathode_V - heater_V)
    limit = _heater_cathode(tube, cathode_V > heater_V, rating_V)
    return _share(
        "heater to cathode volts as a share of the rating",
        across,
        "V",
        limit,
        (f"cathode {cathode_V:.4g} V, heater {heater_V:.4g} V: {across:.4g} V between them",),
        "DC level of the heater circuit at the tube; add its AC peak when near the limit.",
    )


def _heater_cathode(tube: str, heater_negative: bool, given: float | None) -> Allowed:
    keys = (
        "heater_negative_V" if heater_negative else "heater_positive_V",
        "heater_cathode_V",
        "heater_cathode_peak_V",
    )
    for key in keys:
        with suppress(ValueError):
            return allowed(tube, key, given)
    return allowed(tube, keys[0], given)  # raises, naming what is wanted


@figure
def grid_resistor_percent(
    *, grid_resistor_ohm: float, tube: str = "", bias: str = "fixed", rating_ohm: float | None = None
) -> Figure:
    """Grid-circuit resistance as a share of what the tube allows. bias: fixed or cathode."""
    kind = choice("bias", bias, ("fixed", "cathode"))
    try:
        limit = allowed(tube, f"grid_resistor_{kind}_bias_ohm", rating_ohm)
    except ValueError:
        limit = allowed(tube, "grid_resistor_ohm", rating_ohm)
    return _share(
        "grid-circuit resistance as a share of the rating",
        grid_resistor_ohm,
        "ohm",
        limit,
        (f"grid to bias source or chassis {show(grid_resistor_ohm, 'ohm')}, {kind} bias",),
        "Above it grid current can pull the bias away and the tube runs away. Many amps exceed it with cool tubes.",
    )
