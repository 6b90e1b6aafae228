"""Jobs answered at random: never a crash, never an unsafe order, always an end; the same log, the same standing."""

from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.reasoning.session import Session

from .random_jobs import play

SMALL = Path(__file__).parent.parent / "cli" / "kb"


@pytest.fixture(scope="module")
def session() -> Session:
    return Session(load.load())


@pytest.mark.parametrize("seed", range(1, 7))
def test_a_random_job(session: Session, seed: int) -> None:
    play(session, seed)


@pytest.mark.parametrize("circuit", ["single-ended-6v6gt", "fixed-bias-2x6v6gt-split-load"])
@pytest.mark.parametrize("seed", range(100, 102))
def test_a_random_job_with_a_circuit(session: Session, seed: int, circuit: str) -> None:
    """No live point before its holds either, and volts of any size do no harm."""
    play(session, seed, circuit)


def test_hundreds_of_random_jobs_on_a_small_base() -> None:
    session = Session(load.load(SMALL))
    played = [play(session, seed) for seed in range(300)]
    assert {one.ended for one in played} == {"done", "held"}
    assert sum(one.live for one in played) > 100, "too few came to the live checks to show anything"


def test_reading_a_log_anew_gives_the_same_standing(session: Session) -> None:
    log = play(session, 1).log
    one, other = session.read(log), Session(session.base).read(log)
    assert one.ranking.probability == other.ranking.probability
    assert (one.next, one.complaints, one.conflicts) == (other.next, other.complaints, other.conflicts)
