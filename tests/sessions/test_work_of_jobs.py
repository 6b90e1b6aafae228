"""Set-ups and rounds against the order by stages alone, over the sample jobs whose repairs are carried out."""

import pytest
from chopstick.engine.reasoning.session import Session

from ..amount import LONG
from ..shipped import shipped_knowledge
from . import work_of_jobs


@pytest.mark.long
def test_no_true_cause_is_lost_and_power_goes_on_less_often() -> None:
    many = [job for job, was in work_of_jobs.before().items() if was.repairs >= 4]
    jobs = [path for path in work_of_jobs.JOBS if LONG or path.stem in many]
    rows = list(work_of_jobs.both(Session(shipped_knowledge()), jobs))
    assert len(rows) >= (15 if LONG else len(many))
    assert {job: set(was.true) - set(now.true) for job, was, now in rows if set(was.true) - set(now.true)} == {}
    # Of one fault the older order had less to do: it knew no steps up to full power, and no last test.
    several = [(was, now) for _, was, now in rows if was.repairs >= 4]
    assert sum(now.powered for _, now in several) <= 0.65 * sum(was.powered for was, _ in several)
    assert sum(now.changes for _, now in several) <= 0.65 * sum(was.changes for was, _ in several)
    assert sum(now.questions for _, now in several) <= sum(was.questions for was, _ in several)
