"""Calculations are found by convention and by nothing else."""

from __future__ import annotations

import pytest
from chopstick.engine.bench import bias, catalogue, supply
from chopstick.engine.bench.catalogue import UnknownFigure


def test_a_calculation_is_found_by_subject_and_name() -> None:
    assert catalogue.find("bias.plate_dissipation_percent") is bias.plate_dissipation_percent


def test_a_slip_is_answered_with_the_nearest_name() -> None:
    with pytest.raises(UnknownFigure, match=r"bias\.plate_dissipation_percent"):
        catalogue.find("bias.plate_disipation_percent")


@pytest.mark.parametrize(
    "name",
    [
        "os.system",
        "bias.figure",
        "bias.nearest",  # imported there, not its own
        "bias.load",
        "bias._across",
        "figure.positive",
        "notation.parse",
        "coupling.corner",  # plain arithmetic, no Figure
        "bias.__class__",
        "..reference.tables.load",
        "bias",
        "",
        "bias.plate_dissipation_percent.__globals__",
    ],
)
def test_nothing_else_can_be_reached_by_name(name: str) -> None:
    with pytest.raises(UnknownFigure, match="no calculation called"):
        catalogue.find(name)


def test_what_a_calculation_takes() -> None:
    taken = {parameter.name: parameter for parameter in catalogue.parameters(bias.plate_dissipation_percent)}
    assert taken["plate_V"].unit == "V"
    assert taken["plate_V"].required
    assert taken["screen_mA"].unit == "mA"
    assert not taken["screen_mA"].required
    assert taken["tube"].word
    assert catalogue.unit(bias.plate_dissipation_percent) == "percent"


def test_every_subject_has_a_line_about_itself() -> None:
    for subject, line in catalogue.subjects().items():
        assert line.endswith("."), subject


def test_a_slip_brings_up_to_three_names_near_it_or_says_where_to_look() -> None:
    with pytest.raises(UnknownFigure, match=r"nearest: (\S+, ){2}\S+$"):
        catalogue.find("bias.plate_disipation")
    with pytest.raises(UnknownFigure, match="subjects: bias, "):
        catalogue.find("?")


def test_a_calculation_is_found_in_its_own_module_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bias, "dropper_W", supply.dropper_W, raising=False)
    monkeypatch.setattr(supply, "sense_current_mA", bias.sense_current_mA, raising=False)
    catalogue._all.cache_clear()
    try:
        assert not {"bias.dropper_W", "supply.sense_current_mA"} & set(catalogue.names())
    finally:
        catalogue._all.cache_clear()
