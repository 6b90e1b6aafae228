"""Operating points: small circuits that can be reckoned by hand, and laws that hold for any."""

import numpy as np
import pytest
from chopstick.engine.circuit.faults import single_faults
from chopstick.engine.circuit.files import archetypes, load_archetype
from chopstick.engine.circuit.netlist import Circuit
from chopstick.engine.circuit.network import compile_circuit, track_share
from chopstick.engine.circuit.solve import Solver, Variant
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .bench import circuit


def volts(solver: Solver, variant: Variant = Variant()) -> dict[str, float]:
    solution = solver.solve([variant])
    assert solution.converged[0]
    return dict(zip(solver.network.nodes, map(float, solution.volts[0]), strict=True))


def test_a_divider() -> None:
    model = {
        "title": "divider", "summary": "two resistors", "test_points": ["middle"],
        "supplies": {"ht": {"node": "top", "volts": 300, "source_ohm": 1}},
        "parts": {
            "R1": {"kind": "resistor", "ohm": "100k", "nodes": ["top", "middle"]},
            "R2": {"kind": "resistor", "ohm": "50k", "nodes": ["middle", "chassis"]},
        },
        "tubes": {}, "stages": {"one": {"title": "one"}},
    }  # fmt: skip
    assert volts(Solver(compile_circuit(Circuit.model_validate(model))))["middle"] == pytest.approx(100.0, rel=1e-4)


def test_a_stage_that_draws_nothing_shows_the_supply_on_its_plate() -> None:
    # The technician's rule: the plate sits high when the stage draws nothing (dead tube, open cathode resistor).
    solver = Solver(compile_circuit(circuit()))
    faults = {f.id: f for f in single_faults(solver.network)}
    sound = volts(solver)
    assert 100 < sound["v1a.plate"] < 0.75 * sound["bplus_2"]
    for name in ("V1a.dead", "R4.open"):
        wrong = volts(solver, faults[name].severities[0].variant)
        assert wrong["v1a.plate"] == pytest.approx(wrong["bplus_2"], rel=0.01), name
    assert volts(solver, faults["R3.open"].severities[0].variant)["v1a.plate"] < 5


@settings(max_examples=amount(15, 800))
@given(
    load=st.floats(22e3, 470e3), cathode=st.floats(300, 10e3), secondary=st.floats(100, 400),
    leak=st.one_of(st.none(), st.floats(1e4, 1e7)),
)  # fmt: skip
def test_current_laws_hold_whatever_the_values(
    load: float, cathode: float, secondary: float, leak: float | None
) -> None:
    """Every operating point that is given out obeys Kirchhoff's current law, and the plate lies within the supply."""
    described = circuit(R3={"ohm": load}, R4={"ohm": cathode})
    supply = described.supplies["main"].model_copy(update={"secondary_V": secondary})
    solver = Solver(compile_circuit(described.model_copy(update={"supplies": {"main": supply}})))
    network = solver.network
    change = ((network.node("v1a.plate"), network.node("out"), 1 / leak),) if leak else ()
    found = volts(solver, Variant(change))
    ohms = {name: getattr(part, "ohm", None) for name, part in described.parts.items()}
    through_load = (found["bplus_2"] - found["v1a.plate"]) / ohms["R3"]
    through_leak = (found["v1a.plate"] - found["out"]) / leak if leak else 0.0
    through_cathode = found["v1a.cathode"] / ohms["R4"]
    assert through_load - through_leak == pytest.approx(
        through_cathode, rel=1e-3, abs=2e-6
    )  # the grid adds its own microampere
    assert 0 < found["v1a.plate"] < found["bplus_2"] < found["bplus_1"] < secondary * np.sqrt(2)


def test_a_batch_gives_what_each_alone_gives() -> None:
    solver = Solver(compile_circuit(load_archetype("single-ended-6v6gt").circuit))
    variants = [s.variant for f in single_faults(solver.network) for s in f.severities]
    together = solver.solve(variants)
    assert together.converged.all()
    for k in range(0, len(variants), 17):
        assert solver.solve([variants[k]]).volts[0] == pytest.approx(together.volts[k], rel=1e-5, abs=1e-4)


def test_two_changes_at_once_equal_a_circuit_so_made() -> None:
    solver = Solver(compile_circuit(circuit()))
    network = solver.network
    doubled = [network.elements[network.element(name)] for name in ("R3", "R4")]
    variant = Variant(tuple((e.a, e.b, -e.siemens / 2) for e in doubled))
    made = Solver(compile_circuit(circuit(R3={"ohm": "200k"}, R4={"ohm": "3k"})))
    assert volts(solver, variant) == pytest.approx(volts(made), rel=1e-5, abs=1e-5)


@pytest.mark.parametrize("name", archetypes())
def test_every_fault_of_every_archetype_converges_in_few_rounds(name: str) -> None:
    solver = Solver(compile_circuit(load_archetype(name).circuit))
    solution = solver.solve([s.variant for f in single_faults(solver.network) for s in f.severities])
    assert solution.converged.all()
    assert np.median(solution.rounds) <= 6
    assert (solution.rounds > 15).mean() < 0.03


def test_failure_is_reported_and_never_a_number(monkeypatch: pytest.MonkeyPatch) -> None:
    from chopstick.engine.circuit import solve

    solver = Solver(compile_circuit(circuit()))
    short = {f.id: f for f in single_faults(solver.network)}["C5.shorted"].severities[0].variant
    monkeypatch.setattr(solve, "ROUNDS", 1)
    solution = solver.solve([short])
    assert not solution.converged[0]
    assert np.isnan(solution.volts[0]).all()


@given(st.floats(0, 10), st.sampled_from(["linear", "audio", "reverse audio"]))
def test_a_track_runs_from_end_to_end(rotation: float, taper: str) -> None:
    assert track_share(taper, 0) == pytest.approx(0)
    assert track_share(taper, 10) == pytest.approx(1)
    assert 0 <= track_share(taper, rotation) <= 1
    assert track_share("audio", 5) == pytest.approx(0.15)
