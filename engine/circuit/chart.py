"""The voltage chart of a circuit, healthy, with a fault, or with something changed; and the limits it keeps or
breaks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..late import late
from .expected import HEALTHY, Meter, expect
from .faults import single_faults
from .logged import Bench
from .netlist import Circuit, Supply
from .network import Network, compile_circuit
from .quantities import SWEEP_Hz, gains, offered, quantity
from .response import ripple
from .solve import Solver, Variant

with late():
    from ..reference import errors, tables


@dataclass(frozen=True)
class ChartRow:
    """One test point: what a meter reads, and the band (two standard deviations) that good parts and meter give."""

    point: str
    volts: float
    low_V: float
    high_V: float


@dataclass(frozen=True)
class Limit:
    """One figure against its published limit. `system` is the rating system the limit holds under."""

    of: str
    value: float
    limit: float
    unit: str
    system: str
    source: str
    seen: bool

    @property
    def over(self) -> bool:
        return self.value > self.limit


@dataclass(frozen=True)
class Chart:
    """Readings at every test point, the tubes' currents and dissipations, the supply, and the limits."""

    rows: tuple[ChartRow, ...]
    tubes: Mapping[str, Mapping[str, float]]
    supplies: Mapping[str, Mapping[str, float]]
    limits: tuple[Limit, ...]


@dataclass(frozen=True)
class SignalRow:
    """One AC reading, volts RMS or a ratio (no unit): what it should be, and the band that good parts give."""

    name: str
    unit: str
    reading: float
    low: float
    high: float


@dataclass(frozen=True)
class Signals:
    """AC readings, with what the generator at the input is set to (V RMS)."""

    driven_V: float
    rows: tuple[SignalRow, ...]


class NoOperatingPoint(ArithmeticError):
    """The solver found no operating point; no numbers can be given."""


def chart(circuit: Circuit, meter: Meter | None = None, fault: str = "", severity: int | None = None) -> Chart:
    """The chart of a circuit, or of the circuit with one fault at one of its degrees (the middle one by default).

    Raises KeyError for an unknown fault, NoOperatingPoint when no operating point is found.
    """
    network = compile_circuit(circuit)
    try:
        solver = Solver(network)
    except ArithmeticError as error:
        raise NoOperatingPoint(str(error)) from error
    meter = meter or Meter()
    chosen = HEALTHY
    if fault:
        known = {f.id: f for f in single_faults(network)}
        if fault not in known:
            raise KeyError(f"no fault '{fault}' in this circuit. {errors.did_you_mean(fault, tuple(known))}")
        degrees = known[fault].severities
        chosen = degrees[len(degrees) // 2 if severity is None else severity]
    expected = expect(solver, [chosen], circuit.test_points, meter)
    if not expected.converged[0]:
        raise NoOperatingPoint(f"no operating point was found with {fault or 'this circuit'}")
    mean = expected.mean[0]
    sigma = np.sqrt(np.diagonal(expected.covariance[0]) + meter.variance(mean))
    rows = tuple(
        ChartRow(p, float(m), float(m - 2 * s), float(m + 2 * s))
        for p, m, s in zip(circuit.test_points, mean, sigma, strict=True)
    )
    tubes, supplies = _tubes(solver, chosen.variant), _supplies(solver, chosen.variant)
    return Chart(rows, tubes, supplies, tuple(_limits(circuit, tubes, supplies)))


def signals(circuit: Circuit, fault: str = "", like: Circuit | None = None) -> Signals:
    """Ripple, hum, levels at three frequencies and gains, sound or with one fault at its middle degree. like: the
    circuit whose generator's setting holds, where this one is a changed one. Raises as `chart` does."""
    network = compile_circuit(circuit)
    try:
        solver = Solver(network)
    except ArithmeticError as error:
        raise NoOperatingPoint(str(error)) from error
    variants = [HEALTHY.variant]
    if fault:
        degrees = next(f.severities for f in single_faults(network) if f.id == fault)
        variants.append(degrees[len(degrees) // 2].variant)
    bench = Bench(solver, variants, solver.solve(variants).port_V)
    driven = signals(like).driven_V if like is not None else bench.drive_V(circuit.input) if circuit.input else 0.0
    own = bench.drive_V(circuit.input) if circuit.input else 1.0
    rows = []
    for name in (*offered(circuit, SWEEP_Hz), *gains(circuit)):
        wanted = quantity(circuit, name)
        reading, low, high = bench.column(wanted).band(len(variants) - 1)
        scale = driven / own if wanted.kind == "level" and not wanted.over else 1.0
        rows.append(SignalRow(name, wanted.unit, reading * scale, low * scale, high * scale))
    return Signals(driven, tuple(rows))


def _tubes(solver: Solver, variant: Variant) -> dict[str, dict[str, float]]:
    network = solver.network
    solution = solver.solve([variant])
    found: dict[str, dict[str, float]] = {}
    many = len(network.triodes)
    to_chassis = _resistance_to_chassis(network)
    for index, name in enumerate((*network.triodes, *network.pentodes)):
        tube = network.circuit.tubes[name]
        at = 2 * index if index < many else 2 * many + 3 * (index - many)
        volts, amps = solution.port_V[0], solution.port_A[0]
        cathode = solution.volts[0, network.node(tube.cathode)] if tube.cathode != "chassis" else 0.0
        heater = solution.volts[0, network.node(tube.heater)] if tube.heater != "chassis" else 0.0
        figures = {
            "plate_V": volts[at + 1], "grid_V": volts[at], "plate_mA": amps[at + 1] * 1e3,
            "plate_W": volts[at + 1] * amps[at + 1], "heater_cathode_V": abs(cathode - heater),
            "cathode_mA": amps[at + 1] * 1e3,
        }  # fmt: skip
        if tube.screen:
            figures |= {"screen_V": volts[at + 2], "screen_mA": amps[at + 2] * 1e3,
                        "screen_W": volts[at + 2] * amps[at + 2],
                        "cathode_mA": (amps[at + 1] + amps[at + 2]) * 1e3}  # fmt: skip
        figures["grid_resistor_ohm"] = to_chassis[network.node(tube.grid)] if tube.grid != "chassis" else 0.0
        found[name] = {key: float(value) for key, value in figures.items()}
    return found


def _resistance_to_chassis(network: Network) -> list[float]:
    """Resistance from each node to the chassis with the tubes out and the supplies dead but in place."""
    size = len(network.nodes)
    nodal = np.zeros((size + 1, size + 1))
    ends = [(e.a, e.b, e.siemens) for e in network.elements]
    ends += [(port.node, -1, 1.0 / port.spec.source_ohm) for port in network.supplies]
    for a, b, siemens in ends:
        nodal[[a, b], [a, b]] += siemens
        nodal[[a, b], [b, a]] -= siemens
    found: list[float] = np.diagonal(np.linalg.inv(nodal[:-1, :-1])).tolist()
    return found


def _supplies(solver: Solver, variant: Variant) -> dict[str, dict[str, float]]:
    network = solver.network
    solution = solver.solve([variant])
    found: dict[str, dict[str, float]] = {}
    changed = dict(variant.supplies)
    for index, port in enumerate(network.supplies):
        spec = changed.get(index, port.spec)
        curve = solver.curve(spec)
        level = float(solution.port_V[0, network.ports - len(network.supplies) + index])
        found[port.name] = {
            "output_V": level * port.sign,
            "output_mA": curve.at(level, curve.current_A) * 1e3,
            "ripple_V": curve.at(level, curve.ripple_pp_V),
            "peak_plate_mA": curve.at(level, curve.peak_A) * 1e3,
            "first_capacitor_uF": spec.reservoir_F * 1e6,
        }
    main = next((port.name for port in network.supplies if port.sign > 0), "")
    for node in ripple(solver, solution):
        found[main][f"ripple_{node.node}_V"] = node.peak_to_peak_V
    return found


_TUBE_LIMITS = {
    "plate_V": ("V", "plate volts"), "plate_W": ("W", "plate dissipation"), "screen_V": ("V", "screen volts"),
    "screen_W": ("W", "screen dissipation"), "cathode_mA": ("mA", "cathode current"),
    "heater_cathode_V": ("V", "heater to cathode"),
}  # fmt: skip
_RECTIFIER_LIMITS = {
    "output_mA": ("mA", 1.0, "rectifier output"), "peak_plate_mA": ("mA", 1.0, "rectifier peak per plate"),
    "first_capacitor_uF": ("F", 1e6, "first filter capacitor"),
}  # fmt: skip


def _limits(circuit: Circuit, tubes: Mapping[str, Any], supplies: Mapping[str, Any]) -> Iterable[Limit]:
    book = tables.load()
    for name, figures in tubes.items():
        tube = circuit.tubes[name]
        for key, (unit, words) in _TUBE_LIMITS.items():
            if key in figures:
                yield from _limit(book, f"{name} {words}", tube.type, key, figures[key], unit)
        bias = "cathode" if tube.cathode != "chassis" else "fixed"
        key = f"grid_resistor_{bias}_bias_ohm"
        yield from _limit(book, f"{name} grid circuit resistance", tube.type, key, figures["grid_resistor_ohm"], "ohm")
    for name, figures in supplies.items():
        supply = circuit.supplies[name]
        if not isinstance(supply, Supply):
            continue
        entry = book.rectifiers.get(supply.rectifier)
        if entry is None:
            continue
        for key, (unit, per_unit, words) in _RECTIFIER_LIMITS.items():
            blocks = [block for block in entry.limits if getattr(block, key, None) is not None]
            blocks.sort(key=lambda block: not block.seen)
            if blocks:
                first, limit = blocks[0], float(getattr(blocks[0], key)) / per_unit
                yield Limit(
                    f"{name} {words}", figures[key] / per_unit, limit, unit, first.system, first.source, first.seen
                )
        if supply.heater_winding_A:
            yield Limit(
                f"{name} heater winding", entry.heater.A, supply.heater_winding_A, "A", "transformer",
                entry.heater.source, entry.heater.seen,
            )  # fmt: skip


def _limit(book: Any, of: str, kind: str, key: str, value: float, unit: str) -> Iterable[Limit]:
    try:
        chosen = book.limit(kind, key)
    except LookupError:
        return
    yield Limit(of, value, chosen.value, unit, chosen.rating.system, chosen.rating.source, chosen.rating.seen)


def changed(circuit: Circuit, changes: Mapping[str, str]) -> Circuit:
    """The circuit with parts, tubes, rectifiers or the mains changed.

    `changes` maps a designator to its new value (R17: 47k), a tube to a type (V3: 6L6GC), a supply to a rectifier
    (main: 5AR4), `mains` to volts. Raises KeyError for an unknown name, ValueError for a value that can't be read.
    """
    raw = circuit.model_dump(exclude_unset=True)
    for name, value in changes.items():
        if name == "mains":
            ratio = float(value) / circuit.mains.volts
            for supply in raw["supplies"].values():
                for key in ("secondary_V", "volts"):
                    if key in supply:
                        supply[key] *= ratio
            raw["mains"] = {**circuit.mains.model_dump(), "volts": float(value)}
        elif name in raw["parts"]:
            part = raw["parts"][name]
            part[next(key for key in ("ohm", "farad", "henry") if key in part)] = value
        elif name in raw["tubes"]:
            raw["tubes"][name]["type"] = value
        elif name in raw["supplies"] and "rectifier" in raw["supplies"][name]:
            raw["supplies"][name]["rectifier"] = value
        else:
            known = ["mains", *raw["parts"], *raw["tubes"], *raw["supplies"]]
            raise KeyError(f"nothing called '{name}' can be changed. {errors.did_you_mean(name, known)}")
    return Circuit.model_validate(raw)
