"""Where an entry stands in the files decides nothing: jobs go the same way when all of them stand in reverse."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning import script
from chopstick.engine.reasoning.check_over import round_of_checks
from chopstick.engine.reasoning.facts_that_matter import facts_that_matter
from chopstick.engine.reasoning.session import Session

from ..shipped import shipped_knowledge

JOBS = sorted(Path(__file__).parent.glob("*.yaml"))[::20]


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return shipped_knowledge()


@pytest.fixture(scope="module")
def reversed_base(base: KnowledgeBase) -> KnowledgeBase:
    def turned(area: model.Area) -> model.Area:
        sections = {name: dict(reversed(getattr(area, name).items())) for name in model.SECTIONS}
        return area.model_copy(update=sections)

    return replace(base, areas={name: turned(area) for name, area in reversed(base.areas.items())})


def test_the_checks_and_repairs_of_a_job_come_in_the_same_order(
    base: KnowledgeBase, reversed_base: KnowledgeBase
) -> None:
    sessions = Session(base), Session(reversed_base)
    for path in JOBS:
        ways = []
        for session in sessions:
            run = script.run(script.read_answers(path, session), session, lambda: datetime(2026, 1, 1))
            ways.append([entry.model_dump() for happened in run.happened for entry in happened.entries])
        assert ways[0] == ways[1], path.name


def test_a_check_over_and_what_is_asked_of_the_amp_are_the_same(
    base: KnowledgeBase, reversed_base: KnowledgeBase
) -> None:
    over = [[check.id for check in round_of_checks(Session(one).read([]), 60)] for one in (base, reversed_base)]
    assert over[0] == over[1]
    for symptom in [*base.symptoms][::9]:
        assert facts_that_matter(base, [symptom]) == facts_that_matter(reversed_base, [symptom])
    holds = [[hold.hold for hold in Session(one).read([]).holds] for one in (base, reversed_base)]
    assert holds[0] == holds[1]
