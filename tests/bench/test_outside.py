"""Every subject of the bench is held against something from outside this project."""

from pathlib import Path

import pytest
from chopstick.engine.bench import catalogue

OUTSIDE = [
    *Path(__file__).parents[1].glob("published/test_*.py"),
    *Path(__file__).parents[1].glob("peers/test_*.py"),
]


@pytest.mark.parametrize("subject", catalogue.subjects())
def test_a_published_figure_or_an_independent_program_stands_against_it(subject: str) -> None:
    assert any(f"{subject}." in file.read_text() for file in OUTSIDE)
