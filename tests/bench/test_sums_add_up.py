"""The sum that is shown is the sum that was done: every step of every calculation is worked again from its own words.

Each number counts for what it shows: with its prefix and unit, to half of its last figure. So the units must agree too.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from itertools import pairwise

from chopstick.engine.bench import catalogue
from chopstick.engine.bench.figure import Figure

from .samples import usable

#: What shows no sum to work again: found in a list or on a curve, by trying, or by solving a network.
NO_SUM = {
    *("bias.idle_outside_percent", "bias_divider.change_V", "bias_divider.trimmer_span_V"),
    *("bias_divider.ground_resistor_ohm", "bias_divider.series_resistor_ohm", "compare.higher_V", "compare.higher_ohm"),
    *("coupling.bypass_level_dB", "coupling.cascade_corner_Hz", "coupling.loss_dB"),
    *("parts.bands_for_ohm", "parts.code_for_F", "parts.code_for_ohm", "parts.colour_ohm"),
    *("parts.marked_ohm", "parts.pair_for_ohm"),
    *("pot.backward_step_percent", "pot.best_spread_percent", "pot.dead_zone_percent", "pot.end_hop_percent"),
    *("pot.taper_mid_percent", "pot.total_drift_percent"),
    *("power_stage.pair_output_W", "power_stage.single_output_W"),
    *("preferred.drift_percent", "preferred.nearest_F", "preferred.nearest_ohm"),
    *("rectifier_swap.drop_in_count", "rectifier_swap.new_supply_V", "rectifier_swap.rectifier_drop_V"),
    *("rectifier_swap.first_capacitor_percent", "rectifier_swap.output_current_percent"),
    *("rectifier_swap.peak_plate_percent", "speaker.together_ohm"),
    *("stage.expected_current_mA", "supply.cycle_ripple_V", "supply.limiter_lamp_W"),
    *("tone.cut_dB", "tone.stack_dB", "tone.treble_bleed_dB"),
    *("transformer.halves_mismatch_percent", "transformer.halves_turns_percent"),
}
#: What says its figure in other words: by the number of its steps, by the name of a hum.
NOT_SAID = {"rectifier_swap.drop_in_count", "supply.hum_multiple_ratio"}
SYMBOLS = {"percent": "%"}
PREFIXES = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "milli": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9}
UNITS = {"%": 0.01, "mA/V": 1e-3, "milliohm/m": 1e-3}
BASE = r"(?:V|A|Ω|ohm|F|Hz|H|W|s|m|dB)"
UNIT = rf"(?:%|minutes|mA/V|milliohm/m|(?:milli(?=ohm)|[pnumkMG](?={BASE}))?{BASE})(?![A-Za-z0-9/])"
NUMBER = r"(?<![\w.])\d+(?:\.\d+)?(?:e[+-]\d+)?"


def scale(unit: str) -> float:
    """How many of the plain unit (V, A, ohm ...) one of these is."""
    if unit in UNITS:
        return UNITS[unit]
    return next((factor for prefix, factor in PREFIXES.items() if re.fullmatch(prefix + BASE, unit)), 1.0)


def half_a_figure(number: str) -> float:
    """Half of the last figure that a number is shown to: three at least, so 0.05 of 12.3, of 12 and of 60."""
    value = float(number)
    figures = max(3, len(number.partition("e")[0].replace(".", "").lstrip("0")))
    return 0.5 * 10.0 ** (math.floor(math.log10(value)) + 1 - figures) if value else 0.0


def read(text: str) -> tuple[str, list[tuple[float, float]]] | None:
    """A sum as typed, as Python with n[0], n[1] ... for its numbers; and these with how far each may be off."""
    numbers: list[tuple[float, float]] = []

    def number(match: re.Match[str]) -> str:
        factor = scale(match["unit"]) if match["unit"] else 1.0
        numbers.append((float(match["number"]) * factor, half_a_figure(match["number"]) * factor))
        return f" n[{len(numbers) - 1}] "

    text = text.replace(" RMS", "").replace(" squared", "^2")
    text = re.sub(r"(\d) pi", r"\1 x pi", text)
    text = re.sub(r"\|([^|]+)\|", r"abs(\1)", text).replace("20 log10", "20 x log10")
    text = re.sub(rf"(?P<number>{NUMBER})(?:\s?(?P<unit>{UNIT}))?", number, text)
    text = re.sub(rf"\)\s?({UNIT})", lambda match: f") * {scale(match[1])} ", text)
    text = " ".join(text.split()).replace(" x ", " * ").replace("^", "**")
    if " || " in text:
        text = f"1 / ({' + '.join(f'1 / {one}' for one in text.split(' || '))})"
    plain = re.sub(r"\b(n\[\d+\]|abs|sqrt|ln|log10|pi)|[\d.e+-]+(?=\s|$)", "", text)
    if re.search(r"[A-Za-z,;:'=]", plain) or not re.search(r"[*/+(]| - ", text):
        return None
    return text.strip(), numbers


def worked(text: str, numbers: list[float]) -> float:
    """What it comes to; not a number where half a figure more or less would ask for the root of less than nothing."""
    names = {"n": numbers, "abs": abs, "sqrt": math.sqrt, "ln": math.log, "log10": math.log10, "pi": math.pi}
    total = eval(text, {"__builtins__": {}}, names)
    return math.nan if isinstance(total, complex) else float(total)


def equations(step: str) -> Iterator[tuple[str, str]]:
    """Every 'sum = result' of a step, without the words before it."""
    for clause in re.split(r"; |: |, (?=[a-z])", step):
        pieces = clause.split(" = ")
        for left, right in pairwise(pieces):
            bare = re.search(r"(?:^|\s)(?:abs|sqrt|[(|]|-?\d).*", left)
            if bare:
                yield bare[0].strip(), right


def both(left: str, right: str) -> tuple[float, float, float] | None:
    """What the sum comes to, what is said, and by how much the two may differ; None where there is no sum."""
    said = re.match(rf"(?P<sign>[+-]?)(?P<number>\d+(?:\.\d+)?(?:e[+-]\d+)?)(?:\s?(?P<unit>{UNIT}))?", right)
    found = read(left)
    if said is None or found is None:
        return None
    text, numbers = found
    plain = [value for value, _ in numbers]
    total = worked(text, plain)
    factor = scale(said["unit"]) if said["unit"] else 1.0
    loose = half_a_figure(said["number"]) * factor + 1e-9 * abs(total)
    for index, (value, half) in enumerate(numbers):
        ends = (worked(text, [*plain[:index], value + way * half, *plain[index + 1 :]]) for way in (-1, 1))
        loose += max(abs(end - total) for end in ends if not math.isnan(end))
    return total, float(said["sign"] + said["number"]) * factor, loose


def test_every_step_comes_to_what_it_says_and_one_of_them_says_the_figure() -> None:
    wrong: list[str] = []
    for name in catalogue.names():
        found = 0
        for known in usable(name):
            figure = catalogue.find(name)(**known)
            for left, right in (equation for step in figure.steps for equation in equations(step)):
                sum_ = both(left, right)
                if sum_ is not None:
                    found += 1
                    total, said, loose = sum_
                    if abs(total - said) > loose:
                        wrong.append(f"{name}: {left} is {total}, not {right}")
            if not (stands_in(figure) or name in NOT_SAID):
                wrong.append(f"{name}: no step says {figure}")
        if bool(found) == (name in NO_SUM):
            wrong.append(f"{name}: {found} sums were read")
    assert wrong == []


def stands_in(figure: Figure) -> bool:
    """Whether a step shows the figure's value."""
    value = abs(figure.value) * scale(SYMBOLS.get(figure.unit, figure.unit))
    for one in re.finditer(rf"(?P<number>{NUMBER})(?:\s?(?P<unit>{UNIT}))?", " ".join(figure.steps)):
        factor = scale(one["unit"]) if one["unit"] else 1.0
        if abs(float(one["number"]) * factor - value) <= 1.01 * half_a_figure(one["number"]) * factor:
            return True
    return False
