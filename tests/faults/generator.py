"""Makes bench cases: a circuit with every part drawn inside its tolerance, one or two faults, read with a real meter.

The volts are ngspice's, so that the data do not come from the solver under test. How bad a fault is (how far a
resistor has drifted, what a capacitor leaks) is drawn from the whole range between the dictionary's steps.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from chopstick.engine.circuit.dictionary import Dictionary
from chopstick.engine.circuit.faults import Fault
from chopstick.engine.circuit.sensitivity import EMISSION_LIMIT, MU_LIMIT
from chopstick.engine.circuit.solve import Variant

from ..peers.spice import Draw, netlist, node, run

METER_OHM = 10e6
METER_SHARE = 0.01
METER_V = 0.05
NO_METER_OHM = 1e15
#: A reading counts as moved when it shifts by more than this share of the sound reading (and by a tenth of a volt).
MOVED = 0.10


@dataclass(frozen=True)
class Case:
    """One bench case: the faults put in, what the meter showed, and whether any reading moved for it."""

    faults: tuple[str, ...]
    readings: dict[str, float]
    moved: tuple[bool, ...]


def sample(dictionary: Dictionary, faults: Sequence[Fault], rng: np.random.Generator) -> Case | None:
    """One case, or None where ngspice finds no operating point."""
    network = dictionary.network
    siemens = {
        index: element.siemens / (1.0 + element.tolerance * rng.uniform(-1, 1))
        for index, element in enumerate(network.elements)
        if element.tolerance
    }
    tubes = range(len(network.triodes) + len(network.pentodes))
    emission = {tube: 1.0 + EMISSION_LIMIT * rng.uniform(-1, 1) for tube in tubes}
    mu = {tube: 1.0 + MU_LIMIT * rng.uniform(-1, 1) for tube in tubes}
    mains = 1.0 + network.circuit.mains.tolerance_percent / 100 * rng.uniform(-1, 1)
    sound = Draw(siemens, emission, mu, mains)
    drawn = [put_in(dictionary, fault, sound, rng) for fault in faults]
    variant = Variant()
    everything = sound
    for draw, extra in drawn:
        variant = variant | extra
        everything = Draw(
            {**everything.siemens, **{k: v for k, v in draw.siemens.items() if sound.siemens.get(k) != v}},
            {**everything.emission, **{k: v for k, v in draw.emission.items() if sound.emission[k] != v}},
            mu, mains,
        )  # fmt: skip
    true = measured(dictionary, everything, variant)
    healthy = measured(dictionary, sound, Variant())
    if true is None or healthy is None:
        return None
    # Of two faults each must move a reading with the other one there: a dead supply hides what is behind it.
    without = [measured(dictionary, draw, extra) for draw, extra in reversed(drawn)] if len(drawn) > 1 else [healthy]
    moved = tuple(other is not None and _moves(true, other) for other in without)
    shown = true * (1 + METER_SHARE * rng.uniform(-1, 1, len(true))) + METER_V * rng.uniform(-1, 1, len(true))
    return Case(tuple(fault.id for fault in faults), dict(zip(dictionary.points, shown.tolist(), strict=True)), moved)


def _moves(volts: np.ndarray, sound: np.ndarray) -> bool:
    return bool((np.abs(volts - sound) > np.maximum(MOVED * np.abs(sound), 0.1)).any())


def put_in(dictionary: Dictionary, fault: Fault, sound: Draw, rng: np.random.Generator) -> tuple[Draw, Variant]:
    """The sample with the fault in it, at a degree drawn between the dictionary's mildest and worst."""
    network = dictionary.network
    severities = fault.severities
    first, last = severities[0], severities[-1]
    if first.variant.conductances:
        a, b, change = first.variant.conductances[0]
        index = next(
            k for k, e in enumerate(network.elements)
            if (e.a, e.b) == (a, b) and math.isclose(e.siemens + change, first.siemens, rel_tol=1e-6, abs_tol=1e-15)
        )  # fmt: skip
        worth = math.exp(rng.uniform(*sorted((math.log(first.siemens), math.log(last.siemens)))))
        if "drifted" in fault.kind or "wrong-value" in fault.kind:
            worth *= sound.siemens.get(index, network.elements[index].siemens) / network.elements[index].siemens
        return Draw({**sound.siemens, index: worth}, sound.emission, sound.mu, sound.mains), Variant()
    if first.variant.emission:
        tube, mild = first.variant.emission[0]
        factor = math.exp(rng.uniform(*sorted((math.log(mild), math.log(last.variant.emission[0][1])))))
        return Draw(sound.siemens, {**sound.emission, tube: factor}, sound.mu, sound.mains), Variant()
    if first.variant.gas:
        tube, mild = first.variant.gas[0]
        share = math.exp(rng.uniform(*sorted((math.log(mild), math.log(last.variant.gas[0][1])))))
        return sound, Variant(gas=((tube, share),))
    return sound, severities[int(rng.integers(len(severities)))].variant


def measured(dictionary: Dictionary, draw: Draw, variant: Variant) -> np.ndarray | None:
    """What a meter shows at each test point, one at a time: ngspice alters one meter resistor after another."""
    network = dictionary.network
    nodes = [network.node(point) for point in dictionary.points]
    deck = netlist(dictionary.solver, variant, draw)
    control = [".control", "set numdgt=9"]
    for k, at in enumerate(nodes):
        deck.append(f"Rmeter{k} {node(at)} 0 {NO_METER_OHM:g}")
        control += [
            f"alter rmeter{k} = {METER_OHM:g}",
            "op",
            f"print v({node(at)})",
            f"alter rmeter{k} = {NO_METER_OHM:g}",
        ]
    text = run([*deck, *control, ".endc"])
    values = [float(line.split(" = ")[1]) for line in text.splitlines() if line.startswith("v(n") and " = " in line]
    return np.array(values) if len(values) == len(nodes) else None
