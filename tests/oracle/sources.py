"""Whatever puts steps and entries on a small bench, for the oracle to judge: random jobs, and work taken out of order."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

from chopstick.engine.jobs.entering import Given, taken
from chopstick.engine.knowledge import load, model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.healthy import nothing_wrong
from chopstick.engine.reasoning.log import CANT_TELL, LogEntry, Opened

from ..reasoning.random_jobs import AT, Bench
from . import Breach, Watching

SMALL = Path(__file__).parent / "kb"
MOST_STEPS = 60


def small_base() -> KnowledgeBase:
    """A small bench: each kind of stage, of hands and of danger once or twice."""
    return load.load(SMALL)


def random_job(session: Watching, seed: int, willing: float = 1.0) -> list[Breach]:
    """The first breaches in what a job offers that is answered at random; none when it comes to its end."""
    session.wrong.clear()
    draw = random.Random(seed)
    bench = Bench(session.base, draw, hostile=seed % 3 == 2, healthy=draw.choice([0.5, 0.8, 0.95]))
    bench.willing = willing
    for _ in range(MOST_STEPS):
        now = session.read(bench.log)
        if session.wrong or now.next.kind in ("done", "held"):
            break
        bench.answer(now)
    return list(session.wrong)


def taken_anyhow(session: Watching, seed: int) -> list[Breach]:
    """The breaches in what is entered when work and moves are given in any order, several at once, over and over."""
    draw, log = random.Random(seed), [Opened(at=AT, title="taken", fingerprint=session.base.fingerprint)]
    healthy = draw.choice([0.5, 0.8, 1.0])
    wanted = [*_every(session.base), *draw.sample(list(_every(session.base)), 8)]
    draw.shuffle(wanted)
    for _ in range(3):  # what was barred may be let through later
        for start in range(0, len(wanted), 4):
            given = _given(session.base, draw, healthy, wanted[start : start + draw.choice([1, 4])])
            got = taken(session, log, given, AT)
            if breaches := session.oracle.walk([*log, *got.entries], start=len(log)):
                return breaches
            log += got.entries
    return []


def _every(base: KnowledgeBase) -> Iterator[model.Work]:
    yield from base.written.values()
    yield from base.repairs.values()


def _given(base: KnowledgeBase, draw: random.Random, healthy: float, wanted: list[model.Work]) -> Given:
    """One line of `take`: some work, and now and then the moves and holds, the volts right or wrong."""
    moves = [(id_, True) for id_ in base.holds if draw.random() < 0.7]
    return Given(
        holds=moves if draw.random() < 0.8 else [],
        volts=[draw.choice([2.0, 2.0, 2.0, 300.0])],
        repairs=[(one.id, _cause(base, one.id)) for one in wanted if isinstance(one, model.Repair)],
        values=[(one.id, _shown(base, draw, healthy, one)) for one in wanted if isinstance(one, model.Check)],
        undo=draw.random() < 0.1,
        believe=True,
    )


def _cause(base: KnowledgeBase, repair: str) -> str:
    return next(cause.id for cause in base.causes.values() if repair in cause.repairs)


def _shown(base: KnowledgeBase, draw: random.Random, healthy: float, check: model.Check) -> object:
    if draw.random() < healthy:
        return nothing_wrong(base, check)
    if check.answers:
        return draw.choice([*check.answers, CANT_TELL])
    return {name: draw.uniform(*reading.plausible) for name, reading in check.readings.items()}


def entered(session: Watching, log: list[LogEntry], **given: object) -> list[LogEntry]:
    """What `take` makes of it after a log; none when it is barred or wrong."""
    return list(taken(session, log, Given(believe=True, **given), AT).entries)  # type: ignore[arg-type]
