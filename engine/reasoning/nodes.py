"""The filter nodes that a move to cold work asks the volts of: those of the circuit, if one is chosen."""

from __future__ import annotations

from collections.abc import Sequence

from ..bench.notation import show
from ..knowledge import model
from .log import HoldAnswered
from .session import Standing
from .wording import volts_said


def filter_nodes(standing: Standing) -> tuple[str, ...]:
    """The names of the filter nodes that the chosen circuit has; none when no circuit is chosen."""
    if standing.voltages is None:
        return ()
    points = standing.voltages.known.circuit.test_points
    return tuple(sorted(name for name in points if name.startswith("bplus_")))


def named_volts(standing: Standing, volts: Sequence[float]) -> dict[str, float]:
    """What was read, by the names of the nodes; numbered where no circuit says what nodes there are."""
    names = filter_nodes(standing) or tuple(f"node_{n}" for n in range(1, len(volts) + 1))
    return dict(zip(names, volts, strict=False))


def volts_trouble(standing: Standing, move: model.Move, entry: HoldAnswered) -> str:
    """Why an answer to a move does not count, for a person; '' when it does, or is a plain no."""
    wanted = move.volts
    if wanted is None or not entry.cleared:
        return ""
    nodes = filter_nodes(standing)
    if len(entry.volts) < max(len(nodes), 1):
        named = f": {', '.join(nodes)}" if nodes else ""
        return f"'{move.id}' wants the volts read at each filter node{named}, as {move.id}=3V,1V"
    high = {name: volts for name, volts in entry.volts.items() if abs(volts) >= wanted.below}
    if high:
        return f"not below {show(wanted.below, 'V')} yet: {volts_said(high)}. {wanted.high}"
    return ""
