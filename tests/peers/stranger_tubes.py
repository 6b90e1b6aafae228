"""Tubes that are not the program's: three families of laws, with constants that it never saw, as ngspice expressions.

`article`       the equations and constants of "Improved vacuum tube models for SPICE simulations", Glass Audio vol. 8
                no. 5 (1996), for the types it treats, as they are quoted in public SPICE libraries; the other types'
                constants from memory.
`measured`      the triode of Dempwolf and Zölzer, "A physically-motivated triode model for circuit simulations",
                DAFx-11 (2011), with its constants for the 12AX7 it calls RSD-1; the other types have its shape and their
                own amplification factor. It treats no pentodes: they have the same law for the space current, by the screen.
`three-halves`  the law of Child and Langmuir, with the amplification factor that the data sheet prints.

A law whose constants no one published for a type is scaled so that it passes through the first operating point that the
type's data sheet prints. What the grid draws, how a pentode divides its current and how sharply it cuts off differ
from family to family.
"""

from dataclasses import dataclass

import numpy as np

FAMILIES = ("article", "measured", "three-halves")

#: mu, exponent, kg1, kp, kvb
ARTICLE_TRIODES = {
    "12AX7": (100, 1.4, 1060, 600, 300), "12AT7": (60, 1.35, 460, 300, 300), "12AU7": (21.5, 1.3, 1180, 84, 300),
}  # fmt: skip
#: mu, exponent, kg1, kg2, kp, kvb
ARTICLE_PENTODES = {"6L6GC": (8.7, 1.35, 1460, 4500, 48, 12), "EL34": (11, 1.35, 650, 4200, 60, 24)}
#: Amplification factor (of a pentode: grid to screen), as the data sheets of the types print it; from memory.
MU = {
    "12AX7": 100, "12AT7": 60, "12AU7": 19, "6SL7GT": 70, "6SN7GT": 20, "12AY7": 44, "5751": 70, "6V6GT": 9.8,
    "6L6GC": 8, "EL34": 11, "EL84": 19.5, "7591": 17, "6550": 8, "KT66": 8, "KT88": 8,
}  # fmt: skip
#: Plate volts, grid volts, plate mA, and of a pentode screen volts and mA, at the operating point that the data sheets
#: of the types print first; from memory.
PRINTED = {
    "12AX7": (250, -2, 1.2), "12AT7": (250, -2, 10), "12AU7": (250, -8.5, 10.5), "6SL7GT": (250, -2, 2.3),
    "6SN7GT": (250, -8, 9), "12AY7": (250, -4, 3), "5751": (250, -3, 1.0), "6V6GT": (250, -12.5, 45, 250, 4.5),
    "6L6GC": (250, -14, 72, 250, 5), "EL84": (250, -7.3, 48, 250, 5.5), "EL34": (250, -12.2, 100, 250, 15),
    "7591": (300, -10, 60, 300, 8), "6550": (400, -16.5, 87, 225, 4), "KT66": (250, -15, 85, 250, 6.3),
}  # fmt: skip


@dataclass(frozen=True)
class Sample:
    """One section as it came out of the factory: factors on emission and amplification, and how many volts its contact
    potential is off."""

    emission: float = 1.0
    mu: float = 1.0
    contact_V: float = 0.0


@dataclass(frozen=True)
class Currents:
    """ngspice expressions for what flows into each electrode (A). screen: nil for a triode."""

    grid: str
    plate: str
    screen: str


def currents(family: str, kind: str, one: Sample, grid: str, plate: str, screen: str | None) -> Currents:
    """Currents of one section of type `kind` at volts to its cathode that are themselves expressions."""
    scale = one.emission * _scale(family, kind)
    mu = _mu(family, kind) * one.mu
    g = f"(({grid})+({one.contact_V:.6g}))"
    if screen is None:
        return Currents(_grid(family, g, one.emission), f"{scale:.8g}*({_space(family, kind, g, plate, mu)})", "0")
    space = f"({scale:.8g}*({_space(family, kind, g, screen, mu)}))"
    share, rest = _division(family, kind, plate, screen)
    return Currents(_grid(family, g, one.emission), f"{space}*{share}", f"{space}*{rest}")


def _mu(family: str, kind: str) -> float:
    if family == "article":
        found = ARTICLE_TRIODES.get(kind) or ARTICLE_PENTODES.get(kind)
        return float(found[0] if found else MU[kind])
    return 103.2 if (family, kind) == ("measured", "12AX7") else float(MU[kind])


def _space(family: str, kind: str, grid: str, plate: str, mu: float) -> str:
    """What leaves the cathode, but for a factor."""
    if family == "article":
        pentode = kind in ARTICLE_PENTODES or "screen_V" in point(kind)
        _, x, kg1, *_, kp, kvb = (
            ARTICLE_TRIODES.get(kind) or ARTICLE_PENTODES.get(kind)
            or ((0, 1.35, 1000, 4500, 48, 12) if pentode else (0, 1.35, 1000, 300, 300))
        )  # fmt: skip
        root = f"sqrt({kvb}+({plate})*({plate}))" if not pentode else f"sqrt(1+({plate})*({plate}))"
        return f"2/{kg1}*pow(max({plate},0)/{kp}*sp({kp}*({1 / mu:.8g}+{grid}/{root})),{x})"
    if family == "measured":
        sharp = 3.4 * 100 / mu if mu < 100 else 3.4
        sharp, gamma = min(sharp, 8.0), 1.26 if kind == "12AX7" else 1.35
        return f"2.242e-3*pow(sp({sharp:.6g}*(max({plate},0)/{mu:.8g}+{grid}))/{sharp:.6g},{gamma})*tanh(max({plate},0)/2)"
    return f"1e-3*pow(0.25*sp((max({plate},0)/{mu:.8g}+{grid})/0.25),1.5)*tanh(max({plate},0)/3)"


def _grid(family: str, grid: str, emission: float) -> str:
    """Grid current, which a cathode that gives nothing can't feed."""
    fed = min(1.0, emission)
    if family == "article":  # a thousand ohms and more beyond the onset
        return f"{fed:.6g}*4e-4*pow(0.12*sp(({grid}+0.35)/0.12),1.5)"
    if family == "measured":
        return f"{fed:.6g}*6.177e-4*pow(sp(9.901*({grid}))/9.901,1.314)"
    return f"{fed:.6g}*8e-4*pow(0.1*sp(({grid}+0.5)/0.1),1.5)"


def _division(family: str, kind: str, plate: str, screen: str) -> tuple[str, str]:
    """Plate's and screen's share of the space current."""
    up = f"max({plate},0)"
    at = point(kind)
    ratio = at["screen_mA"] / at["plate_mA"]
    if family == "article":
        found = ARTICLE_PENTODES.get(kind)
        kvb, ratio = (found[5], found[2] / found[3] / 1.45) if found else (16, ratio)
        return f"atan({up}/{kvb})", f"{1.45 * ratio:.6g}*(1+2*exp(-{up}/20))"
    if family == "measured":
        share = 1 / (1 + ratio)
        own = f"({share:.6g}*(1-exp(-{up}/15))*(1+1.5e-4*{up}))"
        return own, f"(1-{share:.6g}*(1-exp(-{up}/15)))"
    own = f"(1-exp(-8*{up}/max({screen},20)))"
    return f"{own}*(1+2e-4*{up})", f"({ratio:.6g}+0.8*(1-{own}))"


def point(kind: str) -> dict[str, float]:
    """The operating point of the type's data sheet."""
    names = ("plate_V", "grid_V", "plate_mA", "screen_V", "screen_mA")
    return {name: float(value) for name, value in zip(names, PRINTED[kind], strict=False)}


def _scale(family: str, kind: str) -> float:
    """What brings a law to the printed point; 1 where its constants were published."""
    if family == "article" and (kind in ARTICLE_TRIODES or kind in ARTICLE_PENTODES):
        return 1.0
    if (family, kind) == ("measured", "12AX7"):
        return 1.0
    at = point(kind)
    by = repr(at.get("screen_V", at["plate_V"]))
    value = _value(_space(family, kind, f"({at['grid_V']!r})", by, _mu(family, kind)))
    if "screen_V" in at:
        value *= _value(_division(family, kind, repr(at["plate_V"]), by)[0])
    return at["plate_mA"] / 1000 / value


def _value(expression: str) -> float:
    """An ngspice expression without nodes, worked out here."""
    names = {
        "sp": lambda x: float(np.logaddexp(0.0, x)), "pow": lambda a, b: abs(a) ** b, "max": max, "sqrt": np.sqrt,
        "tanh": np.tanh, "exp": np.exp, "atan": np.arctan,
    }  # fmt: skip
    return float(eval(expression, {"__builtins__": {}}, names))
