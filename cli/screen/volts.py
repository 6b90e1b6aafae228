"""Volts against the circuit: what a check should read, what the volts point to, and predicted beside measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from ...engine.bench.notation import show
from ...engine.circuit.collection import Circuits
from ...engine.knowledge import model
from ...engine.reasoning.expected_readings import ExpectedReading
from ...engine.reasoning.session import FACTS_TO_BE_LIKE, LIKE_ENOUGH, Standing
from .screen import Screen

if TYPE_CHECKING:
    from ...engine.reasoning.suspects import Suspect
    from ...engine.reports.volts import VoltsOfJob

MOST_OFFERED = 4


def expected(now: Standing, check: model.Check) -> list[tuple[str, str]]:
    """What the chosen circuit, or the nearest one, says of a check's readings: rows of a label and a text."""
    found = now.expected(check)
    if not found.points:
        return []
    named = len(check.readings) > 1 or len(found.points) > 1
    said = "; ".join(_said(one, named) for one in found.points)
    if found.sure:
        return [("expected", said)]
    like = f"no circuit is chosen; the nearest, {found.circuit} ({found.share:.0%} of what is known), says, widely"
    return [("perhaps", f"{like}: {said}")]


def _said(one: ExpectedReading, named: bool) -> str:
    volts = f"{show(one.volts, 'V')} ({show(one.low, 'V')} to {show(one.high, 'V')})"
    return f"{one.point} {volts}" if named else volts


def would_read(now: Standing, check: model.Check) -> list[tuple[str, ...]]:
    """What the test point of a check would read with each of the causes that matter and move it."""
    return [(show(one.volts, "V"), f"{now.base.causes[one.cause].name} ({one.fault})") for one in now.would_read(check)]


def circuit(screen: Screen, now: Standing) -> None:
    """The circuit that was chosen, on one line."""
    if now.voltages is not None:
        screen.line(f"circuit: {now.voltages.known.name} ({now.voltages.known.circuit.title})")
    elif now.trouble:
        screen.line(f"The circuit that was chosen can't be used: {now.trouble}", "bold")


def against(screen: Screen, told: VoltsOfJob | None) -> None:
    """Predicted against measured for the leading faults; what no reading tells apart, and what would."""
    if told is None or not told.readings:
        return
    screen.heading("The volts against the circuit")
    leads = told.suspects[:2]
    head = ("test point", "read", "good", *(f"with {one.fault}" for one in leads))
    rows = [
        (one.point, show(one.volts, "V"), f"{show(one.expected, 'V')}", *_with(one.point, leads))
        for one in told.readings
    ]
    screen.table([head, *rows], indent=2)
    if not told.explained:
        screen.line("No fault of this circuit, alone or with others, gives these volts: a reading may be wrong, or the "
                    "amp is not built to it. They count for little.", indent=2)  # fmt: skip
    for one in told.suspects:
        screen.line(f"{one.probability:.0%} {one.text} ({one.stage})", indent=2)
        if len(one.same) > 1:
            screen.line(f"reads the same: {', '.join(one.same)}. What tells them apart:", indent=6)
            screen.bullets(one.checks, indent=8)
    if not told.suspects and told.explained:
        screen.line("All as good parts give it.", indent=2)


def _with(point: str, leads: Iterable[Suspect]) -> list[str]:
    return [show(one.predicted[point], "V") if point in one.predicted else "" for one in leads]


def propose(screen: Screen, circuits: Circuits, amp: Mapping[str, object], number: int) -> None:
    """How to choose a circuit, with the nearest ones, when enough is known of the amp."""
    if len(amp) < FACTS_TO_BE_LIKE or not circuits.names():
        return
    near = [name for name, share in circuits.nearest(amp, 2) if share >= LIKE_ENOUGH]
    if near:
        screen.line(f"Nearest circuits: {', '.join(near)}. With one, volts are judged directly:")
        screen.line(f"chopstick take {number} --circuit {near[0]}", indent=2)


def nearest(circuits: Circuits, amp: Mapping[str, object]) -> dict[str, str]:
    """The circuits nearest to what is known of an amp, each with what it is and how much of it agrees."""
    return {
        name: f"{circuits.find(name).circuit.title} ({share:.0%} of what is known agrees)"
        for name, share in circuits.nearest(amp, MOST_OFFERED)
    }
