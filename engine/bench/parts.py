"""Parts: color and marking codes, tolerance, series and parallel, pilot lamps, fuses."""

from __future__ import annotations

import re

from ..late import late
from ..reference.errors import UnknownName
from ..reference.tables import load
from .figure import Figure, choice, figure, positive
from .notation import NotationError, marking, parse, show
from .preferred import SERIES, nearest
from .sums import beside, off_percent

with late():
    import eseries

# IEC 60062, from memory
DIGITS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
MULTIPLIERS = {colour: 10.0**power for power, colour in enumerate(DIGITS)} | {
    "gold": 0.1,
    "silver": 0.01,
    "pink": 0.001,
}
TOLERANCES = {"brown": 1.0, "red": 2.0, "orange": 0.05, "yellow": 0.02, "green": 0.5, "blue": 0.25, "violet": 0.1,
              "grey": 0.01, "gold": 5.0, "silver": 10.0, "none": 20.0}  # fmt: skip
LETTERS = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0, "J": 5.0, "K": 10.0, "M": 20.0}
SPELLINGS = {"gray": "grey", "purple": "violet"}


@figure
def colour_ohm(*, bands: str) -> Figure:
    """Resistance from its color bands, first band first: ``yellow violet orange gold``. Three to six bands."""
    colours = [SPELLINGS.get(word, word) for word in re.split(r"[\s,\-/]+", bands.strip().lower()) if word]
    if not 3 <= len(colours) <= 6:
        raise ValueError("a resistor has three to six bands; give them from the end they crowd to")
    figures = 2 if len(colours) <= 4 else 3
    for place, colour in enumerate(colours[:figures]):
        choice(f"band {place + 1}", colour, DIGITS)
    choice(f"band {figures + 1} (multiplier)", colours[figures], tuple(MULTIPLIERS))
    tolerance = colours[figures + 1] if len(colours) > figures + 1 else "none"
    choice(f"band {figures + 2} (tolerance)", tolerance, tuple(TOLERANCES))
    digits = int("".join(str(DIGITS.index(colour)) for colour in colours[:figures]))
    value = float(f"{digits * MULTIPLIERS[colours[figures]]:.12g}")
    percent = TOLERANCES[tolerance]
    return Figure(
        name="resistance by its bands",
        value=value,
        unit="ohm",
        steps=(
            f"{' '.join(colours[:figures])} = {digits}, x {colours[figures]} ({MULTIPLIERS[colours[figures]]:g})",
            f"{show(value, 'ohm')} ({marking(value, 'ohm') if value else '0R'}), tolerance {percent:g} %",
            f"good from {show(value * (1 - percent / 100), 'ohm')} to {show(value * (1 + percent / 100), 'ohm')}",
        ),
        rests_on="Bands fade and brown passes for red: let the meter decide.",
        source="iec-60062",
        verdict=f"{percent:g} %",
    )


@figure
def bands_for_ohm(*, resistance_ohm: float, tolerance_percent: float = 5.0) -> Figure:
    """Color bands of a resistance; the verdict lists them. Two figures to 5 percent and above, else three."""
    positive(resistance_ohm=resistance_ohm)
    names = {percent: colour for colour, percent in TOLERANCES.items()}
    if tolerance_percent not in names:
        known = ", ".join(f"{percent:g}" for percent in sorted(names))
        raise ValueError(f"no band stands for {tolerance_percent:g} %; there are: {known}")
    figures = 2 if tolerance_percent >= 5 else 3
    mantissa, exponent = f"{resistance_ohm:.{figures - 1}e}".split("e")
    digits, power = mantissa.replace(".", ""), int(exponent) - (figures - 1)
    multiplier = next((c for c, value in MULTIPLIERS.items() if abs(value / 10.0**power - 1) < 1e-9), None)
    if multiplier is None:
        raise ValueError(f"{show(resistance_ohm, 'ohm')} is outside what bands can say")
    value = float(f"{int(digits) * 10.0**power:.12g}")
    colours = [DIGITS[int(digit)] for digit in digits] + [multiplier]
    if names[tolerance_percent] != "none":
        colours.append(names[tolerance_percent])
    return Figure(
        name="resistance the bands say",
        value=value,
        unit="ohm",
        steps=(f"{show(value, 'ohm')}, {tolerance_percent:g} %: {' '.join(colours)}",),
        rests_on=f"Rounded to {figures} figures, as many as there are bands for.",
        source="iec-60062",
        verdict=" ".join(colours),
        chosen=True,
    )


@figure
def marked_ohm(*, code: str) -> Figure:
    """Resistance from its marking code, a tolerance letter allowed: 4K7, 47R, 4K7J."""
    text = code.strip()
    letter = text[-1] if re.fullmatch(r"\d*[RKMGrkmg]\d*[BCDFGJKM]", text) else ""
    value = parse(text[:-1] if letter else text, "ohm").value
    percent = LETTERS.get(letter)
    return Figure(
        name="resistance by its marking",
        value=value,
        unit="ohm",
        steps=(f"{text} = {show(value, 'ohm')}" + (f", {letter} is {percent:g} %" if percent else ""),),
        rests_on="The letter stands for the decimal point.",
        source="iec-60062",
        verdict=f"{percent:g} %" if percent else "",
    )


@figure
def code_for_ohm(*, resistance_ohm: float) -> Figure:
    """Marking code of a resistance; the verdict gives it: 4,700 ohm is 4K7."""
    positive(resistance_ohm=resistance_ohm)
    code = marking(resistance_ohm, "ohm")
    value = parse(code, "ohm").value
    return Figure(
        name="resistance the code says",
        value=value,
        unit="ohm",
        steps=(f"{show(resistance_ohm, 'ohm')} = {code}",),
        rests_on="Rounded to three figures or so.",
        source="iec-60062",
        verdict=code,
        chosen=True,
    )


@figure
def marked_F(*, code: str) -> Figure:
    """Capacitance from what is printed on it: 104K, 473J, 2A104J, 4n7, 0.022, .05, 250p."""
    text = code.strip().upper()
    match = re.fullmatch(r"(?:\d[A-Z])?(\d\d)(\d)([BCDFGJKMZ]?)", text)
    if match:
        zeros = int(match[2])
        scale = {8: 0.01, 9: 0.1}.get(zeros, 10.0**zeros)
        picofarads = int(match[1]) * scale
        letter = match[3]
        how = f"{match[1]} x {scale:g} pF"
    elif re.fullmatch(r"0?\.\d+", text):
        picofarads, letter, how = float(text) * 1e6, "", f"a bare decimal on an old capacitor is microfarads: {text} uF"
    else:
        try:
            picofarads, letter = parse(code, "F").value * 1e12, ""
        except NotationError as error:
            raise ValueError(str(error)) from error
        how = f"{code.strip()} as printed"
    value = float(f"{picofarads * 1e-12:.12g}")
    positive(capacitance_F=value)
    tolerance = "+80/-20 %" if letter == "Z" else f"{LETTERS[letter]:g} %" if letter else ""
    return Figure(
        name="capacitance by its marking",
        value=value,
        unit="F",
        steps=(f"{how} = {show(value, 'F')}" + (f", {letter} is {tolerance}" if letter else ""),),
        rests_on="Two figures and the number of zeros, in picofarads (EIA). Two-figure codes are plain picofarads.",
        source="guide-capacitor-markings",
        verdict=tolerance,
    )


@figure
def code_for_F(*, capacitance_F: float) -> Figure:
    """Three-figure code of a capacitance; the verdict gives it: 22 nF is 223."""
    positive(capacitance_F=capacitance_F)
    picofarads = capacitance_F * 1e12
    mantissa, exponent = f"{picofarads:.1e}".split("e")
    zeros = int(exponent) - 1
    if not -2 <= zeros <= 7:  # 8 and 9 stand for a hundredth and a tenth
        raise ValueError(f"{show(capacitance_F, 'F')} has no three-figure code")
    code = f"{mantissa.replace('.', '')}{zeros % 10}"
    value = float(f"{float(mantissa) * 10.0 ** int(exponent) * 1e-12:.12g}")
    return Figure(
        name="capacitance the code says",
        value=value,
        unit="F",
        steps=(f"{picofarads:.4g} pF, rounded to {show(value, 'F')}, is {code}",),
        rests_on="Rounded to two figures.",
        source="guide-capacitor-markings",
        verdict=code,
        chosen=True,
    )


@figure
def tolerance_share_percent(
    *, measured_ohm: float, marked_ohm: float, tolerance_percent: float = 10.0, meter_percent: float = 1.0
) -> Figure:
    """Deviation as a share of the tolerance; the verdict can be that the meter can't tell."""
    positive(marked_ohm=marked_ohm, tolerance_percent=tolerance_percent)
    off = abs(off_percent(measured_ohm, marked_ohm))
    least, most = max(0.0, off - meter_percent), off + meter_percent
    verdict = "within" if most <= tolerance_percent else "outside" if least > tolerance_percent else "can't tell"
    value = 100 * off / tolerance_percent
    return Figure(
        name="deviation as a share of the tolerance",
        value=value,
        unit="percent",
        steps=(
            f"{show(measured_ohm, 'ohm')} is {off:.3g} % from {show(marked_ohm, 'ohm')}",
            f"as a share of the tolerance {off:.4g} % / {tolerance_percent:g} % = {value:.3g} %",
            f"the meter's {meter_percent:g} % leaves {least:.3g} to {most:.3g} %",
        ),
        rests_on="One end lifted, part cold.",
        source="iec-60062",
        verdict=verdict,
    )


def _several(one: float, two: float, three: float, four: float) -> list[float]:
    positive(one_ohm=one, two_ohm=two)
    return [value for value in (one, two, three, four) if value]


@figure
def series_ohm(*, one_ohm: float, two_ohm: float, three_ohm: float = 0.0, four_ohm: float = 0.0) -> Figure:
    """Resistance of two to four resistors in series."""
    values = _several(one_ohm, two_ohm, three_ohm, four_ohm)
    value = sum(values)
    return Figure(
        name="in series",
        value=value,
        unit="ohm",
        steps=(" + ".join(show(one, "ohm") for one in values) + f" = {show(value, 'ohm')}",),
        rests_on="Each takes heat in proportion to its resistance.",
        source="textbook-identity",
    )


@figure
def parallel_ohm(*, one_ohm: float, two_ohm: float, three_ohm: float = 0.0, four_ohm: float = 0.0) -> Figure:
    """Resistance of two to four resistors side by side."""
    values = _several(one_ohm, two_ohm, three_ohm, four_ohm)
    value = beside(*values)
    return Figure(
        name="in parallel",
        value=value,
        unit="ohm",
        steps=(" || ".join(show(one, "ohm") for one in values) + f" = {show(value, 'ohm')}",),
        rests_on="The lower takes the more heat.",
        source="textbook-identity",
    )


@figure
def pair_for_ohm(*, wanted_ohm: float, connection: str = "parallel", series: str = "E12") -> Figure:
    """The two preferred resistors that come nearest to a wanted value together; the verdict names them."""
    positive(wanted_ohm=wanted_ohm)
    parallel = choice("connection", connection, ("parallel", "series")) == "parallel"
    key = eseries.ESeries[choice("series", series, SERIES).upper()]
    low, high = (wanted_ohm, wanted_ohm * 100) if parallel else (wanted_ohm / 100, wanted_ohm)
    best: tuple[float, float, float, float] | None = None
    for one in eseries.erange(key, low, high):
        rest = (wanted_ohm * one / (one - wanted_ohm) if one > wanted_ohm else 0.0) if parallel else wanted_ohm - one
        if rest <= 0:
            continue
        two = nearest(rest, series)
        together = beside(one, two) if parallel else one + two
        candidate = (abs(together / wanted_ohm - 1), one, two, together)
        best = candidate if best is None else min(best, candidate)
    if best is None:
        raise ValueError("no pair comes near; use a single preferred value")
    _, one, two, together = best
    return Figure(
        name=f"two in {connection}",
        value=float(f"{together:.6g}"),
        unit="ohm",
        steps=(
            f"{show(one, 'ohm')} and {show(two, 'ohm')} make {show(together, 'ohm')}",
            f"off by {off_percent(together, wanted_ohm):+.2g} %",
        ),
        rests_on=f"Marked values of {series.upper()}; their tolerance is larger than what the pair gains.",
        source="iec-60063",
        verdict=f"{marking(float(f'{one:.4g}'), 'ohm')} and {marking(two, 'ohm')}",
        chosen=True,
    )


@figure
def lamp_light_percent(*, lamp: str, lamp_V: float) -> Figure:
    """Light of a pilot lamp at the volts it gets, as a share of its rated light, with its life and current."""
    try:
        entry = load().lamp(lamp)
    except UnknownName as error:
        raise ValueError(str(error)) from error
    positive(lamp_V=lamp_V)
    law = load().rerating
    share = lamp_V / entry.V
    value = 100 * share**law.light_exponent
    return Figure(
        name=f"light of a #{lamp.strip().lstrip('#')} lamp",
        value=value,
        unit="percent",
        steps=(
            f"{lamp_V:.3g} V / {entry.V:g} V = {share:.3g}; light {share:.3g}^{law.light_exponent:g} = {value:.3g} %",
            f"life {entry.life_hours * share**law.life_exponent:.3g} h, "
            f"current {show(entry.A * share**law.current_exponent, 'A')}",
        ),
        rests_on="Holds near the rated volts, say 70 to 120 %.",
        source=law.source,
        verdict="dim" if value < 60 else "short-lived" if share > 1.15 else "as meant",
    ).warn("" if entry.seen else "this lamp's figures are from memory")


@figure
def lamp_swap_percent(*, fitted: str, wanted: str) -> Figure:
    """Current of another pilot lamp as a share of the fitted one's, with light, volts and life side by side."""
    try:
        old, new = load().lamp(fitted), load().lamp(wanted)
    except UnknownName as error:
        raise ValueError(str(error)) from error
    value = 100 * new.A / old.A
    against = [] if new.base == old.base else [f"another base: {new.base}"]
    if new.V < old.V:
        against.append(f"made for {new.V:g} V against {old.V:g} V: it won't last")
    return Figure(
        name="current of the other lamp",
        value=value,
        unit="percent",
        steps=(
            *(
                f"#{name.strip().lstrip('#')}: {lamp.V:g} V, {show(lamp.A, 'A')}, {lamp.candlepower:g} cp, "
                f"{lamp.life_hours:g} h, {lamp.base}"
                for name, lamp in ((fitted, old), (wanted, new))
            ),
            f"{show(new.A, 'A')} / {show(old.A, 'A')} = {value:.3g} %",
        ),
        rests_on="The lamp runs off the heater winding: more current is more load on it, and more heat on the jewel.",
        source=new.source,
        verdict="; ".join(against) or ("brighter" if new.candlepower > old.candlepower else "dimmer or alike"),
    ).warn("" if old.seen and new.seen else "figures of these lamps are from memory")


FUSES_A = (0.25, 0.315, 0.4, 0.5, 0.63, 0.75, 0.8, 1.0, 1.25, 1.5, 1.6, 2.0, 2.5, 3.0, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0)


@figure
def fuse_A(*, consumption_W: float, mains_V: float = 120.0) -> Figure:
    """Mains fuse to expect for an amplifier's power draw. What is printed on the amp comes first."""
    positive(consumption_W=consumption_W, mains_V=mains_V)
    current = consumption_W / mains_V / 0.9
    wanted = 1.5 * current
    value = next((amperes for amperes in FUSES_A if amperes >= wanted), None)
    if value is None:
        raise ValueError(f"{wanted:.3g} A is beyond any guitar amplifier's fuse; check the figures")
    return Figure(
        name="mains fuse to expect",
        value=value,
        unit="A",
        steps=(
            f"{consumption_W:.4g} W / {mains_V:.4g} V / 0.9 = {current:.3g} A",
            f"times 1.5: {wanted:.3g} A; next size {value:g} A, time-lag",
        ),
        rests_on="Power factor taken as 0.9. Halve or double for another mains voltage.",
        source="common-practice",
        warnings=("never a larger fuse than the amp's plate says, and never a bigger one because fuses keep blowing",),
        chosen=True,
    )
