"""A shop's own circuits beside the shipped ones, and what is wrong with them, each at its line and column."""

from pathlib import Path

import pytest
from chopstick.engine.circuit.collection import Circuits, UnknownCircuit, unmet
from chopstick.engine.circuit.files import find
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.layers import Layer, found
from chopstick.engine.reference.errors import KnowledgeError

from ..shipped import shipped_knowledge

SHIPPED = "single-ended-6v6gt"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop with one circuit of its own, and a cathode resistor of a shipped one changed."""
    (tmp_path / "circuits").mkdir()
    (tmp_path / "areas").mkdir()
    (tmp_path / "circuits" / "bench-amp.yaml").write_text(find(SHIPPED).read_text())
    (tmp_path / "areas" / "ours.yaml").write_text(
        f"area: preamp\namend: {{circuits: {{{SHIPPED}: {{parts: {{R4: {{ohm: 2k7}}}}}}}}}}\n"
    )
    return tmp_path


def circuits(folder: Path) -> Circuits:
    return Circuits(None, [Layer("shop", "shop", folder)])


def test_a_shop_keeps_its_own_circuits_beside_its_rules(shop: Path) -> None:
    ours = circuits(shop)
    assert "bench-amp" in ours.names()
    assert SHIPPED in ours.names()
    assert ours.find("bench-amp").circuit.parts["R4"].ohm == 1500  # type: ignore[union-attr]


def test_a_shipped_circuit_is_amended_part_by_part(shop: Path) -> None:
    circuit = circuits(shop).find(SHIPPED).circuit
    assert circuit.parts["R4"].ohm == 2700  # type: ignore[union-attr]
    assert circuit.parts["R4"].nodes == ("v1a.cathode", "chassis")


def test_a_folder_with_circuits_alone_is_a_layer(tmp_path: Path) -> None:
    (tmp_path / "knowledge" / "circuits").mkdir(parents=True)
    assert [layer.kind for layer in found({"CHOPSTICK_USER": str(tmp_path / "knowledge")})] == ["user"]


def test_a_circuit_is_part_of_the_fingerprint(shop: Path) -> None:
    layers = [Layer("shop", "shop", shop)]
    before = load.fingerprint(load.shipped(), layers)
    (shop / "circuits" / "bench-amp.yaml").write_text(find(SHIPPED).read_text() + "# changed\n")
    assert load.fingerprint(load.shipped(), layers) != before


def test_a_wrong_value_is_named_at_its_line_and_column(shop: Path) -> None:
    wrong = shop / "circuits" / "bench-amp.yaml"
    wrong.write_text(wrong.read_text().replace("ohm: 100k", "ohm: 100kk", 1))
    line = next(n for n, text in enumerate(wrong.read_text().splitlines(), start=1) if "100kk" in text)
    column = wrong.read_text().splitlines()[line - 1].index("100kk") + 1
    with pytest.raises(KnowledgeError) as caught:
        circuits(shop).find("bench-amp")
    where = caught.value.problems[0].where
    assert (where.file, where.line, where.column) == (str(wrong), line, column)


def test_an_amended_value_is_named_where_the_amendment_stands(shop: Path) -> None:
    ours = shop / "areas" / "ours.yaml"
    ours.write_text(ours.read_text().replace("2k7", "2k7k"))
    problems = list(circuits(shop).problems())
    assert [(problem.where.file, problem.where.line) for problem in problems] == [(str(ours), 2)]
    assert "parts.R4.ohm" in str(problems[0])


def test_a_circuit_of_a_name_that_is_taken_is_refused(shop: Path) -> None:
    (shop / "circuits" / f"{SHIPPED}.yaml").write_text(find(SHIPPED).read_text())
    problems = load.check(None, [Layer("shop", "shop", shop)])
    assert any("there is a circuit" in str(problem) and "amend" in problem.hint for problem in problems)


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    with pytest.raises(UnknownCircuit, match="Did you mean 'single-ended-6v6gt'"):
        Circuits().find("single-ended-6v6")


def test_the_nearest_circuit_agrees_in_what_matters_most() -> None:
    (name, share), *_ = Circuits().nearest({"output-class": "single-ended", "power-tube": "6V6GT"})
    assert (name, share) == (SHIPPED, 1.0)


def test_every_cause_that_names_faults_of_circuits_has_some() -> None:
    base = shipped_knowledge()
    assert list(unmet(base, Circuits())) == []
    speaking = [cause for cause in base.causes.values() if cause.circuit]
    assert len(speaking) > 90
    cause = speaking[0]
    bent = cause.model_copy(update={"circuit": (cause.circuit[0].model_copy(update={"part": ("screen resistr",)}),)})
    area = next(area for area in base.areas.values() if cause.id in area.causes)
    broken = area.model_copy(update={"causes": {cause.id: bent}})
    from dataclasses import replace

    problems = list(unmet(replace(base, areas={area.area: broken}), Circuits()))
    assert [problem.lint for problem in problems] == ["no-such-fault"]
    assert problems[0].hint == "Did you mean 'screen resistor'?"
