"""The oracle over whatever puts steps and entries in a job: random jobs, and work taken in any order."""

from __future__ import annotations

import pytest

from ..amount import amount
from . import Watching
from .sources import random_job, small_base, taken_anyhow


@pytest.fixture(scope="module")
def small() -> Watching:
    return Watching(small_base())


@pytest.mark.long
def test_nothing_unsafe_is_offered(small: Watching) -> None:
    assert [breach for seed in range(amount(15, 2000)) for breach in random_job(small, seed)] == []


@pytest.mark.long
def test_nothing_unsafe_is_taken_in_whatever_order_it_is_given(small: Watching) -> None:
    assert [breach for seed in range(amount(15, 2000)) for breach in taken_anyhow(small, seed)] == []
