"""Whether the oracle would notice: errors planted in what keeps the work safe, on a small and quick set of jobs."""

from __future__ import annotations

from dataclasses import replace

import pytest
from chopstick.engine.knowledge.base import KnowledgeBase

from ..amount import amount
from . import Breach, Watching
from .errors import ERRORS, Error
from .planting import planted
from .sources import random_job, small_base, taken_anyhow

JOBS = 30


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return small_base()


def noticed(base: KnowledgeBase) -> list[Breach]:
    """The first breaches that the jobs show; the base anew, with nothing worked out yet."""
    session = Watching(replace(base))
    for seed in range(JOBS):
        if breaches := random_job(session, seed) or taken_anyhow(session, seed):
            return breaches
    return []


@pytest.mark.long
@pytest.mark.parametrize("error", ERRORS[:: amount(9, 1)], ids=lambda error: error.what)
def test_a_planted_error_is_noticed(error: Error, base: KnowledgeBase) -> None:
    with planted(error.where, error.old, error.new):
        assert noticed(base), error.what


@pytest.mark.long
def test_without_one_there_is_nothing_to_notice(base: KnowledgeBase) -> None:
    session = Watching(base)
    for seed in range(amount(6, JOBS)):
        assert random_job(session, seed) == []
        assert taken_anyhow(session, seed) == []


def test_there_are_enough_of_them() -> None:
    assert len({(error.where, error.old, error.new) for error in ERRORS}) >= 60


def test_an_error_that_does_not_fit_any_more_is_told() -> None:
    with pytest.raises(ValueError, match="0 times"), planted(noticed, "not in it", ""):
        pass
