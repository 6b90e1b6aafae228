"""Looking up the reference figures, and what a wrong file is told."""

from __future__ import annotations

import shutil
from importlib import resources
from pathlib import Path

import pytest
from chopstick.engine.reference.errors import KnowledgeError, UnknownName
from chopstick.engine.reference.tables import load, read

KB = Path(str(resources.files("chopstick.kb")))


@pytest.mark.parametrize(
    ("typed", "family", "fitted"),
    [
        ("6v6 gt", "6V6GT", "6V6GT"),
        ("6V6-GTA", "6V6GT", "6V6GTA"),
        ("ECC83", "12AX7", "ECC83"),
        ("12AX7WA", "12AX7", "12AX7"),  # a selection suffix the files do not know
        ("6BQ5", "EL84", "6BQ5"),
    ],
)
def test_any_way_of_writing_a_type(typed: str, family: str, fitted: str) -> None:
    assert load().tube(typed).name == family
    assert load().fitted(typed) == fitted


def test_an_unknown_type_is_answered_with_the_nearest() -> None:
    with pytest.raises(UnknownName, match="6V6"):
        load().tube("6V7")
    with pytest.raises(UnknownName, match="5Y3"):
        load().rectifier("5Y4")


def test_a_type_with_no_rating_of_its_own_takes_its_familys_and_says_so() -> None:
    chosen = load().rating("6SN7GTA")
    assert chosen.value == 2.5
    assert "rating of its family's 6SN7GT" in chosen.why


def test_a_rating_system_that_is_not_on_file_is_answered_with_those_that_are() -> None:
    with pytest.raises(UnknownName, match="design center"):
        load().rating("6V6GT", "absolute maximum")


def test_a_limit_may_come_from_the_next_block() -> None:
    # the current maker's sheet gives no screen watts; the remembered one does
    chosen = load().limit("6L6GC", "screen_W")
    assert chosen.value == 5
    assert not chosen.rating.seen


@pytest.fixture
def kb(tmp_path: Path) -> Path:
    (tmp_path / "reference").mkdir()
    shutil.copy(KB / "sources.yaml", tmp_path)
    for file in (KB / "reference").glob("*.yaml"):
        shutil.copy(file, tmp_path / "reference")
    return tmp_path


def change(file: Path, old: str, new: str) -> int:
    """Replace the first occurrence; give its line."""
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new, 1))
    return text[: text.index(old)].count("\n") + 1


def test_a_slip_in_a_key_is_told_with_its_line(kb: Path) -> None:
    line = change(kb / "reference/tubes.yaml", "plate_W: 1.2", "plate_Watt: 1.2")
    with pytest.raises(KnowledgeError) as error:
        read(kb)
    assert f"kb/reference/tubes.yaml:{line}:" in str(error.value)
    assert "plate_Watt" in str(error.value)


def test_a_source_that_is_not_in_the_bibliography_is_told_with_the_nearest(kb: Path) -> None:
    line = change(kb / "reference/lamps.yaml", "source: lamp-chart", "source: lamp-charts")
    with pytest.raises(KnowledgeError) as error:
        read(kb)
    assert f"kb/reference/lamps.yaml:{line}:" in str(error.value)
    assert "Did you mean 'lamp-chart'?" in str(error.value)


def test_all_problems_are_told_in_one_pass(kb: Path) -> None:
    change(kb / "reference/tubes.yaml", "plate_W: 1.2", "plate_W: plenty")
    change(kb / "reference/rectifiers.yaml", "output_mA: 125", "output_mA: many")
    with pytest.raises(KnowledgeError) as error:
        read(kb)
    assert len(error.value.problems) == 2


def test_an_empty_file_is_told_and_does_not_crash(kb: Path) -> None:
    (kb / "reference/limits.yaml").write_text("# nothing yet\n")
    with pytest.raises(KnowledgeError, match=r"limits\.yaml"):
        read(kb)
