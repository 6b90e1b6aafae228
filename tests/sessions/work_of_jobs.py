"""How much work the sample jobs with repairs take, beside what they took when each stage of work was its own.

`python -m tests.sessions.work_of_jobs` prints the table. The figures of the older order are in work_before.json: the
same files, run before there were set-ups, its changes of stage counted with the minutes of the moves. A hold question
is one screen: a move with all it asks, or a hold that a rule raised.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from chopstick.engine.knowledge import model
from chopstick.engine.reasoning import script
from chopstick.engine.reasoning.log import CANT_TELL, Answer
from chopstick.engine.reasoning.session import Session

HERE = Path(__file__).parent
KB = HERE.parents[1] / "kb"
JOBS = sorted([*HERE.glob("*.yaml"), *(KB / "practice").glob("*.yaml"), KB / "demo.yaml"])


@dataclass(frozen=True)
class Work:
    """What a job took. powered: times that the amp got power; minutes: at the bench; safe: of those, for bringing power
    up in steps and for the last test, which the older order did not have; true: the true causes that were found."""

    repairs: int
    changes: int
    powered: int
    questions: int
    checks: int
    minutes: float
    safe: float
    true: tuple[str, ...]


def before() -> dict[str, Work]:
    """The figures of the older order, by job."""
    kept = json.loads((HERE / "work_before.json").read_text())
    return {job: Work(**{**figures, "true": tuple(figures["true"])}) for job, figures in kept.items()}


def counted(file: script.AnswerFile, session: Session) -> Work:
    """A job run to its end, and counted."""
    run = script.run(file, session, lambda: datetime(2026, 1, 1))
    base, found = run.standing.base, run.standing.ranking.probability
    through = {id_ for move in base.moves.values() for id_ in move.through}
    kinds = [one.step.kind for one in run.happened if one.entries]
    minutes = safe = 0.0
    powered, under_power = 0, False
    for one in run.happened:
        if not one.entries or one.step.kind == "hold":
            continue
        if one.step.kind == "move":
            move = base.moves[one.step.id]
            minutes += move.minutes
            powered += move.blocks in model.POWERED and not under_power
            under_power = move.blocks in model.POWERED
            continue
        if one.step.kind == "repair":
            minutes += base.repairs[one.step.id].minutes
        elif not (isinstance(one.entries[0], Answer) and one.entries[0].answer == CANT_TELL):
            check = base.checks[one.step.id]
            minutes += check.minutes
            safe += check.minutes if check.id in through or check.last else 0.0
    true = tuple(sorted(cause for cause in file.truth if found.get(cause, 0.0) >= 0.8))
    checks = kinds.count("check") + kinds.count("proof")
    moves = kinds.count("move")
    return Work(kinds.count("repair"), moves, powered, moves + kinds.count("hold"), checks, minutes, safe, true)


def both(session: Session, jobs: list[Path] = JOBS) -> Iterator[tuple[str, Work, Work]]:
    """Each job that is in both orders, with what it took before and what it takes now."""
    for path in jobs:
        if path.stem in (kept := before()):
            yield path.stem, kept[path.stem], counted(script.read_answers(path, session), session)


def table(session: Session) -> Iterator[str]:
    """The lines of the table, and the sums."""
    yield f"{'job':44} repairs  changes  powered  questions   checks      minutes   (safe)"
    rows = []
    for job, was, now in both(session):
        rows.append((was, now))
        yield _line(job, was, now) + (
            f"  LOST {set(was.true) - set(now.true)}" if set(was.true) - set(now.true) else ""
        )
    yield _line("all", *(_sum([row[side] for row in rows]) for side in (0, 1)))


def _line(job: str, was: Work, now: Work) -> str:
    pairs = [("repairs", 7), ("changes", 8), ("powered", 8), ("questions", 9), ("checks", 9), ("minutes", 12)]
    cells = [f"{getattr(was, name):.0f}>{getattr(now, name):.0f}".rjust(width) for name, width in pairs]
    return f"{job:44} {' '.join(cells)} {now.safe:8.0f}"


def _sum(works: list[Work]) -> Work:
    names = ("repairs", "changes", "powered", "questions", "checks", "minutes", "safe")
    return Work(**{name: sum(getattr(one, name) for one in works) for name in names}, true=())


if __name__ == "__main__":
    from tests.shipped import shipped_knowledge

    print("\n".join(table(Session(shipped_knowledge()))))
