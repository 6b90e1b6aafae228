"""Jobs answered at random, on the shipped knowledge base: never a crash, never an unsafe order, always an end."""

import random
from datetime import datetime

import pytest
from chopstick.engine.knowledge import load, model
from chopstick.engine.knowledge.base import KnowledgeBase, holds_true
from chopstick.engine.knowledge.lint.references import amp_choices
from chopstick.engine.reasoning.log import (
    CANT_TELL,
    NOT_THIS_AMP,
    Answer,
    Complaint,
    HoldAnswered,
    LogEntry,
    Opened,
    Reading,
    RepairDone,
)
from chopstick.engine.reasoning.session import Session, Standing

AT = datetime(2026, 1, 1)
MOST_STEPS = 500


@pytest.fixture(scope="module")
def session() -> Session:
    return Session(load.load())


def random_amp(base: KnowledgeBase, draw: random.Random) -> dict[str, model.AmpValue]:
    amp: dict[str, model.AmpValue] = {}
    for fact in base.amp_facts.values():
        if draw.random() < 0.5:
            choices = amp_choices(base, fact.id)
            amp[fact.id] = draw.choice(choices) if choices else draw.uniform(*(fact.plausible or (1, 2)))
    return amp


def random_answer(check: model.Check, draw: random.Random) -> LogEntry:
    if draw.random() < 0.15:
        return Answer(at=AT, check=check.id, answer=draw.choice([CANT_TELL, NOT_THIS_AMP]))
    if check.answers:
        return Answer(at=AT, check=check.id, answer=draw.choice(list(check.answers)))
    values = {
        name: draw.choice([draw.uniform(*reading.plausible), 0.0, -1e9, 1e12])
        for name, reading in check.readings.items()
        if draw.random() < 0.9
    }
    first = next(iter(check.readings))
    return Reading(at=AT, check=check.id, values=values or {first: check.readings[first].plausible[0]}, believed=True)


def assert_safe(base: KnowledgeBase, standing: Standing, check: model.Check, cleared: set[str], done: set[str]) -> None:
    """Told from the log and the knowledge base alone, without asking the plan."""
    stage = model.STAGES.index(check.stage)
    for hold in standing.holds:
        if hold.rule and model.STAGES.index(hold.hold.blocks) <= stage:
            assert hold.hold.id in cleared, f"{check.id} offered while {hold.hold.id} is open"
    if check.stage != "look":
        mine = [
            hold
            for hold in base.holds.values()
            if hold.standing
            and (hold.blocks == "cold") == (check.stage == "cold")
            and model.STAGES.index(hold.blocks) <= stage
        ]
        assert {hold.id for hold in mine} <= cleared, f"{check.id} offered before its standing holds"
    if check.stage in model.POWERED:
        known = set(standing.facts.latest())
        due = {
            one.id
            for one in base.checks.values()
            if one.safety
            and one.stage not in model.POWERED
            and not known.issuperset(one.findings())  # a look over the whole list has settled it
            and holds_true(one.needs, standing.facts.amp) is not False
            and not ({"kit-built"} & set(one.needs) - set(standing.facts.amp))  # a rare kind, and not known to be one
            and all(
                before in done or holds_true(base.checks[before].needs, standing.facts.amp) is False
                for before in one.after
            )
        }
        assert due <= done, f"{check.id} offered before {due - done}"


@pytest.mark.parametrize("seed", range(16))
def test_a_random_job(session: Session, seed: int) -> None:
    draw = random.Random(seed)
    base = session.base
    log: list[LogEntry] = [Opened(at=AT, title="random", fingerprint=base.fingerprint, amp=random_amp(base, draw))]
    for symptom in draw.sample(sorted(base.symptoms), draw.randint(1, 6)):
        log.append(Complaint(at=AT, says="it does", symptom=symptom))
    cleared: set[str] = set()
    for _ in range(MOST_STEPS):
        standing = session.read(log)
        step = standing.next
        assert standing.ranking.posterior.bound < 0.5
        if step.kind in ("done", "held"):
            break
        if step.kind == "hold":
            yes = draw.random() < 0.8
            log.append(HoldAnswered(at=AT, hold=step.id, cleared=yes))
            cleared = cleared | {step.id} if yes else cleared - {step.id}
        elif step.kind == "repair":
            log.append(RepairDone(at=AT, repair=step.id, cause=step.cause))
            cleared -= {hold.id for hold in base.holds.values() if hold.standing and hold.blocks in model.POWERED}
        else:
            check = base.checks[step.id]
            assert_safe(base, standing, check, cleared, set(standing.facts.done))
            entry = random_answer(check, draw)
            log.append(entry)
            moved = not (isinstance(entry, Answer) and entry.answer == NOT_THIS_AMP)
            if moved and check.stage in model.POWERED:
                cleared -= {hold.id for hold in base.holds.values() if hold.standing and hold.blocks == "cold"}
            elif moved and check.stage == "cold":
                cleared -= {hold.id for hold in base.holds.values() if hold.standing and hold.blocks in model.POWERED}
    else:
        pytest.fail(f"no end within {MOST_STEPS} steps")
    standing = session.read(log)
    for complaint in standing.complaints:
        assert complaint.verdict in ("proven", "repaired", "repair", "checks", "not separable", "not explained")
    assert all(0 <= p <= 1 for p in standing.ranking.probability.values())
    noted = {*base.findings, *base.symptoms}
    assert all({conflict.one, conflict.other} <= noted and conflict.why for conflict in standing.conflicts)
