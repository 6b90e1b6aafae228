"""Netlists of schematic editors and simulators as circuit files, and back."""

import re
from pathlib import Path

import pytest
import yaml
from chopstick.cli.commands.circuit import app
from chopstick.engine.circuit.dictionary import sound_chart
from chopstick.engine.circuit.expected import Meter
from chopstick.engine.circuit.files import archetypes, load_archetype, load_circuit
from chopstick.engine.circuit.inferred import drawn
from chopstick.engine.circuit.network import compile_circuit
from chopstick.engine.circuit.schematic import kicad, spice
from chopstick.engine.circuit.solve import Solver
from chopstick.engine.circuit.spice_netlist import netlist
from typer.testing import CliRunner

from ..peers.spice import run

HERE = Path(__file__).parent / "netlists"


def made(tmp_path: Path, *words: object) -> Path:
    out = tmp_path / "made.yaml"
    ran = CliRunner().invoke(app, ["from", *map(str, words), "--out", str(out)])
    assert ran.exit_code == 0, ran.output
    return out


def test_a_netlist_typed_by_hand(tmp_path: Path) -> None:
    circuit = load_circuit(made(tmp_path, HERE / "by_hand.cir")).circuit
    assert circuit.tubes["V2"].screen == "bplus"
    assert circuit.parts["C3"].farad == pytest.approx(47e-6)
    assert circuit.parts["R1"].ohm == 1e6
    roles = {name: role for stage in circuit.stages.values() for name, role in stage.parts.items()}
    assert roles == {
        "R1": "input resistor", "R2": "grid stopper", "R3": "plate load", "R4": "cathode resistor", "C1": "cathode bypass",
        "C2": "coupling capacitor", "R5": "grid leak", "R6": "grid stopper", "R7": "cathode resistor",
        "C3": "cathode bypass", "R8": "plate load", "R9": "dropping resistor", "C4": "first filter capacitor",
    }  # fmt: skip


def test_a_schematic_editors_netlist(tmp_path: Path) -> None:
    path = made(tmp_path, HERE / "by_editor.net", "--supply", "plusb=320")
    circuit = load_circuit(path).circuit
    assert circuit.tubes["V1a"].plate == "v1a.plate"
    assert circuit.tubes["V1b"].grid == circuit.parts["RV1"].nodes[1]
    assert "# RV1: taken as linear" in path.read_text()
    assert 150 < sound_chart(circuit)["v1a.plate"][0] < 230


def test_what_is_missing_is_asked_for() -> None:
    ran = CliRunner().invoke(app, ["from", str(HERE / "by_editor.net")])
    assert ran.exit_code != 0
    assert "say where the B+ is" in ran.stderr


@pytest.mark.parametrize("text", ["", "(kicad_pcb (version 1))", "a title alone\n", "(export"])
def test_what_is_no_netlist_is_told(text: str, tmp_path: Path) -> None:
    path = tmp_path / "a.net"
    path.write_text(text)
    ran = CliRunner().invoke(app, ["from", str(path)])
    assert ran.exit_code != 0
    assert "netlist" in ran.stderr


@pytest.mark.parametrize("name", archetypes())
def test_there_and_back_the_volts_are_the_same(name: str, tmp_path: Path) -> None:
    """Circuit to netlist to circuit; and the same netlist in ngspice (for the volts without a meter)."""
    circuit = load_archetype(name).circuit
    text = netlist(circuit)
    path = tmp_path / "back.yaml"
    path.write_text(yaml.safe_dump(dict(drawn(spice(text), name).content)))
    back, there = load_circuit(path).circuit, sound_chart(circuit, Meter(1e12))
    again = sound_chart(back, Meter(1e12))
    for point, (volts, _) in there.items():
        if (same := point.replace(".", "_")) in again:
            assert again[same][0] == pytest.approx(volts, rel=0.01, abs=0.05), point
    solver = Solver(compile_circuit(circuit))
    lines = [line for line in text.splitlines() if line != ".end"][1:]
    nodes = solver.network.nodes
    shown = run(
        [
            *lines,
            ".options gmin=1e-15",
            ".control",
            "set numdgt=9",
            "op",
            *(f"print v({n.replace('.', '_')})" for n in nodes),
            ".endc",
        ]
    )
    found = {n: float(v) for n, v in re.findall(r"^v\((\S+)\) = (\S+)", shown, re.MULTILINE)}
    for index, node in enumerate(nodes):
        volts = float(solver.healthy.volts[0, index])
        assert found[node.replace(".", "_")] == pytest.approx(volts, rel=0.01, abs=0.1), node  # capacitors leak here


def test_the_pins_of_a_tube_of_two_sections() -> None:
    tubes = kicad((HERE / "by_editor.net").read_text()).tubes
    assert [tube.name for tube in tubes] == ["V1a", "V1b"]
    assert all(set(tube.nodes) == {"plate", "grid", "cathode"} for tube in tubes)
