"""Lints of circuit files: each a function whose name is its id and whose docstring is its manual.

A part or tube switches one off with `quiet: [id]`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ..devices.library import Library, UnknownPart, standard_library
from ..devices.tubes import Triode
from ..late import late
from ..reference.errors import Problem, did_you_mean
from ..reference.text import Document, Place
from .netlist import CHASSIS, Circuit, Supply

with late():
    import eseries


@dataclass(frozen=True)
class CircuitLook:
    """What a lint sees."""

    circuit: Circuit
    document: Document
    library: Library

    def problem(self, lint: str, place: Place, message: str, hint: str = "", severity: str = "error") -> Problem:
        """A problem at a place of the file."""
        where = self.document.where(place)
        return Problem(where, ".".join(map(str, place)), message, hint, lint, severity)


def run(circuit: Circuit, document: Document, library: Library | None = None) -> list[Problem]:
    """Every problem of a circuit, but those that a part or tube has switched off."""
    look = CircuitLook(circuit, document, library or standard_library())
    found = [problem for lint in LINTS for problem in lint(look)]
    entries = {"parts": circuit.parts, "tubes": circuit.tubes}

    def quiet(problem: Problem) -> bool:
        section, _, name = problem.entry.partition(".")
        entry = entries.get(section, {}).get(name.split(".")[0])
        return entry is not None and problem.lint in entry.quiet

    return sorted(problem for problem in found if not quiet(problem))


def known_type(look: CircuitLook) -> Iterator[Problem]:
    """A tube or rectifier type without a model in kb/reference can't be solved; a triode has no screen, a pentode
    needs one."""
    for name, tube in look.circuit.tubes.items():
        place: Place = ("tubes", name, "type")
        try:
            law = look.library.tube(tube.type)
        except UnknownPart as error:
            yield look.problem("known-type", place, str(error))
            continue
        if isinstance(law, Triode) and tube.screen:
            yield look.problem("known-type", ("tubes", name, "screen"), f"{tube.type} is a triode and has no screen")
        if not isinstance(law, Triode) and not tube.screen:
            yield look.problem("known-type", ("tubes", name), f"{tube.type} needs a screen node")
    for name, supply in look.circuit.supplies.items():
        if not isinstance(supply, Supply):
            continue
        for key, types in (("rectifier", (supply.rectifier,)), ("alternatives", supply.alternatives)):
            for kind in types:
                try:
                    look.library.rectifier(kind)
                except UnknownPart as error:
                    yield look.problem("known-type", ("supplies", name, key), str(error))


def known_node(look: CircuitLook) -> Iterator[Problem]:
    """A test point, and the input, must be a node that some part, tube or supply joins; none is there twice."""
    nodes = look.circuit.nodes()
    for index, point in enumerate(look.circuit.test_points):
        if point not in nodes:
            yield look.problem(
                "known-node", ("test_points", index), f"no part joins the node '{point}'", did_you_mean(point, nodes)
            )
        elif point in look.circuit.test_points[:index]:
            yield look.problem("known-node", ("test_points", index), f"'{point}' is there twice")
    if look.circuit.input and look.circuit.input not in nodes:
        yield look.problem(
            "known-node", ("input",), f"no part joins the node '{look.circuit.input}'",
            did_you_mean(look.circuit.input, nodes),
        )  # fmt: skip


def floating_node(look: CircuitLook) -> Iterator[Problem]:
    """A node that only one end of one part touches leads nowhere: most often a slip in a node's name."""
    touch: dict[str, list[Place]] = {}
    for node, place in _ends(look.circuit):
        touch.setdefault(node, []).append(place)
    for node, places in touch.items():
        if node != CHASSIS and len(places) == 1 and node != look.circuit.input:
            hint = did_you_mean(node, [other for other in touch if other != node])
            yield look.problem("floating-node", places[0], f"nothing else joins the node '{node}'", hint)


def dc_path(look: CircuitLook) -> Iterator[Problem]:
    """Every node needs a path for direct current to the chassis or a supply, else its volts depend on leakage alone.
    A grid without one is the usual slip: its grid leak is missing."""
    group = _groups(look.circuit, with_tubes=True)
    anchors = {CHASSIS, *(supply.node for supply in look.circuit.supplies.values())}
    held = {group[node] for node in anchors if node in group}
    seen: set[str] = set()
    for node, place in _ends(look.circuit):
        if node not in seen and group[node] not in held:
            seen.add(node)
            yield look.problem("dc-path", place, f"the node '{node}' has no path for direct current to the chassis")


def tube_conducts(look: CircuitLook) -> Iterator[Problem]:
    """A tube conducts only if its plate (and screen) reaches a positive supply and its cathode the chassis."""
    group = _groups(look.circuit, with_tubes=False)
    fed = {
        group[s.node]
        for s in look.circuit.supplies.values()
        if not (isinstance(s, Supply) and s.polarity == "negative")
    }
    for name, tube in look.circuit.tubes.items():
        for electrode, node in (("plate", tube.plate), ("screen", tube.screen)):
            if node and group[node] not in fed:
                yield look.problem("tube-conducts", ("tubes", name, electrode), f"its {electrode} reaches no supply")
        if group[tube.cathode] != group[CHASSIS] and group[tube.cathode] not in fed:
            yield look.problem("tube-conducts", ("tubes", name, "cathode"), "its cathode has no way to the chassis")


def preferred_value(look: CircuitLook) -> Iterator[Problem]:
    """A value off every preferred series (E24 and E96 of IEC 60063, and the round values of before the 1950s) is most
    often a slip of a digit or a prefix."""
    digits = {
        _mantissa(v)
        for v in (
            *eseries.series(eseries.ESeries.E24),
            *eseries.series(eseries.ESeries.E96),
            1.6,
            2.5,
            3.2,
            4.0,
            5.0,
            8.0,
        )
    }
    for name, part in look.circuit.parts.items():
        value = getattr(part, "ohm", None) or getattr(part, "farad", None)
        if value is None:
            continue
        if not any(abs(_mantissa(value) / digit - 1) < 0.002 for digit in digits):
            key = "ohm" if hasattr(part, "ohm") else "farad"
            message = f"{look.document.value['parts'][name][key]} is off every preferred series"
            yield look.problem("preferred-value", ("parts", name, key), message, severity="warning")


#: Between which values a part of a role is found in guitar amplifiers (common practice, no source), with room to spare.
USUAL: dict[str, tuple[float, float]] = {
    "plate load": (3e3, 2e6), "cathode resistor": (10.0, 1e5), "grid leak": (2e4, 2.3e7), "grid stopper": (100.0, 2e6),
    "coupling capacitor": (5e-11, 2e-6), "cathode bypass": (5e-8, 1e-3), "filter capacitor": (1e-6, 1e-3),
    "first filter capacitor": (2e-6, 1e-3), "dropping resistor": (20.0, 3e5),
}  # fmt: skip
USUAL_SECONDARY_V = (120.0, 750.0)  # of a supply that feeds plates


def unusual_value(look: CircuitLook) -> Iterator[Problem]:
    """A value far outside what its role has in any guitar amplifier, or a secondary that no such transformer has, is
    most often a factor of ten or a thousand. A part of the circuit that has it nevertheless says so with `quiet`."""
    for stage in look.circuit.stages.values():
        for name, role in stage.parts.items():
            part = look.circuit.parts.get(name)
            value = getattr(part, "ohm", None) or getattr(part, "farad", None)
            low, high = USUAL.get(role, (0.0, float("inf")))
            if part is None or value is None or low <= value <= high:
                continue
            key = "ohm" if hasattr(part, "ohm") else "farad"
            written = look.document.value["parts"][name][key]
            message = f"{written} is far from what a {role} has; check the decimal point and the prefix"
            yield look.problem("unusual-value", ("parts", name, key), message, severity="warning")
    for name, supply in look.circuit.supplies.items():
        if isinstance(supply, Supply) and supply.polarity == "positive":
            low, high = USUAL_SECONDARY_V
            if not low <= supply.secondary_V <= high:
                message = (
                    f"{supply.secondary_V:g} V a side is no plate winding of an amplifier; check the decimal point"
                )
                yield look.problem("unusual-value", ("supplies", name, "secondary_V"), message, severity="warning")


def _mantissa(value: float) -> float:
    return float(f"{value:.6e}".split("e")[0])


def one_stage(look: CircuitLook) -> Iterator[Problem]:
    """Every part, tube and supply belongs to exactly one stage: the ranking takes at most one fault from each."""
    circuit = look.circuit
    owner: dict[str, str] = {}
    known = {*circuit.parts, *circuit.tubes, *circuit.supplies}
    for stage, entry in circuit.stages.items():
        for section, names in (("parts", tuple(entry.parts)), ("tubes", entry.tubes), ("supplies", entry.supplies)):
            for index, name in enumerate(names):
                place: Place = ("stages", stage, section, name if section == "parts" else index)
                if name not in known:
                    yield look.problem("one-stage", place, f"there is no '{name}'", did_you_mean(name, sorted(known)))
                elif name in owner:
                    yield look.problem("one-stage", place, f"{name} is in stage '{owner[name]}' already")
                else:
                    owner[name] = stage
    for section, entries in (("parts", circuit.parts), ("tubes", circuit.tubes), ("supplies", circuit.supplies)):
        for name in entries:
            if name not in owner:
                yield look.problem("one-stage", (section, name), f"{name} is in no stage")


LINTS: tuple[Callable[[CircuitLook], Iterator[Problem]], ...] = (
    known_type, known_node, floating_node, dc_path, tube_conducts, preferred_value, unusual_value, one_stage,
)  # fmt: skip


def _ends(circuit: Circuit) -> Iterator[tuple[str, Place]]:
    """Every connection: node, and where it is written. Parts before a supply's node end inside the supply."""
    inside = circuit.inside_supplies()
    for name, part in circuit.parts.items():
        if name not in inside:
            yield from ((node, ("parts", name, "nodes", index)) for index, node in enumerate(part.nodes))
    for name, tube in circuit.tubes.items():
        for electrode in ("grid", "plate", "cathode", "screen"):
            if node := getattr(tube, electrode):
                yield node, ("tubes", name, electrode)
    for name, supply in circuit.supplies.items():
        yield supply.node, ("supplies", name, "node")
    if circuit.output:
        yield from ((node, ("output", "primary", index)) for index, node in enumerate(circuit.output.primary))
        yield circuit.output.secondary, ("output",)
        yield circuit.output.secondary, ("output",)


def _groups(circuit: Circuit, with_tubes: bool) -> dict[str, str]:
    """Nodes joined for direct current, each under one of them (by union). Tubes join plate and cathode if asked."""
    parent: dict[str, str] = {CHASSIS: CHASSIS}

    def top(node: str) -> str:
        parent.setdefault(node, node)
        while parent[node] != node:
            node = parent[node]
        return node

    def join(*nodes: str) -> None:
        for node in nodes[1:]:
            parent[top(node)] = top(nodes[0])

    for node, _ in _ends(circuit):
        top(node)
    inside = circuit.inside_supplies()
    for name, part in circuit.parts.items():
        if name not in inside and part.kind not in ("capacitor", "electrolytic"):
            join(*part.nodes)
    if circuit.output:
        join(*circuit.output.primary)
        join(CHASSIS, circuit.output.secondary)
    if with_tubes:
        for tube in circuit.tubes.values():
            join(*(node for node in (tube.cathode, tube.plate, tube.screen) if node))
    return {node: top(node) for node in parent}
