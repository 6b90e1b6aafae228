"""Whatever a circuit file says: it is told off, or it is solved, or it is said that it can't be; never a crash."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from chopstick.engine.circuit.chart import NoOperatingPoint, chart
from chopstick.engine.circuit.files import archetypes, load_circuit
from chopstick.engine.reference.errors import KnowledgeError
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .test_files import GOOD

VALUES = st.sampled_from(
    ["0", "-1", "1e300", "1e-300", "nan", "inf", "1", "100M", "0.1u", "null", "[]", "{}", "yes", "chassis", "in", "''", "12AX7", "5Y3GT", "&a", "*a", "!!python/object:os.system"]
)  # fmt: skip
SHIPPED = archetypes()["single-ended-6v6gt"].read_text()  # with an output transformer, mains and claims
WORDS = {text: sorted({word.strip(" ,{}[]:") for word in text.split()} - {""}) for text in (GOOD, SHIPPED)}


@st.composite
def texts(draw: st.DrawFn) -> str:
    """A good file with a few words exchanged, lines left out or doubled, or signs put in."""
    text = good = draw(st.sampled_from((GOOD, SHIPPED)))
    for _ in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(["word", "swap", "line", "double", "sign"]))
        lines = text.splitlines(keepends=True)
        if kind in ("word", "swap"):
            new = draw(VALUES if kind == "word" else st.sampled_from(WORDS[good]))
            text = text.replace(draw(st.sampled_from(WORDS[good])), new, draw(st.integers(1, 3)))
        elif kind == "sign":
            place = draw(st.integers(0, len(text)))
            text = text[:place] + draw(st.text(max_size=3)) + text[place:]
        elif lines:
            at = draw(st.integers(0, len(lines) - 1))
            lines[at : at + 1] = [] if kind == "line" else [lines[at], lines[at]]
            text = "".join(lines)
    return text


@given(text=texts())
@settings(max_examples=amount(30, 800))
def test_a_circuit_file_is_told_off_or_solved(text: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("any") / "amp.yaml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    solved(path)


def test_the_unspoilt_file_is_solved(tmp_path: Path) -> None:
    path = tmp_path / "amp.yaml"
    path.write_text(GOOD)
    assert solved(path)


def solved(path: Path) -> bool:
    """Whether the file gave volts; else it was told off, or said to have no operating point."""
    try:
        circuit = load_circuit(path).circuit
    except KnowledgeError as error:
        assert error.problems
        assert all(problem.message for problem in error.problems)
        return False
    try:
        rows = chart(circuit).rows
    except NoOperatingPoint as error:
        assert str(error)
        return False
    assert all(math.isfinite(row.volts) for row in rows)
    return bool(rows)
