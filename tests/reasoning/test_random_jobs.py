"""Jobs answered at random: never a crash, never an unsafe order, always an end; the same log, the same standing."""

from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.reasoning.session import Session

from ..amount import amount
from ..oracle import Watching
from ..shipped import shipped_knowledge
from .random_jobs import play

SMALL = Path(__file__).parent.parent / "cli" / "kb"


@pytest.fixture(scope="module")
def session() -> Watching:
    return Watching(shipped_knowledge())


@pytest.mark.long
@pytest.mark.parametrize("seed", range(1, amount(3, 150)))
def test_a_random_job(session: Watching, seed: int) -> None:
    play(session, seed)


@pytest.mark.long
@pytest.mark.parametrize("circuit", ["single-ended-6v6gt", "fixed-bias-2x6v6gt-split-load"])
@pytest.mark.parametrize("seed", range(101, amount(102, 121)))
def test_a_random_job_with_a_circuit(session: Watching, seed: int, circuit: str) -> None:
    """No live point before its holds either, and volts of any size do no harm."""
    play(session, seed, circuit)


@pytest.mark.long
def test_many_random_jobs_on_a_small_base() -> None:
    session, count = Watching(load.load(SMALL)), amount(90, 3000)
    played = [play(session, seed) for seed in range(count)]
    assert {one.ended for one in played} == {"done", "held"}
    assert sum(one.live for one in played) > count / 3, "too few came to the live checks to show anything"


def test_reading_a_log_anew_gives_the_same_standing(session: Watching) -> None:
    log = play(session, 1).log
    one, other = session.read(log), Session(session.base).read(log)
    assert one.ranking.probability == other.ranking.probability
    assert (one.next, one.complaints, one.conflicts) == (other.next, other.complaints, other.conflicts)
