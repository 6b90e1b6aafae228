"""How a check is done, with the pins of the tubes that are in the amp."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..reference.errors import UnknownName


def how(base: KnowledgeBase, check: model.Check, amp: Mapping[str, model.AmpValue]) -> str:
    """What a check tells to do, and the pins of the electrodes it names under `pins`: those of the tube fitted, or of
    every family on file while the tube is not known, or has no base on file."""
    told = [
        _pins(base, electrode, base.amp_facts[fact].from_reference or "", str(amp.get(fact, "")))
        for fact, electrodes in check.pins.items()
        for electrode in electrodes
    ]
    return " ".join([check.do, *told])


def _pins(base: KnowledgeBase, electrode: str, table: str, fitted: str) -> str:
    by_tube = base.reference.pins(electrode, table)
    find = base.reference.rectifier if table == "rectifiers" else base.reference.tube
    try:
        family = find(fitted).name
    except UnknownName:
        family = ""
    if family in by_tube:
        return f"{electrode.capitalize()} of the {fitted}: {_pin(by_tube[family])}."
    listed = "; ".join(f"{_pin(pins)} on {', '.join(names)}" for pins, names in _alike(by_tube))
    return f"{electrode.capitalize()}: {listed}; other types by their data sheet."


def _alike(by_tube: Mapping[str, tuple[int, ...]]) -> Iterator[tuple[tuple[int, ...], list[str]]]:
    for pins in dict.fromkeys(by_tube.values()):
        yield pins, [name for name, own in by_tube.items() if own == pins]


def _pin(pins: tuple[int, ...]) -> str:
    return f"pin {pins[0]}" if len(pins) == 1 else f"pins {' and '.join(map(str, pins))}"
