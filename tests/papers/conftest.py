"""A job on the small bench of the command line's tests, at its beginning and at its end, and its papers."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from chopstick.cli.papers.checklist import check_over, checklist
from chopstick.cli.papers.estimate import estimate
from chopstick.cli.papers.handback import hand_back
from chopstick.cli.papers.intake import intake
from chopstick.cli.papers.record import record
from chopstick.cli.papers.work import work_order
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning.log import LogEntry
from chopstick.engine.reasoning.script import read_answers, run
from chopstick.engine.reasoning.session import Session

from ..jobs.bench import plain, priced, shop  # the same small bench with a shop's prices

__all__ = ["plain", "priced", "shop"]
HERE = Path(__file__).parents[1] / "cli"


def clock() -> Callable[[], datetime]:
    times = iter(datetime(2026, 3, 2, 9, tzinfo=UTC) + timedelta(minutes=4 * step) for step in range(1000))
    return lambda: next(times)


@pytest.fixture(scope="session")
def session() -> Session:
    return Session(load(HERE / "kb"))


@pytest.fixture(scope="session")
def log(session: Session) -> list[LogEntry]:
    """The whole log of a job: two complaints, both cured."""
    return list(run(read_answers(HERE / "job.yaml", session), session, clock()).log)


@pytest.fixture(scope="session")
def begun(log: list[LogEntry]) -> list[LogEntry]:
    """The same job with nothing but its complaints."""
    return log[:3]


@pytest.fixture(scope="session")
def papers(session: Session, log: list[LogEntry], begun: list[LogEntry]) -> dict[str, Any]:
    """Every paper of the job, by its kind."""
    start, end = session.read(begun), session.read(log)
    half = log[: next(n for n, one in enumerate(log) if one.kind == "repair")]
    return {
        "intake": intake(session.base),
        "check-over": check_over(start),
        "checklist": checklist(start, begun, 7),
        "estimate": estimate(session.read(half), half, 7),
        "work-order": work_order(session.read(half), half, 7),
        "hand-back": hand_back(end, log, 7),
        "record": record(end, log, 7),
    }
