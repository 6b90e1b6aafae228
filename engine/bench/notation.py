"""Numbers as a technician types and reads them: ``4k7``, ``2n2``, ``0.022u``, ``-38V``, ``60mA``, ``47R``.

`parse` turns such a text into a number in the unit wanted; `show` prints one in trade style. Marking codes
follow IEC 60062 (through rkm-codes), prefixes the SI (through quantiphy). What could be read in two ways is
refused with the reason: a comma, ``m`` for an ohm or a farad, a unit that is not the one wanted.
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import NamedTuple

from ..late import late
from .units import PREFIXED, UNITS

with late():
    import quantiphy
    import rkm_codes

LONGEST = 40
_NUMBER = re.compile(r"(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(?P<tail>[^\d\s.].*|)", re.ASCII)
_CODE = re.compile(r"(?P<sign>[+-]?)(?P<code>\d*(?P<letter>[RrLFVvkKMGTmnpuµ])\d+)\s*(?P<tail>.*)", re.ASCII)
_OPEN = re.compile(r"o\.?/?l\.?|open|open circuit|infinite|∞", re.IGNORECASE)

# Words for units, longest first where one ends in another. Case matters only for the prefix before them.
_SPELLINGS: dict[str, str] = {
    "volts": "V", "volt": "V", "vdc": "V", "vac": "V", "v": "V",
    "amperes": "A", "ampere": "A", "amps": "A", "amp": "A", "a": "A",
    "ohms": "Ω", "ohm": "Ω", "ω": "Ω", "r": "Ω",
    "farads": "F", "farad": "F", "fd": "F", "f": "F",
    "henries": "H", "henry": "H", "hy": "H",
    "hertz": "Hz", "hz": "Hz", "c/s": "Hz", "h": "H",
    "watts": "W", "watt": "W", "w": "W",
    "db": "dB", "%": "%", "percent": "%", "per cent": "%", "pct": "%",
    "°c": "°C", "degc": "°C", "c": "°C",
    "minutes": "min", "minute": "min", "min": "min", "seconds": "s", "second": "s", "sec": "s", "s": "s",
    "mm²": "mm²", "mm2": "mm²", "metres": "m", "metre": "m",
}  # fmt: skip
_PREFIXES = {"p": "p", "n": "n", "u": "µ", "µ": "µ", "micro": "µ", "m": "m", "k": "k", "K": "k", "M": "M", "meg": "M",
             "Meg": "M", "MEG": "M", "G": "G", "mm": "p", "": ""}  # fmt: skip
_POWERS = {"p": -12, "n": -9, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
# What a bare prefix gives away when the unit wanted never goes with it.
_CAPACITANCE = dict.fromkeys(("n", "p", "µ"), "a capacitance")
_RESISTANCE = dict.fromkeys(("k", "M", "G"), "a resistance")
_OTHERWISE: dict[str, dict[str, str]] = {
    "Ω": _CAPACITANCE,
    "F": _RESISTANCE,
    "V": {"n": "a capacitance", "p": "a capacitance"} | _RESISTANCE,
    "A": {"n": "a capacitance", "p": "a capacitance"} | _RESISTANCE,
    "W": _CAPACITANCE | _RESISTANCE,
    "Hz": _CAPACITANCE,
}
_QUANTITY = {unit.symbol: unit.quantity for unit in UNITS.values()} | {"min": "a time"}


class NotationError(ValueError):
    """The text can't be read as the quantity wanted; the message is for people."""


class Typed(NamedTuple):
    """A number as typed, in the unit it was wanted in. An open circuit is math.inf."""

    value: float
    unit: str


def parse(text: str, unit: str, allow_open: bool = False) -> Typed:
    """Read what a technician typed as a number of `unit` (a key of units.UNITS).

    A text with no unit is taken in the unit wanted: ``60`` is 60 mA where mA is wanted, ``4k7`` is 4,700 ohm.
    allow_open: take ``OL`` or ``open`` as an open circuit, given as math.inf.
    Raises NotationError.
    """
    wanted = UNITS[unit]
    typed = _tidy(text)
    if _OPEN.fullmatch(typed):
        if allow_open:
            return Typed(math.inf, unit)
        raise NotationError(f"'{typed}' is an open circuit or overload; {wanted.wanted} are wanted here")
    number, prefix, symbol = _split(typed, wanted.wanted)
    _unambiguous(typed, prefix, symbol or wanted.symbol)
    if prefix and not symbol and prefix in _OTHERWISE.get(wanted.symbol, {}):
        raise NotationError(f"'{typed}': that reads as {_OTHERWISE[wanted.symbol][prefix]}; {wanted.wanted} are wanted")
    if wanted.symbol == "m" and prefix == "m" and not symbol:
        prefix, symbol = "", "m"
    si = {"min": "s"}.get(symbol, symbol)
    if si and si != wanted.symbol:
        raise NotationError(f"'{typed}': that is {_QUANTITY[symbol]}; {wanted.wanted} are wanted")
    if prefix and wanted.symbol not in PREFIXED and symbol not in PREFIXED:
        raise NotationError(f"'{typed}': '{prefix}' does not go with {wanted.wanted}")
    if symbol or prefix:
        value = _scaled(number, prefix) * (60.0 if symbol == "min" else 1.0) / wanted.scale
    else:
        value = float(number)
    return Typed(_sane(typed, value, unit), unit)


def show(value: float, unit: str) -> str:
    """A number with its unit in trade style, four figures: ``4.7 kΩ``, ``22 nF``, ``287.4 V``, ``79.8 %``."""
    entry = UNITS[unit]
    if math.isinf(value):
        return "open circuit"
    if unit == "ohm" and abs(value) < 1:
        return f"{value:.4g} Ω"  # never milliohms: too easily taken for megohms
    if entry.symbol in PREFIXED:
        return _prefixed(value * entry.scale, entry.symbol)
    text = f"{value:.4g}"
    text = f"{value:.0f}" if "e+" in text else text
    return f"{text} {'min' if unit == 'minutes' else entry.symbol}".rstrip()


def _prefixed(value: float, symbol: str) -> str:
    """A number of SI units with the prefix that suits it, of those that can be typed back: from p to G, and for a
    capacitance to µ, since mF is read in two ways."""
    lowest, highest = _POWERS["p"], _POWERS["µ" if symbol == "F" else "G"]
    power = 3 * math.floor(math.log10(float(f"{abs(value):.3e}")) / 3) if value else 0
    if lowest <= power <= highest:
        return str(quantiphy.Quantity(value, symbol).render(prec=3, form="si")).replace("\u202f", " ")
    power = lowest if power < lowest else highest
    prefix = next(prefix for prefix, its in _POWERS.items() if its == power)
    number = f"{value / 10.0**power:.4g}"
    return f"{float(number):.0f} {prefix}{symbol}" if "e+" in number else f"{number} {prefix}{symbol}"


def give_or_take(value: float, error: float | None, unit: str) -> str:
    """A number with how far it may be off, to two figures and in the same unit: ``35 mA ± 0.77 mA``; alone when that is
    not known."""
    shown = show(value, unit)
    number, _, symbol = shown.partition(" ")
    if not error or math.isinf(value):
        return shown
    if not value or not float(number):
        return f"{shown} ± {show(float(f'{error:.2g}'), unit)}"
    return f"{shown} ± {float(f'{error * abs(float(number) / value):.2g}'):g} {symbol}".rstrip()


def marking(value: float, unit: str) -> str:
    """The marking code of a resistance or capacitance by IEC 60062: ``4K7``, ``47R``, ``2n2``."""
    if unit not in ("ohm", "F"):
        raise NotationError(f"only resistances and capacitances have a marking code, not {UNITS[unit].wanted}")
    rounded = float(f"{value:.4g}")
    if unit == "ohm" and rounded < 1000:
        whole, _, part = f"{rounded:f}".rstrip("0").partition(".")
        return f"{whole if whole != '0' or not part else ''}R{part}"
    code = str(rkm_codes.to_rkm(quantiphy.Quantity(value, UNITS[unit].symbol), prec=3))
    return code.replace("k", "K") if unit == "ohm" else code.replace("µ", "u")


def _tidy(text: str) -> str:
    """One line of plain characters. Raises NotationError for what can't be a number."""
    if any(unicodedata.category(sign) == "No" for sign in text.replace("mm²", "mm2")):
        raise NotationError("that is not a number: write small raised or circled digits out in full")
    typed = unicodedata.normalize("NFKC", text).replace("−", "-").replace("–", "-").replace("μ", "µ").strip()
    typed = " ".join(typed.split())
    if not typed:
        raise NotationError("nothing was entered")
    if len(typed) > LONGEST or not typed.isprintable():
        raise NotationError("that is not a number")
    if "," in typed:
        raise NotationError(
            f"'{typed}': a comma may mean a decimal point or thousands; write 1.5 for one and a half, 1500 without it"
        )
    return typed


def _split(typed: str, wanted: str) -> tuple[str, str, str]:
    """Number as text, SI prefix, unit symbol; the last two may be empty."""
    if code := _CODE.fullmatch(typed):
        return _coded(typed, code, wanted)
    match = _NUMBER.fullmatch(typed)
    if match is None:
        raise NotationError(f"'{typed}' can't be read as {wanted}; write it like 287.4, 4k7 or 0.022u")
    prefix, symbol = _tail(typed, match["tail"].strip(), wanted)
    return match["number"], prefix, symbol


def _coded(typed: str, code: re.Match[str], wanted: str) -> tuple[str, str, str]:
    """A marking code, where a letter stands for the decimal point: 4k7, R47, 2n2, 6V3."""
    letter, tail = code["letter"], code["tail"]
    after = _tail(typed, tail, wanted) if tail else ("", "")
    if letter in "vV":
        return code["sign"] + code["code"].replace(letter, "."), *(after if tail else ("", "V"))

    quantity = rkm_codes.from_rkm(code["code"])
    if quantity is None or after[0]:
        raise NotationError(f"'{typed}' can't be read as {wanted}; write it like 287.4, 4k7 or 0.022u")
    symbol = after[1] or {"R": "Ω", "r": "Ω", "L": "Ω", "F": "F"}.get(letter, "")
    prefix = _PREFIXES.get(letter, "")
    return code["sign"] + code["code"].replace(letter, ".") if prefix else f"{float(quantity):.12g}", prefix, symbol


def _tail(typed: str, tail: str, wanted: str) -> tuple[str, str]:
    if tail in _PREFIXES and tail != "mm":
        return _PREFIXES[tail], ""
    for spelling, symbol in sorted(_SPELLINGS.items(), key=lambda item: -len(item[0])):
        if tail.lower().endswith(spelling):
            prefix = tail[: len(tail) - len(spelling)].strip()
            if prefix in _PREFIXES and (prefix == "" or symbol in PREFIXED) and (prefix != "mm" or symbol == "F"):
                return _PREFIXES[prefix], symbol
    raise NotationError(f"'{typed}': '{tail}' is not a unit known here; {wanted} are wanted")


def _unambiguous(typed: str, prefix: str, symbol: str) -> None:
    """m and M are a factor of a billion apart; old parts print mF and MFD for a microfarad."""
    if symbol == "Ω" and prefix == "m":
        raise NotationError(f"'{typed}': a milliohm or a megohm? Write 1M for a megohm, 0.001 for a milliohm")
    if symbol == "F" and prefix in ("m", "M"):
        number = typed[: len(typed) - len(typed.lstrip("0123456789.+-"))] or "40"
        raise NotationError(f"'{typed}': old parts print mF for a microfarad. Write {number}u for {number} microfarads")
    if symbol in ("V", "A", "W") and prefix == "M":
        raise NotationError(f"'{typed}': M is a million. Write a small m for a thousandth, as in 60mA")


def _scaled(number: str, prefix: str) -> float:
    """In one step, so that 4.7 k is the float next to 4700; and not by quantiphy, to which 1e3k is a thousand k's."""
    digits, _, power = number.lower().partition("e")
    return float(f"{digits}e{int(power or 0) + _POWERS[prefix]}")


def _sane(typed: str, value: float, unit: str) -> float:
    entry = UNITS[unit]
    if math.isfinite(value) and entry.low <= value <= entry.high:
        return value
    hint = f" Was {typed}u or {typed}n meant?" if unit == "F" and typed.replace(".", "").isdigit() else ""
    raise NotationError(
        f"'{typed}' is {value:g} {entry.wanted.split(' (')[0]}, which no tube amplifier has; "
        f"check the decimal point and the prefix.{hint}"
    )
