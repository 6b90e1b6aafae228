"""Usable values for every calculation there is, found by trying: nobody lists the calculations here."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator

from chopstick.engine.bench import catalogue

# what is met with on a bench, by unit
USUAL = {
    "V": (2, 450), "mV": (1, 500), "mA": (1, 120), "A": (0.2, 5), "ohm": (10, 1e6), "F": (1e-11, 1e-4), "H": (1, 20),
    "Hz": (20, 5000), "W": (1, 60), "percent": (5, 95), "C": (20, 90), "m": (0.5, 20), "ratio": (1, 50), "count": (1, 4),
    "": (1, 40), "dB": (1, 40), "s": (1, 100), "minutes": (1, 10), "mm2": (0.1, 4),
}  # fmt: skip
WORDS = {
    "tube": ("6V6GT", "EL84", "12AX7"), "rectifier": ("5Y3GT",), "present": ("5Y3GT",), "wanted": ("5V4GA", "47"),
    "readings": ("0=5 2.5=4k 5=25k 7.5=90k 10=250k",), "bands": ("yellow violet orange gold",), "lamp": ("47",),
    "fitted": ("47",), "code": ("4K7", "104K"), "taper": ("linear",),
}  # fmt: skip
NEAR = {
    "supply_V": (200, 450),
    "plate_V": (150, 400),
    "bias_V": (-30, -5),
    "screen_V": (200, 300),
    "start_V": (100, 450),
}
TRIMMER = {
    "source_V": (-70, -55), "present_V": (-40, -32), "hottest_V": (-36, -25), "present_mA": (15, 30),
    "plate_V": (300, 420), "series_ohm": (10e3, 20e3), "ground_ohm": (10e3, 22e3), "trimmer_ohm": (10e3, 22e3),
}  # fmt: skip
NEAR_OF = {"bias_divider.safe_travel_percent": TRIMMER, "bias_divider.hottest_end_percent": TRIMMER}


def usable(name: str, count: int = 2) -> Iterator[dict[str, float | str]]:
    """Arguments that a calculation takes without refusing, `count` of them; the same ones at every run."""
    function, dice = catalogue.find(name), random.Random(name)
    needed = [parameter for parameter in catalogue.parameters(function) if parameter.required]
    optional: list[dict[str, float | str]] = [
        {one.name: WORDS[one.name][0] if one.word else USUAL[one.unit][1]}
        for one in catalogue.parameters(function)
        if not one.required and (one.name in WORDS or not one.word)
    ]
    for _ in range(2000):
        chosen: dict[str, float | str] = {}
        for one in needed:
            if one.word:
                chosen[one.name] = dice.choice(WORDS[one.name])
            else:
                low, high = NEAR_OF.get(name, NEAR).get(one.name, USUAL[one.unit])
                spread = dice.uniform(low, high) if low < 0 else math.exp(dice.uniform(math.log(low), math.log(high)))
                chosen[one.name] = float(f"{spread:.3g}")
        for more in ({}, *optional):
            try:
                function(**chosen, **more)
            except ValueError:
                continue
            yield {**chosen, **more}
            count -= 1
            break
        if not count:
            return
