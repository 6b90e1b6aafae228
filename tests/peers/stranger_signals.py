"""What AC shows of the amps in stranger_amps.py, by ngspice: levels of a signal at a few frequencies, ripple and hum.

The generator holds its node at one volt through a capacitor so large that it blocks nothing but direct current, as does
the ripple that a supply's curve gives at its reservoir (the curves are checked against a transient run elsewhere). An AC
voltmeter is right within 2 per cent and 0.3 mV.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from chopstick.engine.circuit.netlist import CHASSIS, Circuit
from chopstick.engine.devices.supply import CURVE_POINTS, HARMONICS, curve

from .spice import run
from .stranger_amps import Amp, Rng, _between, _node, _plain, deck

HELD_F = 1e3
HEATER_V = 3.15  # RMS to the chassis, half of a centered 6.3 V winding
RIPPLE_HARMONICS = (1, 2, 4, 6)


@dataclass(frozen=True)
class Wanted:
    """levels: (node, Hz), for one volt at `source`; hums: nodes."""

    source: str
    levels: tuple[tuple[str, float], ...]
    hums: tuple[str, ...]


def signals(amp: Amp, wanted: Wanted) -> tuple[dict[tuple[str, float], float], dict[str, float]] | None:
    """Gains from the source, and volts RMS without a signal; None where ngspice finds no operating point."""
    mains = amp.circuit.mains.Hz
    lines = deck(amp, ac=True)
    lines += ["Vgen gen 0 DC 0 AC 0", f"Cgen gen {_node(wanted.source)} {HELD_F:g}"]
    control = [".control", "set numdgt=9", "op"]
    for name, winding in amp.windings.items():
        control.append(f"print v({_node(winding.node)})")
        lines += [f"Vrip{_plain(name)} rip_{_plain(name)} 0 DC 0 AC 0"]
        lines += [f"Rrip{_plain(name)} rip_{_plain(name)} ripc_{_plain(name)} 1e12"]
        lines += [f"Crip{_plain(name)} ripc_{_plain(name)} {_node(winding.node)} {HELD_F:g}"]
    leaks = {name: _leak(amp, name) for name in amp.circuit.tubes if f"fault_{name}" in amp.ohm}
    leaks = {name: found for name, found in leaks.items() if found}
    for name, (cathode, amperes) in leaks.items():
        lines.append(f"Iheat{_plain(name)} 0 {_node(cathode)} DC 0 AC 0")
        del amperes
    asked: list[tuple[str, object]] = []

    def swept(Hz: float, nodes: Sequence[str], what: object) -> None:
        control.append(f"ac lin 1 {Hz:g} {Hz:g}")
        for node in nodes:
            if node != CHASSIS:
                control.append(f"print vr({_node(node)}) vi({_node(node)})")
                asked.append((node, what))

    control.append("alter @vgen[acmag] = 1")
    for Hz in dict.fromkeys(Hz for _, Hz in wanted.levels):
        swept(Hz, [node for node, one in wanted.levels if one == Hz], Hz)
    control.append("alter @vgen[acmag] = 0")
    for name in amp.windings:
        p = _plain(name)
        control += [f"alter rrip{p} = 1e-3", f"alter @vrip{p}[acmag] = 1"]
        for harmonic in RIPPLE_HARMONICS:
            swept(mains * harmonic, wanted.hums, (name, harmonic))
        control += [f"alter rrip{p} = 1e12", f"alter @vrip{p}[acmag] = 0"]
    for name, (_, amperes) in leaks.items():
        control.append(f"alter @iheat{_plain(name)}[acmag] = {amperes:.9g}")
    if leaks:
        swept(mains, wanted.hums, "heater")
    text = run([*lines, *control, ".endc"])
    if "singular" in text or "aborted" in text:
        return None
    rest = [float(m) for m in re.findall(r"^v[ri]?\(\S+\) = (\S+)", text, re.MULTILINE)]
    levels_V = dict(zip(amp.windings, rest[: len(amp.windings)], strict=False))
    numbers = rest[len(amp.windings) :]
    if len(levels_V) < len(amp.windings) or len(numbers) != 2 * len(asked):
        return None
    found = [complex(a, b) for a, b in zip(numbers[::2], numbers[1::2], strict=True)]
    gains: dict[tuple[str, float], float] = {}
    waves: dict[tuple[str, int], complex] = {}
    for (node, what), value in zip(asked, found, strict=True):
        if isinstance(what, float):
            gains[node, what] = abs(value)
        elif isinstance(what, tuple):
            name, harmonic = what
            source = _harmonic(amp, name, levels_V[name], harmonic)
            waves[node, harmonic] = waves.get((node, harmonic), 0.0) + value * source
        else:
            waves[node, 1] = waves.get((node, 1), 0.0) + value
    hums = {
        node: float(np.sqrt(sum(abs(waves.get((node, h), 0.0)) ** 2 for h in RIPPLE_HARMONICS))) for node in wanted.hums
    }
    return gains, hums


def _leak(amp: Amp, name: str) -> tuple[str, float] | None:
    a, b, ohm = amp.ohm[f"fault_{name}"]
    tube = amp.circuit.tubes[name]
    if {a, b} != {tube.heater, tube.cathode} or tube.cathode == CHASSIS:
        return None
    return tube.cathode, HEATER_V / ohm


def _harmonic(amp: Amp, name: str, volts: float, harmonic: int) -> complex:
    """Volts RMS of a harmonic of the ripple at a supply's reservoir."""
    winding = amp.windings[name]
    if winding.spec.open_circuit_V <= 0:
        return 0.0
    found = curve(winding.spec)
    at = np.clip(abs(volts) / winding.mains / found.top_V, 0.0, 1.0) * (CURVE_POINTS - 1)
    wave = found.harmonics_V[HARMONICS.index(harmonic)]
    grid = np.arange(CURVE_POINTS)
    value = complex(np.interp(at, grid, wave.real), np.interp(at, grid, wave.imag))
    return value * winding.mains / float(np.sqrt(2.0))


def shows(volts: float, rng: Rng) -> float:
    """What an AC voltmeter shows."""
    return max(0.0, volts * (1 + float(rng.uniform(-0.02, 0.02))) + float(rng.uniform(-3e-4, 3e-4)))


def shown_by_ac(circuit: Circuit) -> tuple[str, ...]:
    """The faults that only AC may show, common ones more than once."""
    found: list[str] = []
    reservoirs = {getattr(supply, "reservoir", None) for supply in circuit.supplies.values()}
    for name, part in circuit.parts.items():
        if name in reservoirs or part.kind not in ("capacitor", "electrolytic") or part.nodes[0] == part.nodes[-1]:
            continue
        found += [f"{name}.open", f"{name}.open"]
        found += (
            [f"{name}.dried"] * 2
            if part.kind == "electrolytic"
            else [f"{name}.wrong-value-high", f"{name}.wrong-value-low"]
        )
    if circuit.output:
        found += [
            f"output_transformer.primary-{half}-shorted-turns" for half in "ab"[: len(circuit.output.primary) - 1]
        ]
        found.append("output_transformer.no-load")
    return tuple(found)


def broken_for_ac(amp: Amp, fault: str, rng: Rng) -> Amp:
    """The amp with a fault that only AC shows, as bad as such faults are."""
    part, kind = fault.split(".", 1)
    if part == "output_transformer":
        a, b, ohm = amp.ohm["load"]
        if kind == "no-load":
            return amp.with_ohm("load", 1e6)
        return amp.bridged("turns", a, b, ohm * _between(rng, 0.02, 0.1))
    share = {
        "open": 1e-5, "dried": _between(rng, 0.02, 0.25), "wrong-value-high": 10.0, "wrong-value-low": 0.1
    }[kind]  # fmt: skip
    a, b, farad = amp.farad[part]
    return replace(amp, farad={**amp.farad, part: (a, b, farad * share)})


def moved(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    """Whether some reading differs by more than a sixth, and by what an AC voltmeter can tell."""
    return any(abs(one[k] - other[k]) > max(0.16 * max(one[k], other[k]), 2e-3) for k in one)
