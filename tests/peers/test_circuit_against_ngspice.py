"""The circuit solver against ngspice: the same equations written out as a netlist, solved by another program."""

import re

import numpy as np
import pytest
from chopstick.engine.circuit.faults import single_faults
from chopstick.engine.circuit.files import archetypes, load_archetype
from chopstick.engine.circuit.network import compile_circuit
from chopstick.engine.circuit.response import Response, ripple
from chopstick.engine.circuit.solve import Solver, Variant
from chopstick.engine.devices.library import standard_library
from chopstick.engine.devices.supply import SupplySpec, curve

from tests.circuit.at_a_load import printed_level

from .spice import netlist, node, operating_points, run

EVERY = 6  # one fault in six of each archetype: about 400 in all
AUDIO_Hz = (41.0, 82.0, 400.0, 1000.0, 5000.0, 10000.0)


def solver_of(name: str) -> Solver:
    return Solver(compile_circuit(load_archetype(name).circuit))


def compared(name: str, solver: Solver) -> list[tuple[str, Variant]]:
    """The sound circuit and some of its faults."""
    faults = [(f.id, s.variant) for f in single_faults(solver.network) for s in f.severities[:1] if not f.only_ac]
    return [("sound", Variant()), *faults[len(name) % EVERY :: EVERY]]


@pytest.mark.parametrize("name", archetypes())
def test_every_node_sound_and_faulty(name: str) -> None:
    """Within 1 percent or 0.2 V at every node."""
    solver = solver_of(name)
    chosen = compared(name, solver)
    solution = solver.solve([variant for _, variant in chosen])
    assert solution.converged.all()
    peers = operating_points(len(solver.network.nodes), (netlist(solver, variant) for _, variant in chosen))
    for (what, _), ours, theirs in zip(chosen, solution.volts, peers, strict=True):
        assert theirs is not None, f"{what}: ngspice found no operating point"
        worst = int(np.argmax(np.abs(ours - theirs) - np.maximum(0.2, 0.01 * np.abs(theirs))))
        message = f"{what} at {solver.network.nodes[worst]}: {ours[worst]:.2f} V against {theirs[worst]:.2f} V"
        assert (np.abs(ours - theirs) <= np.maximum(0.2, 0.01 * np.abs(theirs))).all(), message


def test_at_least_two_hundred_faults_are_compared() -> None:
    assert sum(len(compared(name, solver_of(name))) - 1 for name in archetypes()) >= 200


@pytest.mark.parametrize(
    "name", ["single-ended-6v6gt", "cathode-biased-2x6v6gt-split-load", "fixed-bias-2xel34-cathode-follower"]
)
def test_gain_at_every_node(name: str) -> None:
    """AC gain from the input to every plate and to the speaker within 2 percent from 41 Hz to 10 kHz."""
    solver = solver_of(name)
    network, output = solver.network, solver.network.circuit.output
    assert output is not None
    deck = [line for line in netlist(solver, ac=True) if not is_primary(solver, line)]
    deck += ["Vin n0 0 dc 0 ac 1", *transformer(solver)]
    assert network.nodes[0] == network.circuit.input
    targets = [t.plate for t in network.circuit.tubes.values()] + [output.secondary]
    prints = " ".join(f"vm({node(network.node(t))})" for t in dict.fromkeys(targets))
    for Hz in AUDIO_Hz:
        text = run([*deck, ".control", "set numdgt=9", f"ac lin 1 {Hz:g} {Hz:g}", f"print {prints}", ".endc"])
        theirs = {m[1]: float(m[2]) for m in re.finditer(r"vm\((n\d+)\) = (\S+)", text)}
        ours = Response(drive_input(solver))
        for target in dict.fromkeys(targets):
            at = node(network.node(target))
            gain = float(np.abs(ours.gain(network.circuit.input or "", target, [Hz]))[0])
            assert gain == pytest.approx(theirs[at], rel=0.02, abs=1e-6), f"{target} at {Hz} Hz"


def drive_input(solver: Solver):
    """The operating point with the input held at nought, as a generator's short does."""
    at = solver.network.node(solver.network.circuit.input or "")
    return solver.solve([Variant(((at, -1, 1e3),))])


def is_primary(solver: Solver, line: str) -> bool:
    index = {k for k, e in enumerate(solver.network.elements) if e.name.startswith("primary_")}
    return any(line.startswith(f"R{k} ") for k in index)


def transformer(solver: Solver) -> list[str]:
    """Winding resistance and an ideal transformer from a current-controlled and a voltage-controlled source."""
    network, output = solver.network, solver.network.circuit.output
    assert output is not None
    plates = [network.node(name) for name in output.primary]
    centre, secondary = node(plates.pop(1)), node(network.node(output.secondary))
    turns = np.sqrt(output.primary_ohm / output.load_ohm) / len(plates)
    lines = [f"Lmag {secondary} 0 {output.primary_henry / (turns * len(plates)) ** 2:.9g}"]
    for k, plate in enumerate(plates):
        sign = 1 if k == 0 else -1
        lines += [
            f"Rw{k} {node(plate)} w{k} {output.winding_ohm[k]:.9g}",
            f"Vs{k} w{k} x{k} 0",
            f"Ew{k} x{k} {centre} {secondary} 0 {sign * turns:.9g}",
            f"Fw{k} 0 {secondary} Vs{k} {sign * turns:.9g}",
        ]
    return lines


SUPPLIES = [  # rectifier, RMS volts, source ohm, reservoir F, choke H, choke ohm, load A
    ("5Y3GT", 300, 150, 16e-6, 0, 0, 0.08), ("5AR4", 340, 90, 40e-6, 0, 0, 0.15), ("silicon", 320, 40, 100e-6, 0, 0, 0.2),
    ("EZ81", 265, 180, 32e-6, 0, 0, 0.09), ("5U4GB", 310, 90, 20e-6, 0, 0, 0.16), ("5AR4", 400, 60, 40e-6, 8, 100, 0.15),
]  # fmt: skip


@pytest.mark.parametrize("case", SUPPLIES, ids=lambda c: f"{c[0]}-{c[1]}V")
def test_supply_level_ripple_and_peak(case: tuple) -> None:
    """Level and ripple within 3 percent of a transient run; peak rectifier current within 5."""
    rectifier, rms_V, source, farad, henry, choke_ohm, load = case
    law = standard_library().rectifier(rectifier)
    spec = SupplySpec(rms_V, source, law.perveance, law.threshold_V, 2, 60.0, farad, henry, choke_ohm)
    level, ripple_V, peak_A = printed_level(spec, load)
    # A choke needs somewhere for its current to go while neither plate conducts: the windings' own capacitance.
    between = [f"Lc r m {henry}", f"Rc m out {choke_ohm}", "Cstray r 0 1n"] if henry else ["Rc r out 1e-3"]
    deck = [
        f"V1 a 0 sin(0 {rms_V * np.sqrt(2)} 60)", f"V2 b 0 sin(0 {-rms_V * np.sqrt(2)} 60)",
        f"R1 a a1 {source}", f"R2 b b1 {source}",
        f"B1 a1 r I={law.perveance}*pow(max(v(a1,r)-{law.threshold_V},0),1.5)",
        f"B2 b1 r I={law.perveance}*pow(max(v(b1,r)-{law.threshold_V},0),1.5)",
        *between, f"C1 out 0 {farad} ic={level}", f"Rload out 0 {level / load}",
        ".control", "set numdgt=9", "tran 40u 0.6 0.5 20u uic", "meas tran average avg v(out) from=0.5 to=0.6",
        "meas tran pp pp v(out) from=0.5 to=0.6", "meas tran peak min v1#branch from=0.5 to=0.6", ".endc",
    ]  # fmt: skip
    text = run(deck)
    found = {m[1]: float(m[2]) for m in re.finditer(r"^(average|pp|peak)\s*=\s*(\S+)", text, re.MULTILINE)}
    assert level == pytest.approx(found["average"], rel=0.03)
    assert ripple_V == pytest.approx(found["pp"], rel=0.03)
    assert peak_A == pytest.approx(-found["peak"], rel=0.05)


WITHOUT_RESERVOIR = [  # rectifier, RMS volts, source ohm, ohm to the next capacitor, its F, load A
    ("5Y3GT", 255, 220, 470, 16e-6, 0.05), ("5Y3GT", 300, 150, 1000, 16e-6, 0.08), ("silicon", 325, 25, 4000, 50e-6, 0.15),
    ("5AR4", 335, 90, 1000, 20e-6, 0.1),
]  # fmt: skip


@pytest.mark.parametrize("case", WITHOUT_RESERVOIR, ids=lambda c: f"{c[0]}-{c[1]}V")
def test_a_supply_whose_reservoir_has_come_off(case: tuple) -> None:
    """Level within 1 percent of a transient run with the next filter capacitor, six tenths of the load before it."""
    rectifier, rms_V, source, next_ohm, farad, load = case
    law = standard_library().rectifier(rectifier)
    spec = SupplySpec(rms_V, source, law.perveance, law.threshold_V, 2, 60.0, 0.0, next_ohm=next_ohm)
    deck = [
        f"V1 a 0 sin(0 {rms_V * np.sqrt(2)} 60)", f"V2 b 0 sin(0 {-rms_V * np.sqrt(2)} 60)",
        f"R1 a a1 {source}", f"R2 b b1 {source}",
        f"B1 a1 r I={law.perveance}*pow(max(v(a1,r)-{law.threshold_V},0),1.5)",
        f"B2 b1 r I={law.perveance}*pow(max(v(b1,r)-{law.threshold_V},0),1.5)",
        "Cstray r 0 2n", f"Rnext r c {next_ohm}", f"C2 c 0 {farad} ic=250", f"I1 r 0 {0.6 * load}",
        f"I2 c 0 {0.4 * load}", ".control", "tran 50u 1.0 0.9 50u uic", "meas tran average avg v(r) from=0.9 to=1.0", ".endc",
    ]  # fmt: skip
    found = re.search(r"^average\s*=\s*(\S+)", run(deck), re.MULTILINE)
    assert found
    assert curve(spec).level(load) == pytest.approx(float(found[1]), rel=0.01)


@pytest.mark.parametrize("name", ["cathode-biased-2x6v6gt-split-load", "fixed-bias-2x6l6gc-reverb-tremolo"])
def test_ripple_along_the_filter(name: str) -> None:
    """Ripple at every filter node within 3 percent of a transient run of the whole amplifier, or 20 mV: what
    the run has still to settle after a fifth of a second."""
    solver = solver_of(name)
    network = solver.network
    main = next(k for k, port in enumerate(network.supplies) if port.sign > 0)
    spec, at = network.supplies[main].spec, node(network.supplies[main].node)
    deck = [
        line for line in netlist(solver, ac=True) if not line.startswith(f"Bsup{main} ") and not line.startswith("Cpk")
    ]
    volts = solver.healthy.volts[0]
    for index, element in enumerate(network.elements):
        if element.kind == "inductor":  # it starts with its direct current, or the filter rings for a second
            amps = (volts[element.a] - volts[element.b]) * element.siemens
            deck = [f"{line} ic={amps:.9g}" if line.startswith(f"L{index} ") else line for line in deck]
    deck += [f".ic {' '.join(f'v({node(k)})={v:.6g}' for k, v in enumerate(volts))}"]
    deck += [
        f"Vside1 a 0 sin(0 {spec.open_circuit_V * np.sqrt(2)} {spec.mains_Hz})",
        f"Vside2 b 0 sin(0 {-spec.open_circuit_V * np.sqrt(2)} {spec.mains_Hz})",
        f"Rside1 a a1 {spec.source_ohm}", f"Rside2 b b1 {spec.source_ohm}",
        f"Bx a1 {at} I={spec.perveance}*pow(max(v(a1,{at})-{spec.threshold_V},0),1.5)",
        f"By b1 {at} I={spec.perveance}*pow(max(v(b1,{at})-{spec.threshold_V},0),1.5)",
    ]  # fmt: skip
    ours = {r.node: r.peak_to_peak_V for r in ripple(solver, solver.healthy)}
    period = 1 / spec.mains_Hz
    start, end = 12 * period, 14 * period
    meas = [f"meas tran pp{k} pp v({node(network.node(p))}) from={start} to={end}" for k, p in enumerate(ours)]
    text = run([*deck, ".control", "set numdgt=9", f"tran 50u {end} {start} 40u uic", *meas, ".endc"])
    found = {int(m[1]): float(m[2]) for m in re.finditer(r"^pp(\d+)\s*=\s*(\S+)", text, re.MULTILINE)}
    for k, (point, pp) in enumerate(ours.items()):
        assert pp == pytest.approx(found[k], rel=0.03, abs=0.02), point
