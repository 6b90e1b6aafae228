"""Jobs worked on at random by two benches that are killed now and then: no entry lost, no unsafe order, always an end."""

from __future__ import annotations

from collections import Counter

import pytest
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning.session import Session

from ..amount import amount
from .bench import SMALL
from .random_sessions import play


@pytest.mark.long
def test_sessions_on_a_small_base() -> None:
    base = load(SMALL)
    sessions = (Session(base), Session(base))
    told: Counter[str] = Counter()
    for seed in range(1, 1 + amount(12, 1000)):
        told += play(sessions, seed)
    assert told["ended done"] + told["ended held"] == told["jobs"]
    assert told["kept"] > 3 * told["jobs"]
    assert told["killed"] > 0
    assert told["asked, since the other bench did the same"] > 0
