"""Every single fault of every part, tube, supply and output transformer of a circuit, as variants to solve.

A fault has one or more severities (a coupling capacitor leaks 10 M or 100 k); each is one variant. Between two
severities lies a spread, which the likelihood treats as one more uncertain quantity. The weights are how common a
fault is relative to others on the bench (common practice, no source); a caller with better figures brings its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from ..bench.notation import show
from ..devices.supply import SupplySpec
from .netlist import Capacitor, Choke, Circuit, Potentiometer, Resistor, Supply
from .network import INSULATION_OHM, SHORT_OHM, Network, changed_rectifier
from .solve import Variant

Moves = Literal["conductance", "gas", "emission", "mains", "nothing"]


@dataclass(frozen=True)
class Severity:
    """One degree of a fault. spread: standard deviation of the logarithm of what it changes (`moves`).

    siemens: the conductance it leaves, when that is what it changes; tube: the section it is in.
    """

    label: str
    variant: Variant
    spread: float = 0.0
    moves: Moves = "nothing"
    tube: int = -1
    siemens: float = 0.0

    def loaded(self, node: int, siemens: float) -> Severity:
        """The same with a meter of that conductance from a node to the chassis."""
        return replace(self, variant=self.variant | Variant(((node, -1, siemens),)))


@dataclass(frozen=True)
class Fault:
    """A fault of one part. `id` is DESIGNATOR.kind; `only_ac` marks faults that no DC reading shows.

    role: the part's role in its stage (or tube, rectifier, output transformer, mains); stage_kind: what the stage does.
    """

    id: str
    stage: str
    part: str
    kind: str
    text: str
    weight: float
    severities: tuple[Severity, ...]
    only_ac: bool = False
    role: str = ""
    stage_kind: str = ""


WEIGHTS: dict[str, float] = {
    "dead": 6, "weak": 10, "gassy": 3, "heater-cathode-leak": 2, "grid-cathode-short": 1, "grid-screen-short": 0.7,
    "grid-plate-short": 0.3, "plate-screen-short": 0.3, "plate-cathode-short": 0.5, "screen-cathode-short": 0.5,
    "heater-cathode-short": 1, "open": 3, "shorted": 0.3, "drifted-up": 5, "drifted-down": 0.5,
    "wrong-value-high": 0.5, "wrong-value-low": 0.5, "leaky": 6, "dried": 6, "track-open": 1, "half-primary-open": 1,
    "shorted-turns": 0.5, "no-load": 1, "wrong-rectifier": 2, "weak-rectifier": 4, "one-plate-dead": 2,
    "mains-high": 2, "mains-low": 2, "no-output": 2,
}  # fmt: skip
_RARE_SHORT = 0.2  # a resistor that shorts is rarer than a capacitor that does


def steps(first: float, last: float, count: int) -> tuple[float, ...]:
    """`count` values from first to last in equal ratios."""
    return tuple(first * (last / first) ** (k / (count - 1)) for k in range(count))


def single_faults(network: Network) -> tuple[Fault, ...]:
    """All single faults of a compiled circuit, in the order of its file."""
    found: list[Fault] = []
    circuit = network.circuit
    stage_of = circuit.stage_of()
    for fault in (*_parts(network), *_tubes(network), *_supplies(network), *_output(network)):
        name = stage_of.get(fault.part, "supply")
        stage = circuit.stages.get(name)
        kind = (stage.kind if stage else None) or ""
        found.append(replace(fault, stage=name, role=_role(circuit, fault.part, name), stage_kind=kind))
    return tuple(found)


def _role(circuit: Circuit, part: str, stage: str) -> str:
    """What a part does in its stage, in the words of the circuit file."""
    if part in circuit.tubes:
        return "tube"
    if part in circuit.supplies:
        return "rectifier"
    if part not in circuit.parts:
        return part.replace("_", " ")
    return circuit.stages[stage].parts.get(part, "") if stage in circuit.stages else ""


def _fault(part: str, kind: str, text: str, severities: list[Severity], weight: float = 1.0, ac: bool = False) -> Fault:
    return Fault(f"{part}.{kind}", "", part, kind, text, WEIGHTS[kind] * weight, tuple(severities), ac)


#: The least capacitor that filters a supply.
LEAST_FILTER_F = 1e-6
#: What is left of a dried-out electrolytic (common practice, no source: from half to next to nothing).
DRIED = (0.4, 0.2, 0.08, 0.02)
#: What the wiring around an open capacitor still couples.
STRAY_F = (0.2e-12, 1.5e-12)
#: A shorted turn loads the transformer like a resistance of so many times the speaker's across the secondary (common
#: practice, no source).
SHORTED_TURNS_LOAD = (0.12, 0.05, 0.02)
#: A short is anything from a tenth of an ohm to some ohms (common practice, no source): standard deviation of its
#: logarithm.
SHORT_SPREAD = 0.8


def _short(network: Network, element: str) -> Severity:
    return _to(network, element, SHORT_OHM, "shorted", SHORT_SPREAD)


def _to(network: Network, element: str, ohm: float, label: str, spread: float = 0.0) -> Severity:
    """The named element's resistance becomes `ohm`."""
    e = network.elements[network.element(element)]
    moves: Moves = "conductance" if spread else "nothing"
    variant = Variant(((e.a, e.b, 1.0 / ohm - e.siemens),))
    return Severity(label, variant, spread, moves, siemens=1.0 / ohm)


def _parts(network: Network) -> Iterator[Fault]:
    circuit = network.circuit
    known = {element.name for element in network.elements}
    series = {s.series: name for name, s in circuit.supplies.items() if isinstance(s, Supply) and s.series}
    reservoirs = {s.reservoir: name for name, s in circuit.supplies.items() if isinstance(s, Supply)}
    for name, part in circuit.parts.items():
        if name in series:
            yield from _series_resistor(network, name, series[name])
        elif isinstance(part, Resistor):
            yield from _resistor(network, name, part.ohm)
        elif isinstance(part, Capacitor):
            yield from _capacitor(network, name, part, reservoirs.get(name))
        elif isinstance(part, Choke) and name in known:
            yield _fault(name, "open", "winding open", [_to(network, name, INSULATION_OHM, "open")])
            yield _fault(name, "shorted", "winding shorted", [_short(network, name)], _RARE_SHORT)
        elif isinstance(part, Potentiometer):
            for half in ("upper", "lower"):
                if f"{name}.{half}" in known:
                    opened = _to(network, f"{name}.{half}", INSULATION_OHM, half)
                    fault = _fault(name, "track-open", f"track open on the {half} side of the wiper", [opened])
                    yield replace(fault, id=f"{name}.{half}-track-open")


def _resistor(network: Network, name: str, ohm: float) -> Iterator[Fault]:
    def times(factors: tuple[float, ...], spread: float) -> list[Severity]:
        return [_to(network, name, ohm * factor, f"x {factor:.2g}", spread) for factor in factors]

    yield _fault(name, "open", "open", [_to(network, name, INSULATION_OHM, "open")])
    yield _fault(name, "shorted", "shorted", [_short(network, name)], _RARE_SHORT)
    yield _fault(name, "drifted-up", "drifted up", times(steps(1.35, 4.5, 7), 0.06))
    yield _fault(name, "drifted-down", "drifted down", times(steps(0.72, 0.3, 5), 0.06))
    yield _fault(name, "wrong-value-high", "ten times too high", times((10.0,), 0.1))
    yield _fault(name, "wrong-value-low", "ten times too low", times((0.1,), 0.1))


def _capacitor(network: Network, name: str, part: Capacitor, supply: str | None) -> Iterator[Fault]:
    leaks = steps(1e5, 1e3, 9) if part.kind == "electrolytic" else steps(1e7, 3e4, 11)
    yield _fault(
        name, "leaky", "leaking direct current", [_to(network, name, ohm, _rounded(ohm), 0.17) for ohm in leaks]
    )
    yield _fault(name, "shorted", "shorted", [_short(network, name)])
    at = network.element(name)

    def farads(share: float) -> Severity:
        return Severity("open" if share == 0.0 else f"x {share:g}", Variant(farads=((at, share),)))

    if supply is None:
        opened = [farads(stray / part.farad) for stray in STRAY_F if stray < part.farad / 10]
        opened = [replace(degree, label="open") for degree in opened] or [farads(0.0)]
        yield _fault(name, "open", "open", opened, 0.5, ac=True)
        if part.kind == "electrolytic":
            yield _fault(name, "dried", "dried out", [farads(share) for share in DRIED], ac=True)
        else:
            yield _fault(name, "wrong-value-high", "ten times too high", [farads(10.0)], ac=True)
            yield _fault(name, "wrong-value-low", "ten times too low", [farads(0.1)], ac=True)
        return
    index = [port.name for port in network.supplies].index(supply)
    spec = network.supplies[index].spec
    for kind, text, share in (("dried", "dried out", 0.2), ("open", "open", 0.002)):
        changed = replace(spec, reservoir_F=spec.reservoir_F * share, next_ohm=_next_ohm(network, index))
        variant = Variant(supplies=((index, changed),), farads=((at, share),))
        yield _fault(name, kind, text, [Severity(f"x {share:g}", variant)])


def _next_ohm(network: Network, supply: int) -> float:
    """Impedance at the ripple's frequency from a supply's node to the next filter capacitor; zero if there is none."""
    port = network.supplies[supply]
    filters = {e.a for e in network.elements if e.kind == "capacitor" and e.b < 0 and e.farad >= LEAST_FILTER_F}
    filters |= {e.b for e in network.elements if e.kind == "capacitor" and e.a < 0 and e.farad >= LEAST_FILTER_F}
    ripple = 2.0 * math.pi * port.spec.mains_Hz * port.spec.waves
    found = [
        math.hypot(1.0 / e.siemens, ripple * e.henry)
        for e in network.elements
        if e.kind in ("resistor", "inductor") and {e.a, e.b} & {port.node} and {e.a, e.b} & (filters - {port.node})
    ]
    return min(found, default=0.0)


def _series_resistor(network: Network, name: str, supply: str) -> Iterator[Fault]:
    index = [port.name for port in network.supplies].index(supply)
    spec = network.supplies[index].spec
    ohm = getattr(network.circuit.parts[name], "ohm", 0.0)

    def times(factor: float) -> Severity:
        changed = replace(spec, source_ohm=spec.source_ohm + ohm * (factor - 1.0))
        return Severity(f"x {factor:.2g}", Variant(supplies=((index, changed),)))

    yield _fault(name, "open", "open", [Severity("open", Variant(supplies=((index, _dead(spec)),)))])
    yield _fault(name, "shorted", "shorted", [times(0.001)], _RARE_SHORT)
    yield _fault(name, "drifted-up", "drifted up", [times(f) for f in steps(1.35, 4.5, 6)])
    yield _fault(name, "drifted-down", "drifted down", [times(f) for f in steps(0.72, 0.3, 5)])


def _dead(spec: SupplySpec) -> SupplySpec:
    """Nothing comes in, and nothing goes back."""
    return replace(spec, open_circuit_V=1e-3, threshold_V=0.0, source_ohm=1e8)


def _tubes(network: Network) -> Iterator[Fault]:
    circuit = network.circuit
    for name, tube in circuit.tubes.items():
        at = network.tube_index(name)

        def emission(factor: float, spread: float, at: int = at) -> Severity:
            variant = Variant(emission=((at, factor),))
            return Severity(f"emission x {factor:.2g}", variant, spread, "emission" if spread else "nothing", at)

        yield _fault(name, "dead", "no emission (heater or cathode gone)", [emission(1e-6, 0.0), emission(1e-3, 1.0)])
        yield _fault(name, "weak", "weak emission", [emission(f, 0.06) for f in steps(0.55, 0.07, 8)])
        # About a third, one, three and ten microamperes of ions in a preamp tube, some times that in an output tube.
        shares = steps(3e-5, 9e-4, 6) if tube.screen else steps(3e-4, 1e-2, 6)
        gas = [Severity(f"ion share {g:.2g}", Variant(gas=((at, g),)), 0.2, "gas", at) for g in shares]
        yield _fault(name, "gassy", "gassy (grid current)", gas)
        leaks = [_to(network, f"{name}.heater_cathode", ohm, _rounded(ohm), 0.25) for ohm in steps(1e6, 1e4, 6)]
        yield _fault(name, "heater-cathode-leak", "heater to cathode leakage", leaks)
        shorts = ["grid-cathode", "grid-plate", "plate-cathode", "heater-cathode"]
        if tube.screen:
            shorts += ["grid-screen", "plate-screen", "screen-cathode"]
        for pair in shorts:
            if pair == "heater-cathode" and tube.cathode == tube.heater:
                continue
            element = f"{name}.{pair.replace('-', '_')}"
            text = f"{pair.replace('-', ' to ')} shorted inside"
            yield _fault(name, f"{pair}-short", text, [_short(network, element)])


def _supplies(network: Network) -> Iterator[Fault]:
    high: list[tuple[int, SupplySpec]] = []
    low: list[tuple[int, SupplySpec]] = []
    for index, port in enumerate(network.supplies):
        spec = port.spec
        supply = network.circuit.supplies[port.name]
        assert isinstance(supply, Supply)

        def changed(label: str, new: SupplySpec, index: int = index) -> Severity:
            return Severity(label, Variant(supplies=((index, new),)))

        yield _fault(
            port.name, "no-output", "no output (fuse, winding or rectifier open)", [changed("dead", _dead(spec))]
        )
        if network.library.rectifier(supply.rectifier).heated:
            weak = [
                changed(f"perveance x {f:.2g}", replace(spec, perveance=spec.perveance * f)) for f in steps(0.5, 0.1, 4)
            ]
            yield _fault(port.name, "weak-rectifier", "rectifier tube weak", weak)
        if spec.waves == 2:
            half = replace(spec, second_section=0.0)
            yield _fault(port.name, "one-plate-dead", "only one half of the rectifier works", [changed("half", half)])
        for name in supply.alternatives:
            other = changed_rectifier(spec, name, supply.connection, network.library)
            fault = _fault(port.name, "wrong-rectifier", f"{name} fitted instead", [changed(name, other)])
            yield replace(fault, id=f"{port.name}.wrong-rectifier-{name}")
        for found, factor in ((high, 1.1), (low, 0.9)):
            found.append((index, replace(spec, open_circuit_V=spec.open_circuit_V * factor)))
    if network.supplies:
        yield _fault(
            "mains", "mains-high", "mains high", [Severity("x 1.1", Variant(supplies=tuple(high)), 0.03, "mains")]
        )
        yield _fault(
            "mains", "mains-low", "mains low", [Severity("x 0.9", Variant(supplies=tuple(low)), 0.03, "mains")]
        )


def _output(network: Network) -> Iterator[Fault]:
    output = network.circuit.output
    if output is None:
        return
    part = "output_transformer"
    halves = [e.name for e in network.elements if e.name.startswith("primary_")]
    for name in halves:
        fault = _fault(
            part, "half-primary-open", "primary open on this side", [_to(network, name, INSULATION_OHM, "open")]
        )
        yield replace(fault, id=f"{part}.{name.replace('_', '-')}-open")
    for name in halves:
        ohm = 1.0 / network.elements[network.element(name)].siemens
        less = _to(network, name, 0.7 * ohm, "x 0.7")
        loads = [
            Variant(((network.node(output.secondary), -1, 1.0 / (share * output.load_ohm)),))
            for share in SHORTED_TURNS_LOAD
        ]
        degrees = [replace(less, variant=less.variant | load) for load in loads]
        fault = _fault(part, "shorted-turns", "turns shorted", degrees, ac=True)
        yield replace(fault, id=f"{part}.{name.replace('_', '-')}-shorted-turns")
    yield _fault(part, "no-load", "no load on the secondary", [_to(network, "load", INSULATION_OHM, "open")], ac=True)


def _rounded(ohm: float) -> str:
    """A leak's resistance, to the two figures that one is ever known to."""
    return show(float(f"{ohm:.2g}"), "ohm")
