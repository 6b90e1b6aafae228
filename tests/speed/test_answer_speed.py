"""From an answer typed at the bench to the next question on the screen, on the shipped knowledge: kept on the disk,
judged, ranked, planned, told and shown. Counted in processor time."""

from __future__ import annotations

import io
import random
import time
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from chopstick.cli.screen.plain_pages import Lines
from chopstick.cli.screen.prompts import Ended, Prompt
from chopstick.cli.screen.screen import Screen
from chopstick.cli.sitting.bench_sitting import Sitting
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.knowledge import cache
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.healthy import nothing_wrong
from chopstick.engine.reasoning.log import Complaint, Opened
from chopstick.engine.reasoning.session import Session

from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed
AT = datetime(2026, 1, 1)
MOST = 60  # answers


class Typist(Prompt):
    """Types at once what is answered, and counts the processor time until it is asked again."""

    def __init__(self, answer: Callable[[str], str]) -> None:
        super().__init__(Screen(io.StringIO()))
        self.answer, self.taken, self._begun = answer, list[float](), 0.0

    def ask(self, message: str, words: Sequence[str] = ()) -> str:
        del words
        if self._begun:
            self.taken.append(time.process_time() - self._begun)
        if len(self.taken) >= MOST:
            raise Ended
        typed = self.answer(message)
        self._begun = time.process_time()
        return typed


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> KnowledgeBase:
    return cache.load(folder=tmp_path_factory.mktemp("kept"))


def answers(base: KnowledgeBase, folder: Path, number: int, contrary: bool) -> list[float]:
    """Seconds from each answer of a job to the next question. Four faults are there at once, drawn at random, each
    complained of; every check is answered as they would have it, or, by a contrary person, at random."""
    draw = random.Random(number)
    truth = draw.sample([cause for cause in base.causes.values() if base.symptoms.keys() & cause.shows], 4)
    shown = {finding for cause in truth for finding in cause.shows}
    first = sorted({next(finding for finding in cause.shows if finding in base.symptoms) for cause in truth})
    opened = Opened(at=AT, title="speed", fingerprint=base.fingerprint)
    complaints = [Complaint(at=AT, says=id_, symptom=id_) for id_ in first]
    job = open_store(folder / "jobs").create(opened, *complaints)

    def answer(message: str) -> str:
        step = sitting.read().next
        if step.kind == "move":
            return "2" if base.moves[step.id].volts else "yes"
        if step.kind in ("hold", "held"):
            return "yes" if step.kind == "hold" else "no"
        if step.kind == "repair":
            return "done"
        check = base.checks[step.id]
        if not check.answers:
            typed = nothing_wrong(base, check) if check.safety else "skip"
            return " ".join(f"{value:g}" for value in typed.values()) if isinstance(typed, dict) else typed
        if contrary:
            return draw.choice(list(check.answers))
        fitting = (key for key, one in check.answers.items() if shown.intersection(one.findings))
        return next(fitting, next((key for key, one in check.answers.items() if not one.findings), "skip"))

    typist = Typist(answer)
    sitting = Sitting(job, Session(base, "senior"), Lines(typist.screen, typist), "senior")
    sitting.run()
    return typist.taken[1:]  # the first compiles the rules


@pytest.mark.usefixtures("at_the_bench")
@pytest.mark.parametrize("contrary", [False, True], ids=["true", "contrary"])
def test_an_answer_to_the_next_question(base: KnowledgeBase, tmp_path: Path, contrary: bool, row: Row) -> None:
    taken = [one for number in range(4) for one in answers(base, tmp_path, number, contrary)]
    how = "answers that contradict each other" if contrary else "four faults at once"
    row(
        f"answer to next check, {how} ({len(taken)} answers)",
        f"median {np.median(taken) * 1e3:.0f} ms, 95 in 100 within {np.quantile(taken, 0.95) * 1e3:.0f} ms, "
        f"slowest {max(taken) * 1e3:.0f} ms",
        "50 ms; 95 in 100 within twice that",
    )
    assert len(taken) > 60
    assert np.median(taken) < within(0.050)
    assert np.quantile(taken, 0.95) < within(0.100)
