"""Output transformer: turns ratio, reflected load, mismatch, the two halves."""

from __future__ import annotations

import math

from .figure import Figure, figure, positive
from .notation import show
from .sums import short_percent

TEST = (
    "AC of a few volts on a winding, the other open, chassis unplugged and discharged. Put it on the high side: a "
    "few volts on the secondary would give dozens of times that on the plates."
)


@figure
def turns_ratio(*, primary_V: float, secondary_V: float) -> Figure:
    """Turns ratio plate to plate over secondary, from AC volts on both windings."""
    positive(primary_V=primary_V, secondary_V=secondary_V)
    value = primary_V / secondary_V
    return Figure(
        name="turns ratio",
        value=value,
        unit="ratio",
        steps=(f"{primary_V:.4g} V / {secondary_V:.4g} V = {value:.4g}",),
        rests_on=TEST,
        source="textbook-identity",
    )


@figure
def reflected_ohm(*, load_ohm: float, primary_V: float, secondary_V: float) -> Figure:
    """Plate-to-plate load that a speaker load makes, from an AC test."""
    positive(load_ohm=load_ohm, primary_V=primary_V, secondary_V=secondary_V)
    ratio = primary_V / secondary_V
    value = load_ohm * ratio**2
    return Figure(
        name="load seen plate to plate",
        value=value,
        unit="ohm",
        steps=(
            f"turns ratio = {primary_V:.4g} V / {secondary_V:.4g} V = {ratio:.4g}",
            f"{show(load_ohm, 'ohm')} x {ratio:.4g}^2 = {show(value, 'ohm')}",
            f"a tube alone sees {show(value / 2, 'ohm')} in class A, {show(value / 4, 'ohm')} in class B",
        ),
        rests_on=TEST + " A speaker's impedance is nominal and varies with frequency.",
        source="textbook-identity",
    )


@figure
def secondary_load_ohm(*, primary_ohm: float, primary_V: float, secondary_V: float) -> Figure:
    """Speaker load that gives the wanted plate-to-plate load on a transformer of unknown taps."""
    positive(primary_ohm=primary_ohm, primary_V=primary_V, secondary_V=secondary_V)
    ratio = primary_V / secondary_V
    value = primary_ohm / ratio**2
    return Figure(
        name="load for this tap",
        value=value,
        unit="ohm",
        steps=(f"{show(primary_ohm, 'ohm')} / {ratio:.4g}^2 = {show(value, 'ohm')}",),
        rests_on=TEST,
        source="textbook-identity",
    )


@figure
def load_mismatch_ratio(*, load_ohm: float, tap_ohm: float) -> Figure:
    """Speaker load over the tap it is on: 2 is twice the load, 0.5 half of it."""
    positive(load_ohm=load_ohm, tap_ohm=tap_ohm)
    value = load_ohm / tap_ohm
    apart = abs(math.log2(value))
    verdict = "matched" if apart <= 0.3 else "within two to one" if apart <= 1.1 else "mismatched"
    warning = ""
    if apart > 0.3:
        warning = (
            "higher load: less power, higher plate peaks, arcing in sockets and transformer when driven hard"
            if value > 1
            else "lower load: less power, more plate current and heat in the tubes when driven hard"
        )
    return Figure(
        name="load over tap",
        value=value,
        unit="ratio",
        steps=(f"{show(load_ohm, 'ohm')} / {show(tap_ohm, 'ohm')} = {value:.3g}",),
        rests_on="Nominal impedances. Two to one either way is commonly survived; never run without any load.",
        source="common-practice",
        verdict=verdict,
    ).warn(warning)


@figure
def halves_mismatch_percent(*, one_ohm: float, other_ohm: float) -> Figure:
    """Difference of the DC resistances of the two primary halves as a share of the higher."""
    positive(one_ohm=one_ohm, other_ohm=other_ohm)
    value = short_percent(one_ohm, other_ohm)
    return Figure(
        name="difference of the primary halves",
        value=value,
        unit="percent",
        steps=(f"{show(one_ohm, 'ohm')} and {show(other_ohm, 'ohm')}: {value:.3g} % apart",),
        rests_on="One half is wound outside the other and is longer: up to 15 % is usual. Turns are what counts: "
        "equal AC volts on both halves prove the winding, DC resistance does not.",
        source="common-practice",
        verdict="usual" if value <= 15 else "suspect: test the halves with AC for shorted turns",
    )


@figure
def halves_turns_percent(*, one_V: float, other_V: float) -> Figure:
    """Difference of the AC volts of the two primary halves, which is that of their turns."""
    positive(one_V=one_V, other_V=other_V)
    value = short_percent(one_V, other_V)
    return Figure(
        name="difference of turns",
        value=value,
        unit="percent",
        steps=(f"{one_V:.4g} V and {other_V:.4g} V: {value:.3g} % apart",),
        rests_on=TEST,
        source="common-practice",
        verdict="good" if value <= 3 else "shorted turns or a tap that is not at the center",
    )
