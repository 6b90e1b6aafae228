"""Jobs answered at random, hostile ones among them: what must hold in each, whatever is said.

`python -m tests.reasoning.random_jobs 10000 [FOLDER]` plays that many on the shipped knowledge base, or on the one in
FOLDER, in processes that are recycled. The tests play a few of them each time, many on a small base, and thousands in
the long run.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.lint.references import amp_choices
from chopstick.engine.reasoning import answers
from chopstick.engine.reasoning.healthy import nothing_wrong
from chopstick.engine.reasoning.log import (
    CANT_TELL,
    NOT_THIS_AMP,
    AmpFactsTold,
    Answer,
    CircuitChosen,
    Complaint,
    LogEntry,
    Note,
    Opened,
    Reading,
    RepairDone,
    Undone,
    last_undoable,
)
from chopstick.engine.reasoning.session import Standing

from ..answering import hold_answered
from ..oracle import Watching

AT = datetime(2026, 1, 1)
MOST_STEPS = 500
VERDICTS = ("proven", "repaired", "repair", "checks", "not separable", "not explained")


@dataclass
class Played:
    """A job that came to its end. live: checks offered under power."""

    log: list[LogEntry]
    ended: str
    steps: int
    live: int = 0


def play(session: Watching, seed: int, circuit: str = "") -> Played:
    """One job from complaints to its end, on a known circuit if one is named. Raises AssertionError where something
    does not hold."""
    session.wrong.clear()
    draw = random.Random(seed)
    bench = Bench(session.base, draw, hostile=draw.random() < 0.5, healthy=draw.choice([0.0, 0.8, 0.97]))
    if circuit:
        bench.log.append(CircuitChosen(at=AT, circuit=circuit))
    played = Played(bench.log, "", 0)
    for played.steps in range(MOST_STEPS):
        standing = session.read(bench.log)
        step = standing.next
        assert 0 <= standing.ranking.posterior.bound <= 1
        assert session.wrong == [], f"seed {seed}: {session.wrong[0]}"
        if step.kind in ("done", "held"):
            break
        if step.kind in ("check", "proof"):
            played.live += standing.base.checks[step.id].stage in model.POWERED
        bench.answer(standing)
    else:
        raise AssertionError(f"seed {seed}: no end within {MOST_STEPS} steps")
    played.ended = step.kind
    standing = session.read(bench.log)
    assert_whole(standing.base, standing)
    return played


@dataclass
class Bench:
    """Who answers. healthy: how often a check shows nothing wrong, instead of anything. willing: how often a hold is
    confirmed; one that is not ends the job there."""

    base: KnowledgeBase
    draw: random.Random
    hostile: bool
    log: list[LogEntry] = field(default_factory=list)
    mischief: int = 0
    willing: float = 1.0
    healthy: float = 0.0

    def __post_init__(self) -> None:
        self.willing = self.draw.choice([0.8, 1.0, 1.0])
        opened = Opened(at=AT, title="random", fingerprint=self.base.fingerprint, amp=self._amp())
        symptoms = self.draw.sample(sorted(self.base.symptoms), self.draw.randint(1, min(6, len(self.base.symptoms))))
        self.log += [opened, *(Complaint(at=AT, says="it does", symptom=one) for one in symptoms)]

    def answer(self, standing: Standing) -> None:
        """One more entry: what is asked for or, on a hostile bench, now and then something else."""
        step = standing.next
        if self.hostile and self.mischief < 25 and self.draw.random() < 0.2:
            self.mischief += 1
            self.log.append(self._mischief(standing))
        elif step.kind in ("hold", "move"):
            volts = self.draw.choice([0.0, 3.0, 49.0]) if self.draw.random() < 0.9 else 380.0
            self.log.append(hold_answered(standing, step, AT, self.draw.random() < self.willing, volts))
        elif step.kind == "repair":
            self.log.append(RepairDone(at=AT, repair=step.id, cause=step.cause))
        else:
            self.log.append(self._check(standing.base.checks[step.id]))

    def _mischief(self, standing: Standing) -> LogEntry:
        """What nobody asked for: things taken back, changed, contradicted, out of turn, or of another knowledge base."""
        draw, base = self.draw, self.base
        last = last_undoable(self.log)
        done = [id_ for id_ in standing.facts.done if id_ in base.checks]
        possible: list[LogEntry] = [
            Note(at=AT, text="\x1b[2J\u202e; DROP TABLE jobs --"),
            AmpFactsTold(at=AT, amp=self._amp()),
            Complaint(at=AT, says="and this", symptom=draw.choice(sorted(base.symptoms))),
            Answer(at=AT, check="no-such-check", answer="yes"),
            Answer(at=AT, check=draw.choice(sorted(base.checks)), answer="no such answer"),
            RepairDone(at=AT, repair="no-such-repair", cause="no-such-cause"),
            self._check(base.checks[draw.choice(done or sorted(base.checks))]),
        ]
        if last is not None:
            possible.append(Undone(at=AT, number=draw.choice([last, draw.randint(2, len(self.log))])))
        return draw.choice(possible)

    def _check(self, check: model.Check) -> LogEntry:
        draw, base = self.draw, self.base
        if draw.random() < 0.15:
            return Answer(at=AT, check=check.id, answer=draw.choice([CANT_TELL, NOT_THIS_AMP]))
        if self.healthy and draw.random() < self.healthy:
            return answers.entry(check, nothing_wrong(base, check), AT, believed=True)
        if check.answers:
            return Answer(at=AT, check=check.id, answer=draw.choice(list(check.answers)))
        values = {
            name: draw.choice([draw.uniform(*reading.plausible), 0.0, -1e9, 1e12])
            for name, reading in check.readings.items()
            if draw.random() < 0.9
        }
        first = next(iter(check.readings))
        values = values or {first: check.readings[first].plausible[0]}
        return Reading(at=AT, check=check.id, values=values, believed=True)

    def _amp(self) -> dict[str, model.AmpValue]:
        return amp_of(self.base, self.draw)


def amp_of(base: KnowledgeBase, draw: random.Random) -> dict[str, model.AmpValue]:
    """Half of what may be told of an amp, at random."""
    amp: dict[str, model.AmpValue] = {}
    for fact in base.amp_facts.values():
        if draw.random() < 0.5:
            choices = amp_choices(base, fact.id)
            amp[fact.id] = draw.choice(choices) if choices else draw.uniform(*(fact.plausible or (1, 2)))
    return amp


def assert_whole(base: KnowledgeBase, standing: Standing) -> None:
    """What a job's end must have, whatever was said."""
    for complaint in standing.complaints:
        assert complaint.verdict in VERDICTS
    assert all(0 <= p <= 1 for p in standing.ranking.probability.values())
    noted = {*base.findings, *base.symptoms}
    assert all({conflict.one, conflict.other} <= noted and conflict.why for conflict in standing.conflicts)


def _portion(seeds: range, root: Path | None) -> Counter[str]:
    from chopstick.engine.knowledge import load

    session = Watching(load.load(root))
    told: Counter[str] = Counter()
    for seed in seeds:
        played = play(session, seed)
        told.update({"jobs": 1, "entries": len(played.log), "under power": played.live, f"ended {played.ended}": 1})
    return told


def main(count: int, root: Path | None = None, at_once: int = 50) -> None:
    """Play that many jobs; every process plays a portion and ends, since the rule engine gives no memory back."""
    from concurrent.futures import ProcessPoolExecutor

    told = Counter[str]()
    portions = [range(start, min(start + at_once, count)) for start in range(0, count, at_once)]
    with ProcessPoolExecutor(max_tasks_per_child=1) as pool:
        for portion in pool.map(_portion, portions, [root] * len(portions)):
            told += portion
            print(dict(told), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100, Path(sys.argv[2]) if len(sys.argv) > 2 else None)
