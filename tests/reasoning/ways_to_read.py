"""Ways in which a check can come to nothing: readings left out, zero, equal, at either end of what is believed, and
amp facts that are not known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import NamedTuple

from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.lint.references import amp_choices
from chopstick.engine.reasoning.log import CANT_TELL, NOT_KNOWN, NOT_THIS_AMP, Answer, Reading
from chopstick.engine.reasoning.untold import OF_THE_AMP

AT = datetime(2026, 1, 1)
Amp = Mapping[str, model.AmpValue]


class Way(NamedTuple):
    """One entry of a check, on an amp of which so much is known."""

    name: str
    amp: Amp
    entry: Answer | Reading


def amp_facts(check: model.Check) -> frozenset[str]:
    """The amp facts that a check is worked out or judged with."""
    named = [word for figure in check.figures.values() for word in figure.given.values()]
    named += [limit for band in check.bands for limit in (band.above, band.below) if limit is not None]
    found = (word.partition(".") for word in named if isinstance(word, str) and "." in word)
    return frozenset(key if kind == "amp" else OF_THE_AMP[kind] for kind, _, key in found if kind != "window")


def whole_amp(base: KnowledgeBase) -> dict[str, model.AmpValue]:
    """An amp of which all is known that any check is worked out with."""
    amp: dict[str, model.AmpValue] = {"power-tube": "6V6GT", "rectifier": "5Y3GT", "rectifier-designed": "5Y3GT"}
    for name in sorted({fact for check in base.checks.values() for fact in amp_facts(check)} - amp.keys()):
        choices = amp_choices(base, name)
        amp[name] = choices[0] if choices else sum(base.amp_facts[name].plausible or (1, 2)) / 2
    return amp


def ways(check: model.Check, amp: Amp) -> Iterator[Way]:
    """Every way tried; of a check with answers, each of them."""
    for key in (*check.answers, CANT_TELL, NOT_THIS_AMP):
        yield Way(key, amp, Answer(at=AT, check=check.id, answer=key))
    if check.answers:
        return

    def way(name: str, values: Mapping[str, float], known: Amp = amp) -> Way:
        return Way(name, known, Reading(at=AT, check=check.id, values=dict(values), believed=True))

    ranges = {name: reading.plausible for name, reading in check.readings.items()}
    middle = {name: (low + high) / 2 for name, (low, high) in ranges.items()}
    same = (max(low for low, _ in ranges.values()) + min(high for _, high in ranges.values())) / 2
    yield way("zero", dict.fromkeys(ranges, 0.0))
    yield way("equal", dict.fromkeys(ranges, same))
    yield way("all one", dict.fromkeys(ranges, 1.0))
    yield way("lowest", {name: low for name, (low, _) in ranges.items()})
    yield way("highest", {name: high for name, (_, high) in ranges.items()})
    yield way("middle", middle)
    for left_out in ranges if len(ranges) > 1 else ():
        yield way(f"without {left_out}", {name: value for name, value in middle.items() if name != left_out})
        yield way(f"{left_out} alone", {left_out: middle[left_out]})
        yield way(f"{left_out} zero", middle | {left_out: 0.0})
    for fact in sorted(amp_facts(check)):
        yield way(f"no {fact}", middle, {name: value for name, value in amp.items() if name != fact})
        yield way(f"{fact} unknown", middle, {**amp, fact: NOT_KNOWN})
    yield way("nothing known of the amp", middle, {})
