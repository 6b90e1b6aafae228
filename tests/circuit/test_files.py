"""Circuit files: the shipped ones are sound and say where they come from; wrong ones are told off by line."""

import json
import re
from pathlib import Path

import jsonschema
import pytest
from chopstick.engine.circuit.chart import chart
from chopstick.engine.circuit.files import archetypes, find, load_archetype, load_circuit, nearest
from chopstick.engine.circuit.lint import LINTS
from chopstick.engine.circuit.netlist import MOST_PARTS
from chopstick.engine.circuit.schema import FILE, schema_text
from chopstick.engine.reference.errors import KnowledgeError
from chopstick.engine.reference.tables import load

GOOD = """\
title: one stage
summary: a stage
input: in
supplies:
  main: {node: bplus_1, rectifier: 5Y3GT, secondary_V: 250, source_ohm: 150, reservoir: C10}
parts:
  C10: {kind: electrolytic, farad: 16u, nodes: [bplus_1, chassis]}
  R1: {kind: resistor, ohm: 1M, nodes: [in, chassis]}
  R3: {kind: resistor, ohm: 100k, nodes: [bplus_1, v1a.plate]}
  R4: {kind: resistor, ohm: 1k5, nodes: [v1a.cathode, chassis]}
tubes:
  V1a: {type: 12AX7, grid: in, plate: v1a.plate, cathode: v1a.cathode}
stages:
  input: {title: Input, tubes: [V1a], supplies: [main], parts: {C10: first, R1: leak, R3: load, R4: bias}}
test_points: [v1a.plate, v1a.cathode]
"""


def problems(tmp_path: Path, old: str, new: str) -> list[tuple[int, int, str, str]]:
    assert old in GOOD
    path = tmp_path / "amp.yaml"
    path.write_text(GOOD.replace(old, new))
    try:
        told = load_circuit(path).warnings
    except KnowledgeError as error:
        told = error.problems
    return [(p.where.line, p.where.column, p.lint, p.message) for p in told]


def test_the_good_file_is_good(tmp_path: Path) -> None:
    assert problems(tmp_path, "one stage", "one stage") == []


# What is wrong, and the line, column, lint and words it is told with.
WRONG = [
    ("100k", "100q", 9, 29, "format", "is not a unit known here"),
    ("ohm: 1k5, ", "", 10, 7, "missing-key", "'ohm' is missing"),
    ("kind: resistor, ohm: 1k5", "kind: resistance, ohm: 1k5", 10, 7, "format", "kind"),
    ("reservoir: C10", "reservoir: C11", 1, 1, "format", "its reservoir: there is no electrolytic 'C11' in this file"),
    ("type: 12AX7", "type: 12AX8", 12, 15, "known-type", "no model for the tube type '12AX8'. Did you mean '12AX7'?"),
    ("rectifier: 5Y3GT", "rectifier: 5Y8GT", 5, 36, "known-type", "no model for the rectifier type '5Y8GT'"),
    ("type: 12AX7", "type: 6V6GT", 12, 8, "known-type", "6V6GT needs a screen node"),
    ("[v1a.plate, v1a.cathode]", "[v1a.plate, v1a.cathod]", 15, 26, "known-node", "no part joins the node 'v1a.cathod'"),
    ("[v1a.plate, v1a.cathode]", "[v1a.plate, v1a.plate]", 15, 26, "known-node", "'v1a.plate' is there twice"),
    ("[bplus_1, v1a.plate]", "[bplus_1, v1a.plat]", 9, 52, "floating-node", "nothing else joins the node 'v1a.plat'"),
    ("kind: resistor, ohm: 1M", "kind: capacitor, farad: 22n", 8, 45, "dc-path", "'in' has no path for direct current"),
    ("[bplus_1, v1a.plate]", "[chassis, v1a.plate]", 12, 39, "tube-conducts", "its plate reaches no supply"),
    ("kind: resistor, ohm: 1k5", "kind: capacitor, farad: 25u", 12, 59, "tube-conducts", "its cathode has no way"),
    ("100k", "103.7k", 9, 29, "preferred-value", "103.7k is off every preferred series"),
    ("secondary_V: 250", "secondary_V: 25", 5, 56, "unusual-value", "25 V a side is no plate winding"),
    (", R4: bias", "", 10, 7, "one-stage", "R4 is in no stage"),
    ("R4: bias", "R44: bias", 14, 102, "one-stage", "there is no 'R44'"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "column", "lint", "words"), WRONG, ids=lambda v: str(v)[:24])
def test_a_wrong_file_is_told_by_line(
    tmp_path: Path, old: str, new: str, line: int, column: int, lint: str, words: str
) -> None:
    told = problems(tmp_path, old, new)
    assert any(p[:3] == (line, column, lint) and words in p[3] for p in told), told


def test_every_lint_has_a_manual_and_a_wrong_file() -> None:
    shown = {lint for *_, lint, _ in WRONG}
    for lint in LINTS:
        assert lint.__doc__
        assert len(lint.__doc__) > 60
        assert lint.__name__.replace("_", "-") in shown


def test_a_lint_can_be_switched_off_beside_the_part(tmp_path: Path) -> None:
    assert problems(tmp_path, "ohm: 100k,", "ohm: 103.7k, quiet: [preferred-value],") == []


def test_the_archetypes_cover_what_is_met_on_a_bench() -> None:
    """One and several output tubes of the usual types, both ways of bias, and every common phase inverter."""
    fits = [load_archetype(name).circuit.fits for name in archetypes()]
    assert {(amp.get("output-class"), amp.get("bias")) for amp in fits} >= {
        ("single-ended", "cathode"), ("push-pull", "cathode"), ("push-pull", "fixed"),
    }  # fmt: skip
    assert {amp["power-tube"] for amp in fits} >= {"6V6GT", "6L6GC", "EL34", "EL84"}
    assert {amp.get("power-tube-count") for amp in fits} >= {1, 2, 4}


@pytest.mark.parametrize("name", archetypes())
def test_a_shipped_circuit_is_sound_and_runs_where_it_says(name: str) -> None:
    """No problem at all; every claim of `normal` holds and names a source; no plate or screen rating is broken."""
    loaded = load_archetype(name)
    assert loaded.warnings == ()
    assert find(name).read_text().startswith("# yaml-language-server: $schema=../schema/circuit.schema.json\n")
    jsonschema.validate(loaded.document.value, json.loads(FILE.read_text()))
    found = chart(loaded.circuit)
    points = {row.point: row.volts for row in found.rows}
    assert loaded.circuit.normal
    for claim in loaded.circuit.normal:
        assert load().source(claim.source)
        tube, _, figure = claim.of.partition(" ")
        value = found.tubes[tube][figure] if figure else points[claim.of]
        assert claim.low <= value <= claim.high, f"{claim.of} is {value:.1f}"
    for limit in found.limits:
        if limit.of.endswith(("plate_W", "screen_W", "cathode_mA")):
            assert not limit.over, limit


def test_the_committed_schema_is_the_generated_one() -> None:
    assert FILE.read_text() == schema_text(), "run: python -m chopstick.engine.circuit.schema"


def test_the_nearest_archetype_and_how_near() -> None:
    choices = {name: load_archetype(name).circuit for name in archetypes()}
    exact = {"power-tube": "EL84", "power-tube-count": 2, "output-class": "push-pull", "bias": "cathode"}
    assert nearest(exact, choices) == ("cathode-biased-2xel84-long-tailed", 1.0)
    name, share = nearest({"power-tube": "6V6GT", "power-tube-count": 2, "bias": "fixed", "reverb": "present"}, choices)
    assert name == "fixed-bias-2x6v6gt-split-load"
    assert 0.5 < share < 1.0


def test_an_unknown_circuit_is_told_with_the_nearest() -> None:
    with pytest.raises(FileNotFoundError, match="Did you mean 'single-ended-6v6gt'"):
        find("single-ended-6v6")


# --- what a file may hold at most, and at least ---

SHIPPED = archetypes()["single-ended-6v6gt"].read_text()


@pytest.mark.parametrize(
    ("what", "becomes", "words"),
    [
        (r"winding_ohm: \[.*?\]", "winding_ohm: []", "output.winding_ohm: tuple should have at least 1 item"),
        (r"winding_ohm: \[.*?\]", "winding_ohm: [1, 2, 3]", "output.winding_ohm: at most 2 may stand here; there are"),
        (r"mains: .*", "mains: {volts: 0, Hz: 60}", "mains.volts: input should be greater than or equal to 50"),
        (r"mains: .*", "mains: {volts: 120, Hz: 0}", "mains.Hz: input should be greater than or equal to 10"),
        (r"mains: .*", "mains: {volts: 120, Hz: 1e999}", "mains.Hz: input should be less than or equal to 500"),
        (r"high: [0-9.]+", "high: 1e999", "high: input should be a finite number"),
    ],
)
def test_a_figure_that_can_not_be_solved_with_is_told_at_its_place(
    what: str, becomes: str, words: str, tmp_path: Path
) -> None:
    path = tmp_path / "amp.yaml"
    text, count = re.subn(what, becomes, SHIPPED, count=1)
    assert count == 1
    path.write_text(text)
    with pytest.raises(KnowledgeError) as told:
        load_circuit(path)
    assert any(words in str(problem) for problem in told.value.problems), told.value
    assert all(problem.where.line > 1 for problem in told.value.problems)


@pytest.mark.parametrize("parts", [MOST_PARTS, MOST_PARTS + 1, 5_000])
def test_a_circuit_has_so_many_parts_and_no_more(parts: int, tmp_path: Path) -> None:
    """Refused when it is read: what solves it would take gigabytes."""
    extra = [f"R{n}" for n in range(100, 100 + parts - 4)]
    lines = [f"\n  {name}: {{kind: resistor, ohm: 1M, nodes: [bplus_1, chassis]}}" for name in extra]
    text = GOOD.replace("\ntubes:", "".join(lines) + "\ntubes:")
    text = text.replace(", R4: bias", ", R4: bias, " + ", ".join(f"{name}: bleeder" for name in extra))
    (tmp_path / "amp.yaml").write_text(text)
    if parts <= MOST_PARTS:
        assert len(load_circuit(tmp_path / "amp.yaml").circuit.parts) == parts
        return
    says = rf"amp.yaml:7:3: error: parts: at most {MOST_PARTS} may stand here; there are {parts}"
    with pytest.raises(KnowledgeError, match=says):
        load_circuit(tmp_path / "amp.yaml")
