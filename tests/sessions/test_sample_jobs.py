"""Whole jobs: what the player says, what each check would show, and how the session must end.

Every YAML file in this folder and in kb/practice is one job, run through the real session. Each true cause must end at 80 percent or
more, or be named as not yet separable together with the check that would separate it.
"""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest
from chopstick.engine.reasoning import script
from chopstick.engine.reasoning.words import matches

from ..oracle import Breach, Watching
from ..shipped import shipped_knowledge

HERE = Path(__file__).parent
JOBS = sorted([*HERE.glob("*.yaml"), *(HERE.parents[1] / "kb" / "practice").glob("*.yaml")])


@dataclass(frozen=True)
class Job:
    """A sample job that was run to its end. wrong: what was unsafe of a step when it was offered."""

    file: script.AnswerFile
    run: script.Run
    wrong: tuple[Breach, ...]


@pytest.fixture(scope="module")
def session() -> Watching:
    return Watching(shipped_knowledge())


@pytest.fixture(scope="module", params=JOBS, ids=[path.stem for path in JOBS])
def job(request: pytest.FixtureRequest, session: Watching) -> Job:
    return play(script.read_answers(request.param, session), session)


def play(file: script.AnswerFile, session: Watching) -> Job:
    session.wrong.clear()
    run = script.run(file, session, lambda: datetime(2026, 1, 1))
    return Job(file, run, tuple(session.wrong))


def test_every_true_cause_is_found_or_named_as_not_separable(job: Job) -> None:
    file, run = job.file, job.run
    probability = run.standing.ranking.probability
    for cause in file.truth:
        held = next((one for one in file.expect.inseparable if cause in one.causes), None)
        if held is None:
            assert probability[cause] >= 0.8, f"{cause} ended at {probability[cause]:.0%}"
            continue
        assert any(
            complaint.verdict == "not separable"
            and complaint.separating == held.by
            and set(held.causes) <= {candidate.cause for candidate in complaint.candidates}
            for complaint in run.standing.complaints
        ), f"{held.causes} are not named as not separable by {held.by}"


def test_ends_as_expected(job: Job) -> None:
    file, run = job.file, job.run
    standing, expect = run.standing, file.expect
    probability = standing.ranking.probability
    assert {cause: probability[cause] for cause in expect.likely if probability[cause] < 0.8} == {}
    assert {cause: probability[cause] for cause in expect.not_likely if probability[cause] >= 0.5} == {}
    raised = {hold.hold for hold in standing.holds if hold.rule}
    asked = {step.id for step in (one.step for one in run.happened) if step.kind == "hold"}
    assert set(expect.holds) <= raised | asked
    assert expect.ends_in_hold or standing.next.kind != "held", "no repair is left that would end the hold"
    assert not expect.ends_in_hold or run.end.kind == "held"
    verdicts = {complaint.symptom: complaint.verdict for complaint in standing.complaints}
    assert {verdicts[symptom] for symptom in expect.not_explained} <= {"not explained"}
    if expect.contradiction:
        named = [{conflict.one, conflict.other} for conflict in standing.conflicts]
        assert set(expect.contradiction) in named, f"named instead: {named}"


def test_no_complaint_is_called_unexplained_when_what_was_mended_explains_it(job: Job) -> None:
    now = job.run.standing
    mended = {one.cause for one in now.facts.repairs}
    for one in now.complaints:
        if one.verdict == "not explained" and mended & {candidate.cause for candidate in one.candidates}:
            assert one.unexplained >= 0.5, one.says


def test_nothing_unsafe_was_offered(job: Job) -> None:
    """At no step: no cold work before the amp is known to be discharged; nothing under power while a hold that bars it is
    open or a look or cold check that bears on safety is still to be done. What the oracle would notice: test_wrong_orders."""
    assert job.wrong == ()


def test_the_players_words_lead_to_the_symptom(job: Job, session: Watching) -> None:
    for told in job.file.complaints:
        if told.symptom is not None:
            offered = [match.symptom for match in matches(session.base, told.says)]
            assert told.symptom in offered, f"'{told.says}' offers {offered}"


def test_there_are_enough_jobs(session: Watching) -> None:
    files = [script.read_answers(path, session) for path in JOBS]
    assert len(files) >= 15
    assert sum(len(file.truth) >= 5 for file in files) >= 3
    assert sum(bool(file.expect.contradiction) for file in files) >= 2
    assert sum(file.expect.ends_in_hold for file in files) >= 2
    assert sum(bool(file.expect.not_likely) for file in files) >= 3, "misleading complaints name their decoy"
