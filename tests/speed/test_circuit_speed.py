"""What the circuit room costs, as ratios within one run, so that the machine does not matter.

Against ngspice over the same operating points: one batch process that alters one part after another, and a process a
point. The supplies' regulation curves are given to both sides.
"""

import time
from collections.abc import Callable, Iterator
from datetime import datetime

import numpy as np
import pytest
from chopstick.engine.circuit.dictionary import Dictionary, build_dictionary
from chopstick.engine.circuit.faults import single_faults
from chopstick.engine.circuit.files import archetypes, load_archetype
from chopstick.engine.circuit.netlist import Circuit
from chopstick.engine.circuit.network import compile_circuit
from chopstick.engine.circuit.rank import rank
from chopstick.engine.circuit.solve import Solver
from chopstick.engine.knowledge import cache
from chopstick.engine.reasoning.circuit_checks import point_check
from chopstick.engine.reasoning.log import CircuitChosen, Complaint, LogEntry, Opened, Reading
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.voltages import KnownCircuit
from pytest_benchmark.fixture import BenchmarkFixture

from ..peers.spice import need_ngspice, netlist, operating_points, run
from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed
LARGEST = max(archetypes(), key=lambda name: len(load_archetype(name).circuit.parts))
PROCESSES = 40  # how many of the points are solved by a process each; the rest is reckoned from them


def seconds(what: Callable[[], object], times: int = 5) -> float:
    """The shortest of some runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        what()
        taken.append(time.perf_counter() - start)
    return min(taken)


def test_a_whole_dictionary_against_ngspice(benchmark: BenchmarkFixture, row: Row) -> None:
    need_ngspice()
    solver = Solver(compile_circuit(load_archetype(LARGEST).circuit))
    elements = solver.network.elements
    points = []
    for fault in single_faults(solver.network):
        for severity in fault.severities:
            if severity.variant.conductances:
                a, b, change = severity.variant.conductances[0]
                index = next(
                    k for k, e in enumerate(elements)
                    if (e.a, e.b) == (a, b) and np.isclose(e.siemens + change, severity.siemens, rtol=1e-6, atol=1e-15)
                )  # fmt: skip
                points.append((severity.variant, index, severity.siemens))
    variants = [variant for variant, _, _ in points]
    assert solver.solve(variants).converged.all()
    benchmark.pedantic(solver.solve, args=(variants,), rounds=3)
    ours = seconds(lambda: solver.solve(variants))

    control = [".control", "op"]
    for _, index, siemens in points:
        control += [f"alter r{index} = {1 / siemens:.9g}", "op", f"alter r{index} = {1 / elements[index].siemens:.9g}"]
    deck = [*netlist(solver), *control, "print v(n0)", ".endc"]
    batch = seconds(lambda: run(deck), 2)
    count = len(solver.network.nodes)
    decks = [netlist(solver, variant) for variant in variants[:: len(variants) // PROCESSES]]
    process = seconds(lambda: operating_points(count, decks), 1) / len(decks) * len(variants)
    row(
        f"fault dictionary of {LARGEST} ({len(variants)} operating points) against ngspice",
        f"{batch / ours:.0f} times quicker than in one process, {process / ours:.0f} times than in a process a point "
        f"({ours * 1e3:.0f} ms)",
        "3 times, 20 times",
    )
    assert batch / ours > 3
    assert process / ours > 20


def jobs(book: Dictionary, draw: np.random.Generator, faults: int) -> Iterator[dict[str, float]]:
    """Volts of amps with so many faults in different stages, read with a meter's error; none: volts of no amp at all."""
    rows = np.flatnonzero((book.row_fault >= 0) & book.expected.converged)
    for _ in range(6):
        mean = book.expected.mean[draw.choice(rows)]
        if faults == 2:
            pair = book.pairs.rows[draw.choice(len(book.pairs.rows))].tolist()
            both = book.together([tuple(pair)])[0]
            mean = both[0] if both else mean
        elif not faults:
            mean = book.expected.mean[0] * draw.choice([1.0, 1.0, 1.0, 0.3, 2.0, -1.0], len(mean))
        read = mean * (1 + draw.normal(0, 0.005, len(mean))) + draw.normal(0, 0.02, len(mean))
        book.solved.clear()
        yield {book.points[k]: float(read[k]) for k in draw.permutation(len(mean))[:12]}


SOON = 0.020  # from a reading to a new ranking, s: a technician sees no wait


@pytest.mark.usefixtures("at_the_bench")
@pytest.mark.parametrize("faults", [1, 2, 0])
def test_a_reading_to_a_new_ranking(faults: int, capsys: pytest.CaptureFixture[str], row: Row) -> None:
    """Read point by point as at the bench, over four circuits, the dictionary built; in processor time. What fits no
    fault costs most, since only a search through sets of faults shows that none fits."""
    taken: list[float] = []
    for name in ("single-ended-6v6gt", "cathode-biased-2x6v6gt-split-load", "fixed-bias-2xel34-cathode-follower", LARGEST):
        book = build_dictionary(load_archetype(name).circuit)
        assert len(book.pairs.rows)
        for read in jobs(book, np.random.default_rng(len(name)), faults):
            for number in range(1, len(read) + 1):
                some = dict(list(read.items())[:number])
                begun = time.process_time()
                rank(book, some)
                taken.append(time.process_time() - begun)
    half, most = (float(np.quantile(taken, share)) * 1e3 for share in (0.5, 0.9))
    what = ("volts that fit no fault", "one fault", "two faults")[faults]
    soon = f"{float(np.mean(np.array(taken) < SOON)):.1%} under {SOON * 1e3:.0f} ms"
    row(f"a reading to a new ranking, {what}", f"{half:.0f} ms; nine in ten under {most:.0f} ms; {soon}", "20 ms, nine in ten")
    with capsys.disabled():
        print(f"\n  a reading to a ranking, {what}: {half:.0f} ms, nine in ten {most:.0f}, all {max(taken) * 1e3:.0f}; {soon}")
    assert most < within(SOON) * 1e3


def test_cost_against_size(capsys: pytest.CaptureFixture[str]) -> None:
    """The same preamp once, twice and four times over on one supply: points, and time for the whole dictionary."""
    told = []
    for times in (1, 2, 4):
        network = compile_circuit(repeated(times))
        solver = Solver(network)
        variants = [s.variant for f in single_faults(network) for s in f.severities]
        solver.solve(variants)
        told.append((times, len(network.elements), len(variants), seconds(lambda s=solver, v=variants: s.solve(v), 3)))  # type: ignore[misc]
    with capsys.disabled():
        for times, elements, points, taken in told:
            print(
                f"\n  {times} x: {elements} elements, {points} points, {taken * 1e3:.0f} ms, {taken / points * 1e6:.0f} us a point",
                end="",
            )
    # Points grow in proportion, the work of each at most with the cube of the size; in practice far less.
    assert told[2][3] / told[0][3] < 4**3


def repeated(times: int) -> Circuit:
    parts: dict[str, object] = {
        "C90": {"kind": "electrolytic", "farad": "40u", "nodes": ["bplus_1", "chassis"]},
        "R90": {"kind": "resistor", "ohm": "1k", "nodes": ["bplus_1", "bplus_2"]},
    }
    tubes: dict[str, object] = {}
    for k in range(times):
        parts |= {
            f"R{k}1": {"kind": "resistor", "ohm": "1M", "nodes": [f"in{k}", "chassis"]},
            f"R{k}2": {"kind": "resistor", "ohm": "100k", "nodes": ["bplus_2", f"p{k}"]},
            f"R{k}3": {"kind": "resistor", "ohm": "1k5", "nodes": [f"k{k}", "chassis"]},
            f"C{k}4": {"kind": "electrolytic", "farad": "25u", "nodes": [f"k{k}", "chassis"]},
            f"C{k}5": {"kind": "capacitor", "farad": "22n", "nodes": [f"p{k}", f"g{k}"]},
            f"R{k}6": {"kind": "resistor", "ohm": "1M", "nodes": [f"g{k}", "chassis"]},
            f"R{k}7": {"kind": "resistor", "ohm": "100k", "nodes": ["bplus_2", f"q{k}"]},
            f"R{k}8": {"kind": "resistor", "ohm": "1k5", "nodes": [f"j{k}", "chassis"]},
        }
        tubes |= {
            f"V{k}a": {"type": "12AX7", "grid": f"in{k}", "plate": f"p{k}", "cathode": f"k{k}"},
            f"V{k}b": {"type": "12AX7", "grid": f"g{k}", "plate": f"q{k}", "cathode": f"j{k}"},
        }
    supply = {"node": "bplus_1", "rectifier": "5AR4", "secondary_V": 250, "source_ohm": 100, "reservoir": "C90"}
    return Circuit.model_validate(
        {"title": "preamps", "summary": "repeated", "supplies": {"main": supply}, "parts": parts, "tubes": tubes,
         "stages": {"all": {"title": "all"}}, "test_points": ["p0"]}
    )  # fmt: skip


@pytest.mark.usefixtures("at_the_bench")
def test_a_typed_reading_ranks_the_causes_anew(capsys: pytest.CaptureFixture[str]) -> None:
    """A whole job with a circuit: from a typed volt to the new standing and the next step, the dictionary built. Timed by
    the processor's time, which does not count what others do on a busy machine."""
    session, at = Session(cache.load()), datetime(2026, 1, 1)
    log: list[LogEntry] = [
        Opened(at=at, title="speed", fingerprint=""),
        Complaint(at=at, says="it is dead", symptom="one-channel-dead"),
        CircuitChosen(at=at, circuit="cathode-biased-2x6v6gt-split-load"),
    ]
    known = session.known("cathode-biased-2x6v6gt-split-load")
    assert isinstance(known, KnownCircuit)
    row = next(k for k, owner in enumerate(known.book.row_fault) if owner >= 0 and known.book.faults[owner].id == "R4.open")
    assert session.read(log).ranking.probability
    taken = []
    for point, (volts, _) in list(known.book.chart(row).items())[:12]:
        log.append(Reading(at=at, check=point_check(point), values={"volts": volts}))
        begun = time.process_time()
        assert session.read(log).ranking.probability
        taken.append(time.process_time() - begun)
    with capsys.disabled():
        print(f"\n  a typed volt to new causes: median {np.median(taken) * 1e3:.0f} ms, slowest {max(taken) * 1e3:.0f} ms")
    assert np.median(taken) < 0.050
    assert max(taken) < 0.150
