"""Whether the judge of safe order (tests/safe_order.py) would notice: plans that are wrong on purpose, on the sample jobs.

Each plan here breaks one thing that keeps the work safe. Not every job suffers from it: a job is concerned when its log,
beside that of the right plan, shows that the order really became unsafe, told by a rule of the plan's own and without the
judge. The long run tries every sample job.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning import script
from chopstick.engine.reasoning import session as reading
from chopstick.engine.reasoning.facts import Facts
from chopstick.engine.reasoning.log import Answer, HoldAnswered, Log, LogEntry, Reading, RepairDone
from chopstick.engine.reasoning.plan import Worth
from chopstick.engine.reasoning.steps import HoldState, Plan, Step

from ..amount import amount
from ..safe_order import Watching
from ..shipped import shipped_knowledge
from .test_sample_jobs import JOBS

NEXT, SAFETY, BLOCKED, GATHER = Plan.next, Plan.safety_checks, Plan.blocked_by, reading.gather
Found = Callable[[], list[Worth]]
RAISING = ("import-on-a-travellers-box", "kit-that-hums-three-ways")  # jobs with a hold that a rule raises
Concerned = Callable[[KnowledgeBase, Log, Log], bool]  # the base, the log of the right plan, and that of the wrong one


# --- what is done wrong


def safety_last(self: Plan, found: Found) -> Step:
    step = NEXT(self, found)
    due = SAFETY(self)
    return Step("check", due[0].id) if step.kind == "done" and due else step


def without_raised(self: Plan, found: Found) -> Step:
    return NEXT(replace(self, holds=tuple(hold for hold in self.holds if not hold.rule)), found)


def blocked_by_raised_only(self: Plan, stage: model.Stage) -> HoldState | None:
    return BLOCKED(replace(self, holds=tuple(hold for hold in self.holds if hold.rule)), stage)


def cleared_for_ever(base: KnowledgeBase, log: Log) -> Facts:
    facts = GATHER(base, log)
    ever = {entry.hold: entry.cleared for entry in log if isinstance(entry, HoldAnswered)}
    return replace(facts, holds={**ever, **facts.holds})


# --- the danger, told from the logs


def work(base: KnowledgeBase, log: Log) -> Iterator[tuple[int, model.Stage, str]]:
    """Every piece of work: its place in the log, its stage, and the check, "" for a repair."""
    for place, entry in enumerate(log):
        if isinstance(entry, RepairDone):
            yield place, "cold", ""
        elif isinstance(entry, Answer | Reading) and entry.check in base.checks:
            yield place, base.checks[entry.check].stage, entry.check


def said_yes(log: Log, hold: model.Hold) -> bool:
    return any(isinstance(entry, HoldAnswered) and entry.hold == hold.id and entry.cleared for entry in log)


def of_its_kind(base: KnowledgeBase, stage: model.Stage) -> list[model.Hold]:
    """The standing holds that must be cleared for work of that stage."""
    reach = model.STAGES.index(stage)
    return [
        hold
        for hold in base.holds.values()
        if hold.standing and (hold.blocks == "cold") == (stage == "cold") and model.STAGES.index(hold.blocks) <= reach
    ]


def safety_after_power(base: KnowledgeBase, right: Log, log: Log) -> bool:
    """A safety check that the right plan has before all work under power came after some, or there was work under power
    and it never came."""

    def before_power(log: Log) -> tuple[set[str], bool]:
        found = set()
        for _, stage, check in work(base, log):
            if stage in model.POWERED:
                return found, True
            if check and base.checks[check].safety:
                found.add(check)
        return found, False

    wanted, _ = before_power(right)
    came, powered = before_power(log)
    return powered and not wanted <= came


def without_its_hold(*stages: model.Stage) -> Concerned:
    """Work before its standing hold was ever answered with yes."""

    def came(base: KnowledgeBase, _: Log, log: Log) -> bool:
        return any(
            stage in stages and not all(said_yes(log[:place], hold) for hold in of_its_kind(base, stage))
            for place, stage, _ in work(base, log)
        )

    return came


def raised_and_passed_over(base: KnowledgeBase, right: Log, log: Log) -> bool:
    """Work that a hold of a rule bars came after the entry on which the right plan asked for that hold."""
    for place, entry in enumerate(right):
        if isinstance(entry, HoldAnswered) and not base.holds[entry.hold].standing:
            raising = _check_of(right[place - 1])
            bars = model.STAGES.index(base.holds[entry.hold].blocks)
            done = [n for n, other in enumerate(log) if raising and _check_of(other) == raising]
            if done and any(at > done[0] and model.STAGES.index(stage) >= bars for at, stage, _ in work(base, log)):
                return True
    return False


def _check_of(entry: LogEntry) -> str:
    return entry.check if isinstance(entry, Answer | Reading) else ""


def cold_while_charged(base: KnowledgeBase, _: Log, log: Log) -> bool:
    """Cold work after work under power, with nobody asked in between whether the amp is discharged."""
    charged = False
    for place, entry in enumerate(log):
        if (
            isinstance(entry, HoldAnswered)
            and base.holds[entry.hold].standing
            and base.holds[entry.hold].blocks == "cold"
        ):
            charged = False
        for at, stage, _ in work(base, log[: place + 1]):
            if at == place and charged and stage == "cold":
                return True
            charged = charged or (at == place and stage in model.POWERED)
    return False


# --- the wrong plans


@dataclass(frozen=True)
class Wrong:
    """A plan with one thing wrong. instead: what is put in place of what is right; refused: every hold is answered no."""

    instead: tuple[tuple[object, str, object], ...]
    concerned: Concerned
    refused: bool = False


PLANS = {
    "safety checks come last and gate nothing": Wrong(
        ((Plan, "safety_checks", lambda _: []), (Plan, "next", safety_last)), safety_after_power
    ),
    "cold safety checks gate nothing": Wrong(
        ((Plan, "safety_checks", lambda self: [one for one in SAFETY(self) if one.stage == "look"]),),
        safety_after_power,
    ),
    "no hold bars anything": Wrong(((Plan, "blocked_by", lambda *_: None),), without_its_hold(*model.STAGES)),
    "standing holds bar nothing": Wrong(
        ((Plan, "blocked_by", blocked_by_raised_only),), without_its_hold(*model.STAGES)
    ),
    "nothing bars cold work": Wrong(
        ((Plan, "blocked_by", lambda self, stage: None if stage == "cold" else BLOCKED(self, stage)),),
        without_its_hold("cold"),
    ),
    "nothing bars work under power": Wrong(
        ((Plan, "blocked_by", lambda self, stage: None if stage in model.POWERED else BLOCKED(self, stage)),),
        without_its_hold(*model.POWERED),
    ),
    "what the rules hold is passed over": Wrong(((Plan, "next", without_raised),), raised_and_passed_over),
    "no is as good as yes": Wrong(
        ((Plan, "open_holds", lambda self: tuple(hold for hold in self.holds if hold.answered is None)),),
        without_its_hold(*model.STAGES), refused=True,
    ),
    "what was cleared once stays cleared": Wrong(((reading, "gather", cleared_for_ever),), cold_while_charged),
}  # fmt: skip


@pytest.fixture(scope="module")
def session() -> Watching:
    return Watching(shipped_knowledge())


@pytest.fixture(scope="module")
def right(session: Watching) -> dict[str, tuple[script.AnswerFile, Log]]:
    """Sample jobs, each with the log that the right plan makes of it."""
    chosen = [path for path in JOBS if path.stem in RAISING or path in JOBS[:: amount(20, 1)]]
    files = {path.stem: script.read_answers(path, session) for path in chosen}
    return {name: (file, run(file, session)) for name, file in files.items()}


def run(file: script.AnswerFile, session: Watching) -> Log:
    session.wrong.clear()
    return script.run(file, session, lambda: datetime(2026, 1, 1)).log


@pytest.mark.long
@pytest.mark.parametrize("name", PLANS)
def test_a_wrong_order_is_noticed(
    name: str, session: Watching, right: dict[str, tuple[script.AnswerFile, Log]], monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = PLANS[name]
    for where, what, instead in wrong.instead:
        monkeypatch.setattr(where, what, instead)
    concerned, noticed = [], []
    for job, (file, proper) in right.items():
        log = run(file.model_copy(update={"holds": {}}) if wrong.refused else file, session)
        if wrong.concerned(session.base, proper, log):
            concerned.append(job)
            if session.wrong:
                noticed.append(job)
    print(f"{name}: noticed in {len(noticed)} of {len(concerned)} jobs concerned, of {len(right)}")
    assert concerned, "no job shows what this plan does wrong"
    assert noticed == concerned
