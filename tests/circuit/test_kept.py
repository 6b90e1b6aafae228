"""Dictionaries on the disk: read back the same, made anew when what is kept can't be used or trusted."""

import os
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from chopstick.engine.circuit import dictionary_files, solve
from chopstick.engine.circuit.dictionary import Dictionary, sound_chart
from chopstick.engine.circuit.expected import Expected, Meter
from chopstick.engine.circuit.files import load_archetype
from chopstick.engine.circuit.pairs import Pairs
from chopstick.engine.devices.supply import SupplyCurve, SupplySpec

CIRCUIT = load_archetype("single-ended-6v6gt").circuit


def same(one: Dictionary, other: Dictionary) -> bool:
    arrays = [(getattr(one.expected, field.name), getattr(other.expected, field.name)) for field in fields(Expected)]
    pairs = [(getattr(one.pairs, field.name), getattr(other.pairs, field.name)) for field in fields(Pairs)]
    return all(np.array_equal(*both) for both in [*arrays, *pairs])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("kept")


@pytest.fixture(scope="module")
def made(folder: Path) -> Dictionary:
    return dictionary_files.dictionary(CIRCUIT, folder=folder)


def test_what_is_kept_reads_back_the_same(made: Dictionary, folder: Path) -> None:
    assert len(list(folder.glob("*.npz"))) == 1
    assert same(dictionary_files.dictionary(CIRCUIT, folder=folder), made)


def test_no_supply_is_solved_again(made: Dictionary, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten regulation curves take a tenth of a second, which the first volts of a job would have to wait for."""

    def never(specs: list[SupplySpec]) -> list[SupplyCurve]:
        raise AssertionError(f"{len(specs)} supplies solved again")

    monkeypatch.setattr(solve, "curves", never)
    read = dictionary_files.dictionary(CIRCUIT, folder=folder)
    assert len(read.curves) > 5
    assert all(np.array_equal(one.current_A, two.current_A) for one, two in zip(read.curves, made.curves, strict=True))
    everything = [severity.variant for fault in read.faults for severity in fault.severities]
    assert read.solver.solve(everything).converged.all()


def test_what_was_read_is_not_solved_again(made: Dictionary, tmp_path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted in operating points: reading takes that of the healthy amp alone."""
    solved, right = list[int](), solve.Solver.solve

    def counted(
        self: solve.Solver, variants: Sequence[solve.Variant], near: np.ndarray | None = None, give_up: bool = True
    ) -> solve.Solution:
        solved.append(len(variants))
        return right(self, variants, near, give_up)

    monkeypatch.setattr(solve.Solver, "solve", counted)
    assert same(dictionary_files.dictionary(CIRCUIT, folder=folder), made)
    assert sum(solved) == 1
    dictionary_files.dictionary(CIRCUIT, folder=tmp_path)
    assert sum(solved) > 100


def test_another_value_or_meter_is_another_dictionary(made: Dictionary) -> None:
    other = CIRCUIT.model_copy(update={"title": "another"})
    assert len({dictionary_files.key(CIRCUIT, Meter()), dictionary_files.key(other, Meter()), dictionary_files.key(CIRCUIT, Meter(ohm=1e6))}) == 3


@pytest.mark.parametrize("content", [b"", b"no such thing", b"PK\x03\x04 torn"])
def test_a_torn_file_costs_only_time(made: Dictionary, tmp_path: Path, content: bytes) -> None:
    (tmp_path / f"{dictionary_files.key(CIRCUIT, Meter())}.npz").write_bytes(content)
    assert same(dictionary_files.dictionary(CIRCUIT, folder=tmp_path), made)


def test_a_file_that_others_may_write_is_not_believed(made: Dictionary, tmp_path: Path) -> None:
    path = tmp_path / f"{dictionary_files.key(CIRCUIT, Meter())}.npz"
    np.savez(path, mean=made.expected.mean * 2, covariance=made.expected.covariance, converged=made.expected.converged)
    os.chmod(path, 0o666)
    assert same(dictionary_files.dictionary(CIRCUIT, folder=tmp_path), made)


def test_a_folder_that_cannot_be_written_costs_only_time(made: Dictionary, tmp_path: Path) -> None:
    file = tmp_path / "a-file"
    file.write_text("")
    assert same(dictionary_files.dictionary(CIRCUIT, folder=file), made)


def test_the_sound_chart_is_that_of_the_dictionary(made: Dictionary) -> None:
    quick, whole = sound_chart(CIRCUIT), made.chart()
    for point, (volts, sigma) in whole.items():
        assert quick[point] == (pytest.approx(volts, abs=1e-6), pytest.approx(sigma, rel=1e-6))
