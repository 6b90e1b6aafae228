"""A player's sentence, understood at every key that is typed."""

import time

import pytest
from chopstick.engine.reasoning.words import understood

from ..shipped import shipped_knowledge
from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed
SAID = "no hum, but the volume pot is scratchy, the reverb comes and goes, and it blows a fuse when it gets warm"


def test_a_sentence_at_every_key(row: Row) -> None:
    base = shipped_knowledge()
    understood(base, SAID)
    begun = time.process_time()
    for end in range(1, len(SAID) + 1):
        understood(base, SAID[:end])
    each = (time.process_time() - begun) / len(SAID)
    row("a player's sentence understood, a key", f"{1000 * each:.1f} ms", "20 ms")
    assert each < within(0.02)
