"""Writes a compiled circuit as an ngspice netlist, with the same tube laws, and reads the results back.

Only the equations are shared with the engine (as text here, as arrays there); the solving is ngspice's own.
"""

import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from chopstick.engine.circuit.network import Network
from chopstick.engine.circuit.solve import Solver, Variant
from chopstick.engine.devices.supply import CURVE_POINTS, SupplyCurve
from chopstick.engine.devices.tubes import PLATE_ROUNDING_V, SCREEN_TAKEOVER, Pentode, Triode

INSTALL = "ngspice is missing. Install it: apt-get update && apt-get install -y ngspice"
HEADER = [
    "* written by the tests",
    ".options reltol=1e-6 vntol=1e-7 abstol=1e-13 itl1=400 itl2=400 noacct",
    ".func sp(x) {max(x,0)+ln(1+exp(-abs(x)))}",
]


def need_ngspice() -> str:
    found = shutil.which("ngspice")
    assert found, INSTALL
    return found


def node(index: int) -> str:
    return "0" if index < 0 else f"n{index}"


@dataclass(frozen=True)
class Draw:
    """A sample of a circuit: conductances by element index, and tube factors by section; the rest is nominal."""

    siemens: Mapping[int, float]
    emission: Mapping[int, float]
    mu: Mapping[int, float]
    mains: float = 1.0


NOMINAL = Draw({}, {}, {})


def netlist(
    solver: Solver,
    variant: Variant = Variant(),
    draw: Draw = NOMINAL,
    ac: bool = False,
    meter: tuple[int, float] | None = None,
) -> list[str]:
    """The netlist's element lines for one variant of the circuit, its parts at the values drawn."""
    network = solver.network
    lines: list[str] = []
    for index, element in enumerate(network.elements):
        siemens = draw.siemens.get(index, element.siemens)
        if ac and element.kind == "capacitor":
            lines.append(f"C{index} {node(element.a)} {node(element.b)} {element.farad:.9g}")
        if ac and element.kind == "inductor":
            lines.append(f"L{index} {node(element.a)} m{index} {element.henry:.9g}")
            lines.append(f"R{index} m{index} {node(element.b)} {1 / siemens:.9g}")
            continue
        lines.append(f"R{index} {node(element.a)} {node(element.b)} {1 / siemens:.9g}")
    for column, (a, b, change) in enumerate(variant.conductances):
        lines.append(f"G{column}x {node(a)} {node(b)} {node(a)} {node(b)} {change:.12g}")
    if meter:
        lines.append(f"Rmeter {node(meter[0])} 0 {meter[1]:.9g}")
    lines += _tubes(network, variant, draw)
    changed = dict(variant.supplies)
    for index, port in enumerate(network.supplies):
        curve = solver.curve(changed.get(index, port.spec))
        lines += _supply(index, node(port.node), port.sign, curve, draw.mains)
    for index, amps in enumerate(network.sources_A):
        if amps:
            lines.append(f"Ifixed{index} 0 {node(index)} {amps:.12g}")
    return lines


def _tubes(network: Network, variant: Variant, draw: Draw) -> list[str]:
    lines: list[str] = []
    emission, gas = dict(variant.emission), dict(variant.gas)
    for index, name in enumerate((*network.triodes, *network.pentodes)):
        tube = network.circuit.tubes[name]
        law = network.library.tube(tube.type)
        mu = law.mu * draw.mu.get(index, 1.0)
        factor = emission.get(index, 1.0) * draw.emission.get(index, 1.0)
        g, p, k = (node(network.node(n)) for n in (tube.grid, tube.plate, tube.cathode))
        vg, vp = f"v({g},{k})", f"v({p},{k})"
        if g == k:
            vg = "0"
        if isinstance(law, Triode):
            drive = f"{vp}/{law.kp}*sp({law.kp}*({1 / mu!r}+{vg}/sqrt({law.kvb}+{vp}*{vp})))"
            plate = f"{factor * 2 / law.kg1!r}*pow(max({drive},0),{law.x})"
        else:
            assert isinstance(law, Pentode)
            assert tube.screen is not None
            s = node(network.node(tube.screen))
            vs = f"v({s},{k})"
            drive = f"{vs}/{law.kp}*sp({law.kp}*({1 / mu!r}+{vg}/sqrt(100+{vs}*{vs})))"
            above = f"({PLATE_ROUNDING_V}*sp({vp}/{PLATE_ROUNDING_V}))"
            space = f"{factor * 2!r}*pow(max({drive},0),{law.x})"
            plate = f"{space}*atan({above}/{law.kvb})*(1+{law.slope_per_V}*{above})/{law.kg1}"
            takeover = SCREEN_TAKEOVER * np.pi / 2 / law.kg1
            share = f"({1 / law.kg2!r}+{takeover!r}*(1-{2 / np.pi!r}*atan({above}/{law.kvb})))"
            lines.append(f"Bs{index} {s} {k} I={space}*{share}")
        lines.append(f"Bp{index} {p} {k} I={plate}")
        grid = f"{law.grid_A}*pow({law.grid_width_V}*sp(({vg}-({law.grid_onset_V}))/{law.grid_width_V}),1.5)"
        lines.append(f"Bg{index} {g} {k} I={min(factor, 1.0)!r}*{grid}-{gas.get(index, 0.0)!r}*({plate})")
        lines += [
            f"Cgp{index} {g} {p} {law.grid_plate_F:.6g}",
            f"Cgk{index} {g} {k} {law.grid_cathode_F:.6g}",
            f"Cpk{index} {p} {k} {law.plate_cathode_F:.6g}",
        ]
    return lines


def _supply(index: int, at: str, sign: float, curve: SupplyCurve, mains: float) -> list[str]:
    """The regulation curve as a table, with the ends carried on straight. A supply k times as high gives k I(V/k)."""
    volts = np.linspace(0.0, curve.top_V, CURVE_POINTS)
    first = curve.slope_S[0]
    x = np.concatenate([[-400.0], volts, [curve.top_V + 1000.0]]) * mains
    y = np.concatenate([[curve.current_A[0] - 400.0 * first], curve.current_A, [-1e-3]]) * mains
    table = ",".join(f"{a:.8g},{b:.8g}" for a, b in zip(x, y, strict=True))
    if sign > 0:
        return [f"Bsup{index} 0 {at} I=pwl(v({at}),{table})"]
    return [f"Bsup{index} {at} 0 I=pwl(-v({at}),{table})"]


def operating_points(count: int, decks: Iterable[Sequence[str]]) -> list[np.ndarray | None]:
    """Node volts of each deck (one ngspice process each), or None where ngspice finds no operating point."""
    return [_operating_point(count, deck) for deck in decks]


def _operating_point(count: int, deck: Sequence[str]) -> np.ndarray | None:
    prints = [
        f"print {' '.join(f'v(n{k})' for k in range(start, min(start + 8, count)))}" for start in range(0, count, 8)
    ]
    text = run([*deck, ".control", "set numdgt=9", "op", *prints, ".endc"])
    found = np.full(count, np.nan)
    for line in text.splitlines():
        if line.startswith("v(n") and " = " in line:
            name, value = line.split(" = ")
            found[int(name[3:-1])] = float(value)
    return found if np.isfinite(found).all() else None


def run(deck: Sequence[str]) -> str:
    """Run ngspice in batch on a deck and return what it prints."""
    program = need_ngspice()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "deck.cir"
        path.write_text("\n".join([*HEADER, *deck, ".end", ""]), encoding="utf-8")
        done = subprocess.run([program, "-b", str(path)], capture_output=True, text=True, timeout=300, check=False)
    return done.stdout
