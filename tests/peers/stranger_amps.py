"""Amps on the bench that the program did not make: a circuit with other tubes than its own, drawn parts, one or two faults, solved by ngspice.

Nothing of the program's solver, tube laws or list of faults is used, but the volts of a rectifier supply at a given
load (checked against a transient run in test_circuit_against_ngspice.py, with a failed reservoir too, which is no fault
here: what it does must be run over seconds, until all capacitors have settled). Faults are named as the program names them, so that they can be compared.

Every healthy amp has: each tube's emission half to one and a half times what it should be (triangular, and so below),
its amplification within 15 percent, its contact potential within 0.3 V; the rectifier's perveance within 30 percent,
the windings' resistance within 15; the secondary (or the mains, which comes to the same) within 6; the parts within
their tolerances. The meter is one of 10 or 1 megohm, right within 1 percent and 20 mV, or 1 mV below 2 V.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from chopstick.engine.circuit.netlist import CHASSIS, Circuit, FixedSupply, OutputTransformer, Potentiometer, Supply
from chopstick.engine.circuit.network import track_share
from chopstick.engine.devices.library import standard_library
from chopstick.engine.devices.supply import CURVE_POINTS, SupplySpec, curve

from .spice import run
from .stranger_tubes import Sample, currents

LEAK_OHM = 2e10
NO_METER_OHM = 1e15
Rng = np.random.Generator


@dataclass(frozen=True)
class Winding:
    """A rectifier supply of one amp. mains: factor on its volts."""

    node: str
    sign: int
    spec: SupplySpec
    mains: float


@dataclass(frozen=True)
class Amp:
    """One amp: resistances and capacitances by name, with their ends; tubes as they are; supplies; what was fed where."""

    circuit: Circuit
    family: str
    ohm: Mapping[str, tuple[str, str, float]]
    farad: Mapping[str, tuple[str, str, float]]
    henry: Mapping[str, float]
    samples: Mapping[str, Sample]
    windings: Mapping[str, Winding]
    gas: Mapping[str, float] = field(default_factory=dict)

    def with_ohm(self, name: str, ohm: float) -> "Amp":
        a, b, _ = self.ohm[name]
        return replace(self, ohm={**self.ohm, name: (a, b, ohm)})

    def bridged(self, name: str, a: str, b: str, ohm: float) -> "Amp":
        return replace(self, ohm={**self.ohm, name: (a, b, ohm)})


def nominal(circuit: Circuit, family: str) -> Amp:
    """The amp as its circuit file has it, with this family's tubes."""
    return _made(circuit, family, None)


def drawn(circuit: Circuit, family: str, rng: Rng) -> Amp:
    """A healthy amp."""
    return _made(circuit, family, rng)


def _around(rng: Rng | None, share: float) -> float:
    return 1.0 if rng is None else float(rng.triangular(1 - share, 1, 1 + share))


def _flat(rng: Rng | None, share: float) -> float:
    return 1.0 if rng is None else float(1 + share * rng.uniform(-1, 1))


def _made(circuit: Circuit, family: str, rng: Rng | None) -> Amp:
    ohm: dict[str, tuple[str, str, float]] = {}
    farad: dict[str, tuple[str, str, float]] = {}
    henry: dict[str, float] = {}
    inside = circuit.inside_supplies()
    for name, part in circuit.parts.items():
        if name in inside:
            continue
        by = _flat(rng, part.tolerance_percent / 100)
        if part.kind == "resistor":
            ohm[name] = (*part.nodes, part.ohm * by)
        elif part.kind == "choke":
            ohm[name], henry[name] = (*part.nodes, part.winding_ohm * by), part.henry
        elif isinstance(part, Potentiometer):
            share = min(max(track_share(part.taper, part.rotation), 0.001), 0.999)
            top, wiper, bottom = part.nodes
            for half, a, b, piece in (("upper", top, wiper, 1 - share), ("lower", wiper, bottom, share)):
                if a != b:
                    ohm[f"{name}.{half}"] = (a, b, part.ohm * by * piece)
        else:
            farad[name] = (*part.nodes, part.farad * by)
    if circuit.output:
        plates = list(circuit.output.primary)
        centre = plates.pop(1)
        for half, plate, winding in zip("ab", plates, circuit.output.winding_ohm, strict=False):
            ohm[f"primary_{half}"] = (plate, centre, winding * _flat(rng, 0.1))
        ohm["load"] = (circuit.output.secondary, CHASSIS, circuit.output.load_ohm)
    samples = {
        name: Sample()
        if rng is None
        else Sample(_around(rng, 0.5), _around(rng, 0.15), float(rng.triangular(-0.3, 0, 0.3)))
        for name in circuit.tubes
    }
    windings: dict[str, Winding] = {}
    mains = _flat(rng, 0.06)
    for name, supply in circuit.supplies.items():
        if isinstance(supply, FixedSupply):
            ohm[name] = (supply.node, f"ideal_{name}", supply.source_ohm)
            continue
        windings[name] = _winding(circuit, supply, mains * _around(rng, 0.015), rng)
    return Amp(circuit, family, ohm, farad, henry, samples, windings)


def _winding(circuit: Circuit, supply: Supply, mains: float, rng: Rng | None) -> Winding:
    source = supply.source_ohm + (getattr(circuit.parts[supply.series], "ohm", 0.0) if supply.series else 0.0)
    choke = circuit.parts[supply.input_choke] if supply.input_choke else None
    # A few samples only of each, since each costs a curve.
    perveance = 1.0 if rng is None else float(rng.choice([0.72, 0.9, 1.1, 1.3]))
    resistance = 1.0 if rng is None else float(rng.choice([0.87, 1.15]))
    spec = SupplySpec(
        supply.secondary_V, source * resistance, *_law(supply.rectifier, supply.connection, perveance),
        1 if supply.connection == "half wave" else 2, circuit.mains.Hz,
        getattr(circuit.parts[supply.reservoir], "farad", 0.0),
        getattr(choke, "henry", 0.0), getattr(choke, "winding_ohm", 0.0),
    )  # fmt: skip
    return Winding(supply.node, 1 if supply.polarity == "positive" else -1, spec, mains)


def _law(rectifier: str, connection: str, factor: float) -> tuple[float, float]:
    law = standard_library().rectifier(rectifier)
    count = 2 if connection == "bridge" else 1
    return law.perveance * (factor if law.heated else 1.0) / count**1.5, law.threshold_V * count


# --- netlists


def deck(amp: Amp, ac: bool = False, transformer: bool = True) -> list[str]:
    """The netlist of an amp. ac: with its capacitors, inductances and, unless left out, its output transformer."""
    lines: list[str] = []
    for name, (a, b, value) in amp.ohm.items():
        if ac and transformer and name.startswith("primary_"):
            continue
        if ac and name in amp.henry:
            lines.append(f"L{_plain(name)} {_node(a)} {_node('mid_' + name)} {amp.henry[name]:.9g}")
            a = f"mid_{name}"
        lines.append(f"R{_plain(name)} {_node(a)} {_node(b)} {value:.9g}")
    for name, (a, b, value) in amp.farad.items():
        if a != b:
            lines.append(f"Rleak{_plain(name)} {_node(a)} {_node(b)} {LEAK_OHM:g}")
            if ac and value > 0:
                lines.append(f"C{_plain(name)} {_node(a)} {_node(b)} {value:.9g}")
    for name, tube in amp.circuit.tubes.items():
        lines += _tube(amp, name, tube.type, tube.grid, tube.plate, tube.cathode, tube.screen, tube.heater)
    for name, winding in amp.windings.items():
        lines += _supply(name, winding)
    for name, supply in amp.circuit.supplies.items():
        if isinstance(supply, FixedSupply):
            lines.append(f"Vf{name} {_node(f'ideal_{name}')} 0 {supply.volts:.9g}")
    if ac and transformer and amp.circuit.output:
        lines += _transformer(amp, amp.circuit.output)
    return lines


def _plain(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9]", "_", name).lower()


def _node(name: str) -> str:
    return "0" if name == CHASSIS else f"n_{_plain(name)}"


def _across(a: str, b: str) -> str:
    one, other = _node(a), _node(b)
    if one == other:
        return "0"
    return f"-v({other})" if one == "0" else f"v({one})" if other == "0" else f"v({one},{other})"


def _tube(
    amp: Amp, name: str, kind: str, grid: str, plate: str, cathode: str, screen: str | None, heater: str
) -> list[str]:
    vg, vp = _across(grid, cathode), _across(plate, cathode)
    vs = _across(screen, cathode) if screen else None
    flow = currents(amp.family, kind, amp.samples[name], vg, vp, vs)
    g, p, k, n = _node(grid), _node(plate), _node(cathode), _plain(name)
    lines = [
        f"Bp{n} {p} {k} I={flow.plate}",
        f"Bg{n} {g} {k} I={flow.grid}-{amp.gas.get(name, 0.0)!r}*({flow.plate})",
        f"Rgp{n} {g} {p} {LEAK_OHM:g}", f"Rgk{n} {g} {k} {LEAK_OHM:g}", f"Rpk{n} {p} {k} {LEAK_OHM:g}",
        f"Cgp{n} {g} {p} 1.7p", f"Cgk{n} {g} {k} 2p",
    ]  # fmt: skip
    if k != _node(heater):
        lines.append(f"Rhk{n} {_node(heater)} {k} {LEAK_OHM:g}")
    if screen:
        lines.append(f"Bs{n} {_node(screen)} {k} I={flow.screen}")
    return lines


def _supply(name: str, one: Winding) -> list[str]:
    if one.spec.open_circuit_V <= 0:
        return []
    at, n = _node(one.node), _plain(name)
    found = curve(one.spec)
    x = np.concatenate([[-400.0], np.linspace(0, found.top_V, CURVE_POINTS), [found.top_V + 1000]]) * one.mains
    first = found.current_A[0] - 400 * found.slope_S[0]
    y = np.concatenate([[first], found.current_A, [-1e-3]]) * one.mains
    table = ",".join(f"{a:.8g},{b:.8g}" for a, b in zip(x, y, strict=True))
    return [f"Bsup{n} 0 {at} I=pwl(v({at}),{table})" if one.sign > 0 else f"Bsup{n} {at} 0 I=pwl(-v({at}),{table})"]


def _transformer(amp: Amp, output: OutputTransformer) -> list[str]:
    plates = list(output.primary)
    centre, secondary = _node(plates.pop(1)), _node(output.secondary)
    turns = np.sqrt(output.primary_ohm / output.load_ohm) / len(plates)
    lines = [f"Lmag {secondary} 0 {output.primary_henry / (turns * len(plates)) ** 2:.9g}"]
    for k, (half, plate) in enumerate(zip("ab", plates, strict=False)):
        sign = 1 if k == 0 else -1
        lines += [
            f"Rw{k} {_node(plate)} w{k} {amp.ohm[f'primary_{half}'][2]:.9g}", f"Vw{k} w{k} x{k} 0",
            f"Ew{k} x{k} {centre} {secondary} 0 {sign * turns:.9g}", f"Fw{k} 0 {secondary} Vw{k} {sign * turns:.9g}",
        ]  # fmt: skip
    return lines


# --- what the meter shows


@dataclass(frozen=True)
class Meter:
    ohm: float
    error: float  # share
    zero: float  # part of the least figure

    def shows(self, volts: float) -> float:
        least = 0.001 if abs(volts) < 2 else 0.02
        return volts * (1 + self.error) + self.zero * least


def meter(rng: Rng, ohm: float) -> Meter:
    return Meter(ohm, float(rng.uniform(-0.01, 0.01)), float(rng.uniform(-1, 1)))


def volts(amp: Amp, ohm: float) -> dict[str, float] | None:
    """Volts at every test point, the meter on that one alone; None where ngspice finds no operating point."""
    points = amp.circuit.test_points
    lines, control = deck(amp), [".control", "set numdgt=9"]
    for k, name in enumerate(points):
        at = _node(name)
        lines.append(f"Rmeter{k} {at} 0 {NO_METER_OHM:g}")
        control += [f"alter rmeter{k} = {ohm:g}", "op", f"print v({at})", f"alter rmeter{k} = {NO_METER_OHM:g}"]
    text = run([*lines, *control, ".endc"])
    if "singular" in text or "aborted" in text:
        return None
    found = [float(m) for m in re.findall(r"^v\(\S+\) = (\S+)", text, re.MULTILINE)]
    if len(found) != len(points) or not np.isfinite(found).all():
        return None
    return dict(zip(points, found, strict=True))


# --- faults


def shown_by_dc(circuit: Circuit) -> tuple[str, ...]:
    """The faults that direct current may show, by the program's names, common ones more than once."""
    return tuple(_dc_faults(circuit))


def _dc_faults(circuit: Circuit) -> Iterator[str]:
    inside = circuit.inside_supplies()
    for name, part in circuit.parts.items():
        if name in inside:
            continue
        if part.kind == "resistor":
            yield from (f"{name}.{kind}" for kind in ("open", "open", "drifted-up", "drifted-up", "drifted-down"))
            yield from (f"{name}.{kind}" for kind in ("shorted", "wrong-value-high", "wrong-value-low"))
        elif part.kind in ("capacitor", "electrolytic"):
            yield from (f"{name}.{kind}" for kind in ("leaky", "leaky", "leaky", "shorted"))
        elif part.kind == "choke":
            yield f"{name}.open"
        else:
            yield from (f"{name}.{half}-track-open" for half in ("upper", "lower"))
    for name, tube in circuit.tubes.items():
        yield from (f"{name}.{kind}" for kind in ("dead", "dead", "weak", "weak", "gassy", "heater-cathode-leak"))
        yield from (f"{name}.{kind}-short" for kind in ("grid-cathode", "plate-cathode", "heater-cathode"))
        if tube.screen:
            yield from (f"{name}.{kind}-short" for kind in ("grid-screen", "plate-screen", "screen-cathode"))
    for name, supply in circuit.supplies.items():
        if isinstance(supply, FixedSupply):
            continue
        yield from (f"{name}.{kind}" for kind in ("no-output", "one-plate-dead"))
        if standard_library().rectifier(supply.rectifier).heated:
            yield f"{name}.weak-rectifier"
        yield from (f"{name}.wrong-rectifier-{other}" for other in supply.alternatives)
    for half in "ab"[: len(circuit.output.primary) - 1 if circuit.output else 0]:
        yield f"output_transformer.primary-{half}-open"


def _between(rng: Rng, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def broken(amp: Amp, fault: str, rng: Rng) -> Amp | None:
    """The amp with a fault in it, as bad as such faults are; None where it has no such thing."""
    part, kind = fault.split(".", 1)
    circuit = amp.circuit
    if part in circuit.tubes:
        return _broken_tube(amp, part, kind, rng)
    if part in amp.windings:
        return _broken_supply(amp, part, kind, rng)
    if part == "output_transformer":
        return amp.with_ohm(f"primary_{kind.split('-')[1]}", LEAK_OHM)
    if kind.endswith("-track-open"):
        name = f"{part}.{kind.removesuffix('-track-open')}"
        return amp.with_ohm(name, LEAK_OHM) if name in amp.ohm else None
    if part in amp.farad:
        return _broken_capacitor(amp, part, kind, rng)
    if part not in amp.ohm:
        return None
    value = amp.ohm[part][2]
    worth = {
        "open": LEAK_OHM, "shorted": 0.5, "drifted-up": value * _between(rng, 1.5, 4.0),
        "drifted-down": value * _between(rng, 0.3, 0.65), "wrong-value-high": value * 10, "wrong-value-low": value / 10,
    }  # fmt: skip
    return amp.with_ohm(part, worth[kind])


def _broken_capacitor(amp: Amp, part: str, kind: str, rng: Rng) -> Amp | None:
    a, b, _ = amp.farad[part]
    if a == b:
        return None
    if kind == "shorted":
        return amp.bridged(f"fault_{part}", a, b, 0.5)
    span = (1e3, 5e4) if amp.circuit.parts[part].kind == "electrolytic" else (5e4, 5e6)
    return amp.bridged(f"fault_{part}", a, b, _between(rng, *span))


def _broken_tube(amp: Amp, name: str, kind: str, rng: Rng) -> Amp | None:
    tube, one = amp.circuit.tubes[name], amp.samples[name]
    if kind in ("dead", "weak"):
        emission = 1e-5 if kind == "dead" else _between(rng, 0.08, 0.35)
        return replace(amp, samples={**amp.samples, name: replace(one, emission=emission)})
    if kind == "gassy":
        return replace(amp, gas={name: _between(rng, 1e-4, 8e-4) if tube.screen else _between(rng, 1e-3, 1e-2)})
    ends = {
        "grid": tube.grid, "plate": tube.plate, "cathode": tube.cathode, "screen": tube.screen, "heater": tube.heater
    }  # fmt: skip
    one_end, other = (ends[word] for word in kind.split("-")[:2])
    if one_end is None or other is None or one_end == other:
        return None
    ohm = _between(rng, 1e4, 5e5) if kind.endswith("leak") else 0.5
    return amp.bridged(f"fault_{name}", one_end, other, ohm)


def _broken_supply(amp: Amp, name: str, kind: str, rng: Rng) -> Amp | None:
    one, supply = amp.windings[name], amp.circuit.supplies[name]
    assert isinstance(supply, Supply)
    spec = one.spec
    if kind == "no-output":
        spec = replace(spec, open_circuit_V=0.0)
    elif kind == "one-plate-dead":
        if spec.waves != 2:
            return None
        spec = replace(spec, second_section=0.0)
    elif kind == "weak-rectifier":
        spec = replace(spec, perveance=spec.perveance * float(rng.choice([0.1, 0.2, 0.35])))
    else:
        perveance, threshold = _law(kind.removeprefix("wrong-rectifier-"), supply.connection, 1.0)
        spec = replace(spec, perveance=perveance, threshold_V=threshold)
    return replace(amp, windings={**amp.windings, name: replace(one, spec=spec)})
