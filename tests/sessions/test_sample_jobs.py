"""Whole jobs: what the player says, what each check would show, and how the session must end.

Every YAML file in this folder and in kb/practice is one job, run through the real session. Each true cause must end at 80 per cent or
more, or be named as not yet separable together with the check that would separate it.
"""

from datetime import datetime
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.model import POWERED
from chopstick.engine.reasoning import script
from chopstick.engine.reasoning.log import Answer, HoldAnswered, Reading
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.words import matches

HERE = Path(__file__).parent
JOBS = sorted([*HERE.glob("*.yaml"), *(HERE.parents[1] / "kb" / "practice").glob("*.yaml")])


@pytest.fixture(scope="module")
def session() -> Session:
    return Session(load.load())


@pytest.fixture(scope="module", params=JOBS, ids=[path.stem for path in JOBS])
def job(request: pytest.FixtureRequest, session: Session) -> tuple[script.AnswerFile, script.Run]:
    file = script.read_answers(request.param, session)
    return file, script.run(file, session, lambda: datetime(2026, 1, 1))


def test_every_true_cause_is_found_or_named_as_not_separable(job: tuple[script.AnswerFile, script.Run]) -> None:
    file, run = job
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


def test_ends_as_expected(job: tuple[script.AnswerFile, script.Run]) -> None:
    file, run = job
    standing, expect = run.standing, file.expect
    probability = standing.ranking.probability
    assert {cause: probability[cause] for cause in expect.likely if probability[cause] < 0.8} == {}
    assert {cause: probability[cause] for cause in expect.not_likely if probability[cause] >= 0.5} == {}
    raised = {hold.hold for hold in standing.holds if hold.rule}
    assert set(expect.holds) <= raised
    assert (standing.next.kind == "held") == expect.ends_in_hold
    verdicts = {complaint.symptom: complaint.verdict for complaint in standing.complaints}
    assert {verdicts[symptom] for symptom in expect.not_explained} <= {"not explained"}
    if expect.contradiction:
        named = [{conflict.one, conflict.other} for conflict in standing.conflicts]
        assert set(expect.contradiction) in named, f"named instead: {named}"


def test_no_complaint_is_called_unexplained_when_what_was_mended_explains_it(
    job: tuple[script.AnswerFile, script.Run],
) -> None:
    now = job[1].standing
    mended = {one.cause for one in now.facts.repairs}
    for one in now.complaints:
        if one.verdict == "not explained" and mended & {candidate.cause for candidate in one.candidates}:
            assert one.unexplained >= 0.5, one.says


def test_nothing_unsafe_was_offered(job: tuple[script.AnswerFile, script.Run]) -> None:
    """No cold work before the amp is known to be discharged; nothing under power while a hold that bars it is open
    or a look or cold check that bears on safety is still to be done."""
    _, run = job
    base = run.standing.base
    cleared: set[str] = set()
    done: set[str] = set()
    for happened in run.happened:
        if not happened.entries:
            continue
        entry = happened.entries[0]
        if isinstance(entry, HoldAnswered):
            cleared = cleared | {entry.hold} if entry.cleared else cleared - {entry.hold}
        elif isinstance(entry, Answer | Reading):
            check = base.checks[entry.check]
            if check.stage != "look":
                standing_holds = {
                    hold.id
                    for hold in base.holds.values()
                    if hold.standing and (hold.blocks == "cold") == (check.stage == "cold")
                }
                assert check.stage not in POWERED or standing_holds & cleared
            if check.stage in POWERED:
                due = {one.id for one in run.standing.plan.safety_checks()} - done
                assert not due, f"{check.id} was offered before {due}"
            done.add(check.id)


def test_the_players_words_lead_to_the_symptom(job: tuple[script.AnswerFile, script.Run], session: Session) -> None:
    file, _ = job
    for told in file.complaints:
        if told.symptom is not None:
            offered = [match.symptom for match in matches(session.base, told.says)]
            assert told.symptom in offered, f"'{told.says}' offers {offered}"


def test_there_are_enough_jobs(session: Session) -> None:
    files = [script.read_answers(path, session) for path in JOBS]
    assert len(files) >= 15
    assert sum(len(file.truth) >= 5 for file in files) >= 3
    assert sum(bool(file.expect.contradiction) for file in files) >= 2
    assert sum(file.expect.ends_in_hold for file in files) >= 2
    assert sum(bool(file.expect.not_likely) for file in files) >= 3, "misleading complaints name their decoy"
