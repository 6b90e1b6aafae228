"""A circuit as a SPICE netlist, with the program's own tube laws: for a simulator, or another program's schematic."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..devices.tubes import PLATE_ROUNDING_V, SCREEN_TAKEOVER, Pentode, Triode
from .netlist import CHASSIS, Circuit
from .network import compile_circuit
from .solve import Solver


def netlist(circuit: Circuit) -> str:
    """The netlist, its supplies as sources of the volts that they give to the good amp. Raises ArithmeticError."""
    return "\n".join([f"* {circuit.title}", *_lines(circuit), ".end", ""])


def _lines(circuit: Circuit) -> Iterator[str]:
    network = compile_circuit(circuit)
    solver = Solver(network)
    yield ".func sp(x) {max(x,0)+ln(1+exp(-abs(x)))}"
    seen: dict[str, None] = {}
    for name, tube in circuit.tubes.items():
        ends = [tube.plate, *([tube.screen] if tube.screen else []), tube.grid, tube.cathode]
        yield f"X{name} {' '.join(map(_node, ends))} {tube.type}"
        seen[tube.type] = None
    for element in network.elements:
        if element.kind == "insulation" or element.part in circuit.supplies:
            continue
        a, b = (CHASSIS if at < 0 else network.nodes[at] for at in (element.a, element.b))
        name = element.name.replace(".", "_")
        if element.kind == "capacitor":
            yield f"{_named('C', name)} {_node(a)} {_node(b)} {element.farad:.6g}"
        elif element.kind == "inductor":
            yield f"{_named('L', name)} {_node(a)} {_node(a)}_{name} {element.henry:.6g}"
            yield f"R{name} {_node(a)}_{name} {_node(b)} {1 / element.siemens:.6g}"
        else:
            yield f"{_named('R', name)} {_node(a)} {_node(b)} {1 / element.siemens:.8g}"
    for name, supply in circuit.supplies.items():
        volts = float(solver.healthy.volts[0, network.node(supply.node)])
        yield f"V{name} {_node(supply.node)} 0 {volts:.6f}"
    for kind in seen:
        yield from _law(kind, network.library.tube(kind))


def _named(letter: str, name: str) -> str:
    return name if name.upper().startswith(letter) else f"{letter}{name}"


def _node(name: str) -> str:
    return "0" if name == CHASSIS else name.replace(".", "_")


def _law(kind: str, law: Triode | Pentode) -> Iterator[str]:
    grid = f"{law.grid_A}*pow({law.grid_width_V}*sp((v(g,k)-({law.grid_onset_V}))/{law.grid_width_V}),1.5)"
    if isinstance(law, Triode):
        drive = f"v(p,k)/{law.kp}*sp({law.kp}*({1 / law.mu!r}+v(g,k)/sqrt({law.kvb}+v(p,k)*v(p,k))))"
        yield f".subckt {kind} p g k"
        yield f"Bp p k I={2 / law.kg1!r}*pow(max({drive},0),{law.x})"
    else:
        drive = f"v(s,k)/{law.kp}*sp({law.kp}*({1 / law.mu!r}+v(g,k)/sqrt(100+v(s,k)*v(s,k))))"
        above = f"({PLATE_ROUNDING_V}*sp(v(p,k)/{PLATE_ROUNDING_V}))"
        space = f"2*pow(max({drive},0),{law.x})"
        share = f"({1 / law.kg2!r}+{SCREEN_TAKEOVER * np.pi / 2 / law.kg1!r}*(1-{2 / np.pi!r}*atan({above}/{law.kvb})))"
        yield f".subckt {kind} p s g k"
        yield f"Bp p k I={space}*atan({above}/{law.kvb})*(1+{law.slope_per_V}*{above})/{law.kg1}"
        yield f"Bs s k I={space}*{share}"
    yield f"Bg g k I={grid}"
    yield from (f"R{a}{b} {a} {b} 1e10" for a, b in ("gp", "gk", "pk"))
    yield f"Cgp g p {law.grid_plate_F:.6g}"
    yield f"Cgk g k {law.grid_cathode_F:.6g}"
    yield f".ends {kind}"
