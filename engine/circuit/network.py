"""A circuit file compiled for the solvers: nodes, two-terminal elements, tubes as ports, supplies as ports.

Every part that a direct current can pass is one or more conductances between two nodes. What real parts leak when
they are good is there too (INSULATION_OHM across each capacitor and between tube pins), so that no node floats and a
fault of a part is always the change of one conductance.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ..devices.library import Library, standard_library
from ..devices.supply import SupplySpec
from ..devices.tubes import Array, Pentode, Triode
from ..late import late
from .netlist import CHASSIS, Circuit, FixedSupply, Supply

with late():
    from ..reference import errors

INSULATION_OHM = 1e10  # good capacitors, sockets and boards (common practice: thousands of megohms, no source)
SHORT_OHM = 1.0
#: Rotation to resistance: share of an audio track below the wiper at mid travel (maker taper charts, from memory).
AUDIO_MIDPOINT = 0.15

Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Element:
    """A linear two-terminal element. `a` and `b` index the nodes, -1 the chassis; `siemens` is its DC conductance."""

    name: str
    part: str
    a: int
    b: int
    siemens: float
    kind: Literal["resistor", "capacitor", "inductor", "insulation"]
    farad: float = 0.0
    henry: float = 0.0
    tolerance: float = 0.0  # share of the value


@dataclass(frozen=True)
class SupplyPort:
    """A rectifier supply as the solver sees it."""

    name: str
    node: int
    sign: float
    spec: SupplySpec
    dead_when_open: str | None  # the series resistor's designator


@dataclass(frozen=True)
class Network:
    """The compiled circuit.

    Ports come in the order: grid and plate of each triode, grid, plate and screen of each pentode, each supply.
    `incidence` has shape (nodes, ports): +1 where the port's current leaves the node, -1 where it enters.
    """

    circuit: Circuit
    library: Library
    nodes: tuple[str, ...]
    elements: tuple[Element, ...]
    triodes: tuple[str, ...]
    pentodes: tuple[str, ...]
    supplies: tuple[SupplyPort, ...]
    incidence: Array
    preload: Array  # conductance put across each port beforehand, for the numbers' sake
    sources_A: Array  # current into each node from fixed supplies, shape (nodes,)

    def node(self, name: str) -> int:
        """Index of a node; -1 for the chassis. Raises KeyError with the nearest names."""
        if name == CHASSIS:
            return -1
        try:
            return self.nodes.index(name)
        except ValueError:
            raise KeyError(f"the circuit has no node '{name}'. {errors.did_you_mean(name, self.nodes)}") from None

    def element(self, name: str) -> int:
        """Index of an element by its name."""
        for index, element in enumerate(self.elements):
            if element.name == name:
                return index
        raise KeyError(f"the circuit has no element '{name}'")

    def tube_index(self, name: str) -> int:
        """Index of a tube section among triodes then pentodes."""
        return (*self.triodes, *self.pentodes).index(name)

    @cached_property
    def laws(self) -> tuple[Any, Any]:
        """The constants of the triodes' and of the pentodes' laws, an array each over the sections."""
        return self._laws(self.triodes), self._laws(self.pentodes)

    def _laws(self, names: tuple[str, ...]) -> Any:
        if not names:
            return None
        laws = [self.library.tube(self.circuit.tubes[name].type) for name in names]
        kind: Any = type(laws[0])
        return kind(**{f.name: np.array([getattr(law, f.name) for law in laws]) for f in fields(kind)})

    @cached_property
    def conductances(self) -> tuple[Ints, Ints, Array, Array]:
        """Both ends of every element, its conductance and its tolerance."""
        ends = np.array([(e.a, e.b) for e in self.elements], dtype=np.intp).reshape(-1, 2)
        values = np.array([(e.siemens, e.tolerance) for e in self.elements]).reshape(-1, 2)
        return ends[:, 0], ends[:, 1], values[:, 0], values[:, 1]

    @cached_property
    def element_incidence(self) -> Array:
        """As `incidence`, for every element, shape (nodes, elements)."""
        a, b, _, _ = self.conductances
        found = np.zeros((len(self.nodes) + 1, len(self.elements)))
        found[a, np.arange(len(a))] += 1.0
        found[b, np.arange(len(b))] -= 1.0
        return found[:-1]

    @property
    def ports(self) -> int:
        return int(self.incidence.shape[1])


def compile_circuit(circuit: Circuit, library: Library | None = None) -> Network:
    """Compile a circuit. Raises UnknownPart when it names a tube or rectifier without a model."""
    library = library or standard_library()
    nodes = circuit.nodes()
    at = {name: index for index, name in enumerate(nodes)} | {CHASSIS: -1}
    elements = _part_elements(circuit, at)
    triodes = tuple(n for n, t in circuit.tubes.items() if isinstance(library.tube(t.type), Triode))
    pentodes = tuple(n for n, t in circuit.tubes.items() if isinstance(library.tube(t.type), Pentode))
    for name, tube in circuit.tubes.items():
        pairs = {"grid_plate": (tube.grid, tube.plate), "grid_cathode": (tube.grid, tube.cathode)}
        pairs["plate_cathode"] = (tube.plate, tube.cathode)
        pairs["heater_cathode"] = (tube.cathode, tube.heater)
        if tube.screen:
            pairs["screen_cathode"] = (tube.screen, tube.cathode)
            pairs["grid_screen"] = (tube.grid, tube.screen)
            pairs["plate_screen"] = (tube.plate, tube.screen)
        for what, (a, b) in pairs.items():
            elements.append(Element(f"{name}.{what}", name, at[a], at[b], 1 / INSULATION_OHM, "insulation"))
    incidence, preload = _ports(circuit, at, triodes, pentodes)
    supplies: list[SupplyPort] = []
    sources = np.zeros(len(nodes))
    for name, supply in circuit.supplies.items():
        if isinstance(supply, FixedSupply):
            elements.append(Element(name, name, at[supply.node], -1, 1 / supply.source_ohm, "resistor"))
            sources[at[supply.node]] += supply.volts / supply.source_ohm
            continue
        port = _supply_port(name, supply, circuit, library, at[supply.node])
        supplies.append(port)
        column = np.zeros((len(nodes), 1))
        column[port.node, 0] = port.sign
        incidence = np.hstack([incidence, column])
        preload = np.append(preload, 1.0 / (3.0 * port.spec.source_ohm + 100.0))
    return Network(
        circuit, library, nodes, tuple(elements), triodes, pentodes, tuple(supplies), incidence, preload, sources
    )


def _part_elements(circuit: Circuit, at: Mapping[str, int]) -> list[Element]:
    elements: list[Element] = []
    inside = circuit.inside_supplies()
    for name, part in circuit.parts.items():
        if name in inside:
            continue
        ends = [at[node] for node in part.nodes]
        a, b = ends[0], ends[1]
        tolerance = part.tolerance_percent / 100
        if part.kind == "resistor":
            elements.append(Element(name, name, a, b, 1 / part.ohm, "resistor", tolerance=tolerance))
        elif part.kind == "choke":
            elements.append(
                Element(name, name, a, b, 1 / part.winding_ohm, "inductor", henry=part.henry, tolerance=tolerance)
            )
        elif part.kind == "potentiometer":
            share = min(max(track_share(part.taper, part.rotation), 0.001), 0.999)
            for half, upper, lower, ohm in (
                ("upper", ends[0], ends[1], part.ohm * (1 - share)), ("lower", ends[1], ends[2], part.ohm * share),
            ):  # fmt: skip
                if upper != lower:
                    elements.append(
                        Element(f"{name}.{half}", name, upper, lower, 1 / ohm, "resistor", tolerance=tolerance)
                    )
        else:
            elements.append(
                Element(name, name, a, b, 1 / INSULATION_OHM, "capacitor", farad=part.farad, tolerance=tolerance)
            )
    if circuit.output:
        plates = [at[node] for node in circuit.output.primary]
        centre = plates.pop(1)
        for half, plate, ohm in zip("ab", plates, circuit.output.winding_ohm, strict=False):
            elements.append(
                Element(f"primary_{half}", "output_transformer", plate, centre, 1 / ohm, "resistor", tolerance=0.1)
            )
        elements.append(
            Element(
                "load", "output_transformer", at[circuit.output.secondary], -1, 1 / circuit.output.load_ohm, "resistor"
            )
        )
    return elements


def track_share(taper: str, rotation: float) -> float:
    """Share of the track between wiper and lower end at a rotation of 0 to 10.

    r(x) = (b^x - 1)/(b - 1) with b = ((1 - m)/m)^2 and m the share at mid travel; the exponential law of a tapered
    track (identity; the midpoint is AUDIO_MIDPOINT).
    """
    x = rotation / 10.0
    if taper == "linear":
        return x
    base = ((1 - AUDIO_MIDPOINT) / AUDIO_MIDPOINT) ** 2
    if taper == "reverse audio":
        return float(1 - (base ** (1 - x) - 1) / (base - 1))
    return float((base**x - 1) / (base - 1))


def _ports(
    circuit: Circuit, at: Mapping[str, int], triodes: tuple[str, ...], pentodes: tuple[str, ...]
) -> tuple[Array, Array]:
    columns: list[Array] = []
    preload: list[float] = []

    def port(a: str, b: str, siemens: float) -> None:
        column = np.zeros(len(at))  # the chassis takes the last place (index -1) and is cut off below
        column[at[a]] += 1.0
        column[at[b]] -= 1.0
        columns.append(column[:-1])
        preload.append(siemens)

    for name in triodes:
        tube = circuit.tubes[name]
        port(tube.grid, tube.cathode, 1e-10)
        port(tube.plate, tube.cathode, 5e-6)
    for name in pentodes:
        tube = circuit.tubes[name]
        port(tube.grid, tube.cathode, 1e-10)
        port(tube.plate, tube.cathode, 1e-4)
        port(tube.screen or CHASSIS, tube.cathode, 1e-5)
    if not columns:
        return np.zeros((len(at) - 1, 0)), np.zeros(0)
    return np.stack(columns, axis=1), np.array(preload)


def _supply_port(name: str, supply: Supply, circuit: Circuit, library: Library, node: int) -> SupplyPort:
    rectifier = library.rectifier(supply.rectifier)
    reservoir = circuit.parts[supply.reservoir]
    source = supply.source_ohm
    if supply.series:
        source += getattr(circuit.parts[supply.series], "ohm", 0.0)
    choke = circuit.parts[supply.input_choke] if supply.input_choke else None
    in_series = 2 if supply.connection == "bridge" else 1
    spec = SupplySpec(
        open_circuit_V=supply.secondary_V,
        source_ohm=source,
        perveance=rectifier.perveance / in_series**1.5,
        threshold_V=rectifier.threshold_V * in_series,
        waves=1 if supply.connection == "half wave" else 2,
        mains_Hz=circuit.mains.Hz,
        reservoir_F=getattr(reservoir, "farad", 0.0),
        choke_H=getattr(choke, "henry", 0.0),
        choke_ohm=getattr(choke, "winding_ohm", 0.0),
    )
    return SupplyPort(name, node, 1.0 if supply.polarity == "positive" else -1.0, spec, supply.series)


def changed_rectifier(spec: SupplySpec, name: str, connection: str, library: Library) -> SupplySpec:
    """The same supply with another rectifier in the socket. Raises UnknownPart."""
    rectifier = library.rectifier(name)
    in_series = 2 if connection == "bridge" else 1
    return replace(
        spec,
        perveance=rectifier.perveance / in_series**1.5,
        threshold_V=rectifier.threshold_V * in_series,
    )
