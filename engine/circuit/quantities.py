"""What can be read on an amp beside the volts of a test point to the chassis, and how it is written.

v1a.plate                    DC volts to the chassis
v1a.plate to v1b.plate       DC volts between two test points, the meter's black lead on the second
across R15                   DC volts across a part, the red lead on its first node
through R15                  the current through a resistor, as volts across it over its nominal value
ohms v1a.plate               ohms to the chassis, unplugged and bled; also: ohms A to B, ohms across R3
v1a.plate at 1kHz            volts RMS of the signal, with the generator at the input (see signals.py for its level)
pan_out at 1kHz from v4.x    the same with the generator at another node
gain V1a at 1kHz             plate over grid (a follower: cathode over grid), the generator at that grid
balance at 1kHz              one output grid over the other, the generator at the input
bplus_1 ripple               volts RMS without a signal, the input shorted; `hum` is the same thing elsewhere
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ..late import late
from .netlist import CHASSIS, Circuit, Resistor

with late():
    from ..bench import notation
    from ..reference import errors

Kind = Literal["volts", "ohms", "level", "hum"]
_UNITS: dict[str, str] = {"volts": "V", "ohms": "ohm", "level": "V", "hum": "V"}
_AT = re.compile(
    r"^(?P<what>.+?)\s+at\s+(?P<Hz>[0-9][^\s]*(?:\s*[kM]?Hz)?)(?:\s+from\s+(?P<source>\S+))?$", re.IGNORECASE
)


@dataclass(frozen=True)
class Quantity:
    """One thing to read. a, b: nodes, the reading is a less b. scale: what one volt across reads as (A for a current).

    A level is read at a with the generator at `source`; over: of a gain, the node whose level it is divided by.
    """

    name: str
    kind: Kind
    a: str
    b: str = CHASSIS
    scale: float = 1.0
    Hz: float = 0.0
    source: str = ""
    over: str = ""
    unit: str = "V"

    @property
    def plain(self) -> bool:
        """The DC volts of one point to the chassis."""
        return self.kind == "volts" and self.b == CHASSIS and self.scale == 1.0


def quantity(circuit: Circuit, name: str) -> Quantity:
    """What a name in a readings file means. Raises KeyError, in words, for what this circuit does not have."""
    words = name.split()
    if name in circuit.test_points:
        return Quantity(name, "volts", name)
    if found := _AT.match(name.strip()):
        return _signal(circuit, name, found)
    match words:
        case ["ohms", *rest]:
            a, b, _ = _ends(circuit, name, rest, lambda node: _node(circuit, node))
            return Quantity(name, "ohms", a, b, unit="ohm")
        case [node, "ripple" | "hum"]:
            return Quantity(name, "hum", _node(circuit, node))
        case ["across" | "through", _] | [_, "to", _]:
            a, b, ohm = _ends(circuit, name, words, lambda node: _point(circuit, node))
            current = words[0] == "through"
            if current and not ohm:
                raise KeyError(f"'{name}': a current is read over a resistor, as volts across it over its ohms")
            return Quantity(name, "volts", a, b, 1.0 / ohm if current else 1.0, unit="A" if current else "V")
    raise KeyError(f"'{name}' is not a test point of this circuit. {errors.did_you_mean(name, circuit.test_points)}")


def _signal(circuit: Circuit, name: str, found: re.Match[str]) -> Quantity:
    Hz = notation.parse(found["Hz"].replace(" ", ""), "Hz").value
    match found["what"].split():
        case ["gain", tube]:
            if tube not in circuit.tubes:
                raise KeyError(
                    f"'{name}': there is no tube '{tube}'. {errors.did_you_mean(tube, tuple(circuit.tubes))}"
                )
            one = circuit.tubes[tube]
            return Quantity(name, "level", output_of(circuit, tube), Hz=Hz, source=one.grid, over=one.grid, unit="")
        case ["balance"]:
            grids = output_grids(circuit)
            if len(grids) != 2:
                raise KeyError(f"'{name}': this circuit has no two output grids to compare")
            return Quantity(name, "level", grids[0], Hz=Hz, source=_input(circuit, name), over=grids[1], unit="")
        case [node]:
            source = _node(circuit, found["source"]) if found["source"] else _input(circuit, name)
            return Quantity(name, "level", _node(circuit, node), Hz=Hz, source=source)
    raise KeyError(f"'{name}' can't be read: write it as 'v1a.plate at 1kHz', 'gain V1a at 1kHz' or 'balance at 1kHz'")


def _input(circuit: Circuit, name: str) -> str:
    if circuit.input is None:
        raise KeyError(
            f"'{name}': the circuit file names no input node, so say where the generator is: '... from NODE'"
        )
    return circuit.input


def _ends(circuit: Circuit, name: str, words: list[str], node: object) -> tuple[str, str, float]:
    """The two nodes that words name, and the resistance between them when they name a resistor."""
    find = node
    assert callable(find)
    match words:
        case ["across" | "through", part]:
            if part not in circuit.parts:
                raise KeyError(
                    f"'{name}': there is no part '{part}'. {errors.did_you_mean(part, tuple(circuit.parts))}"
                )
            one = circuit.parts[part]
            ohm = one.ohm if isinstance(one, Resistor) else 0.0
            return find(one.nodes[0]), find(one.nodes[-1]), ohm
        case [a, "to", b]:
            return find(a), find(b), 0.0
        case [a]:
            return find(a), CHASSIS, 0.0
    raise KeyError(f"'{name}' can't be read: write it as 'A to B', 'across R15' or one test point")


def _point(circuit: Circuit, node: str) -> str:
    if node == CHASSIS or node in circuit.test_points:
        return node
    raise KeyError(f"'{node}' is not a test point of this circuit. {errors.did_you_mean(node, circuit.test_points)}")


def _node(circuit: Circuit, node: str) -> str:
    if node == CHASSIS or node in circuit.nodes():
        return node
    raise KeyError(f"the circuit has no node '{node}'. {errors.did_you_mean(node, circuit.nodes())}")


def output_of(circuit: Circuit, tube: str) -> str:
    """Where a stage hands its signal on: its plate; the cathode when the plate stands at a supply node."""
    one = circuit.tubes[tube]
    return one.cathode if one.plate.startswith("bplus") else one.plate


def output_grids(circuit: Circuit) -> tuple[str, ...]:
    """The grids of the power tubes, each node once, in the file's order."""
    plates = set(circuit.output.primary) if circuit.output else set()
    found = (tube.grid for tube in circuit.tubes.values() if tube.plate in plates)
    return tuple(dict.fromkeys(found))


def in_words(value: float, unit: str) -> str:
    """A reading as a technician says it."""
    if unit == "V" and (abs(value) >= 1.0 or value == 0.0):
        return f"{value:.1f} V"
    return notation.show(float(f"{value:.3g}"), unit) if unit else f"{value:.3g}"


def supply_nodes(circuit: Circuit) -> tuple[str, ...]:
    """The test points that are filter nodes."""
    filters = {p.nodes[0] for p in circuit.parts.values() if p.kind == "electrolytic" and p.farad >= 4e-6}
    feeds = {s.node for s in circuit.supplies.values()}
    cathodes = {tube.cathode for tube in circuit.tubes.values()}
    return tuple(p for p in circuit.test_points if p in (filters | feeds) - cathodes)


SWEEP_Hz = (40.0, 1000.0, 5000.0)


def shown(Hz: float) -> str:
    return f"{Hz / 1000:g}kHz" if Hz >= 1000 else f"{Hz:g}Hz"


def signal_points(circuit: Circuit) -> tuple[str, ...]:
    """Where a meter or scope on the signal does not disturb it: plates, cathodes, output grids and the speaker."""
    tubes = circuit.tubes.values()
    nodes = dict.fromkeys(node for tube in tubes for node in (tube.plate, tube.cathode))
    nodes |= dict.fromkeys(output_grids(circuit))
    kept = [node for node in nodes if node != CHASSIS and not node.startswith("bplus") and node in circuit.test_points]
    return (*kept, *((circuit.output.secondary,) if circuit.output else ()))


def gains(circuit: Circuit) -> Iterator[str]:
    """Each stage's gain, and how evenly the inverter drives the power tubes."""
    plates = set(circuit.output.primary) if circuit.output else set()
    for name, tube in circuit.tubes.items():
        if tube.plate not in plates and tube.grid != CHASSIS:
            yield f"gain {name} at 1kHz"
    if len(output_grids(circuit)) == 2 and circuit.input is not None:
        yield "balance at 1kHz"


def offered(circuit: Circuit, Hz: tuple[float, ...] = (1000.0,)) -> Iterator[str]:
    """What is worth offering of AC: ripple at each filter node, hum at the speaker, and the levels of the signal."""
    yield from (f"{node} ripple" for node in supply_nodes(circuit))
    if circuit.output:
        yield f"{circuit.output.secondary} hum"
    if circuit.input is not None:
        yield from (f"{node} at {shown(one)}" for one in Hz for node in signal_points(circuit))
