"""Trying a rule on jobs: what changes is told, for better or worse against what the amp really had."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from chopstick.engine.jobs.shop import trial
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.knowledge import cache
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.layers import Layer, on_trial
from chopstick.engine.reasoning.log import (
    Answer,
    Closed,
    Complaint,
    HoldAnswered,
    LogEntry,
    Opened,
    Reading,
    RepairDone,
    Undone,
)

from ..shipped import shipped_knowledge

AT = datetime(2026, 2, 1, 10, 0)
ALL_BEST = "clean-and-listen"  # the check that settles a crackling knob


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return shipped_knowledge()


@pytest.fixture(scope="module")
def log(base: KnowledgeBase) -> list[LogEntry]:
    """A knob that crackled, was cleaned, and was quiet afterwards."""
    return [
        Opened(at=AT, title="Small combo", fingerprint=base.fingerprint, amp={"cabinet": "combo"}),
        Complaint(at=AT, says="scratchy pots", symptom="knob-crackle"),
        HoldAnswered(at=AT, hold="discharged", cleared=True),
        Answer(at=AT, check="clean-and-listen", answer="back"),
        Undone(at=AT, number=4),
        Answer(at=AT, check="clean-and-listen", answer="cured"),
        Answer(at=AT, check="swap-guitar-and-lead", answer="can't tell"),
        Reading(at=AT, check="measure-dc-on-control", values={"wiper-dc": 1.5}),
        RepairDone(at=AT, repair="clean-control-track", cause="pot-track-dirty"),
        Answer(at=AT, check="turn-knobs-and-listen", answer="no"),
        Closed(at=AT + timedelta(hours=1), was=("pot-track-dirty",)),
    ]


def test_a_kept_job_becomes_what_its_checks_showed(log: list[LogEntry]) -> None:
    file = trial.as_answers(log)
    assert file.checks == {"clean-and-listen": "cured", "measure-dc-on-control": {"wiper-dc": 1.5}}
    assert file.repairs == {"clean-control-track": {"turn-knobs-and-listen": "no"}}
    assert (file.holds, file.truth, file.amp) == ({"discharged": "yes"}, ("pot-track-dirty",), {"cabinet": "combo"})


def test_kept_jobs_are_found_and_a_spoilt_one_is_left_out(tmp_path: Path, log: list[LogEntry]) -> None:
    (tmp_path / "0002.job").write_text("{}\n")
    store = open_store(tmp_path)
    store.create(*log)  # type: ignore[arg-type]
    assert [case.name for case in trial.kept(store)] == ["job 3: Small combo"]


def rule(tmp_path: Path, then: str, when: str = "{complaint: knob-crackle}") -> Layer:
    path = tmp_path / "ours.yaml"
    path.write_text(f"area: controls\nrules:\n  ours: {{when: {when}, then: [{then}], because: we have seen it}}\n")
    return Layer("trial", "trial", path)


@pytest.fixture(scope="module")
def knob(log: list[LogEntry]) -> tuple[trial.Case, trial.EndOfJob]:
    """A job with no check but listening done, and its end without any rule of ours."""
    case = trial.Case("knob", trial.as_answers([log[0], log[1], log[-1]]))
    return case, trial.run([case], None, (), cache.default_folder())[0]


@pytest.mark.parametrize(
    ("then", "verdict"),
    [
        ("{advice: Look at the knob.}", "changed"),
        ("{raise: pot-track-dirty, by: strongly}", "better"),
        ("{lower: pot-track-dirty, by: strongly}, {raise: pot-track-worn, by: strongly}", "worse"),
    ],
)
def test_better_and_worse_are_against_what_the_amp_had(
    knob: tuple[trial.Case, trial.EndOfJob], tmp_path: Path, then: str, verdict: str
) -> None:
    """A rule that favors what it really had is better, one against it is worse."""
    case, before = knob
    after = trial.run([case], None, (rule(tmp_path, then),))[0]
    told = trial.compared(case, before, after)
    assert told.verdict == verdict, (told.better, told.worse, told.moved)
    assert ("ours" in after.spoken, "ours" in before.spoken) == (True, False)


def test_a_rule_that_does_not_concern_a_job_changes_nothing(log: list[LogEntry], tmp_path: Path) -> None:
    case = trial.Case("knob", trial.as_answers(log))
    layer = rule(tmp_path, "{raise: pot-track-dirty, by: clearly}", "{complaint: reverb-dead}")
    (told,) = trial.trial([case], None, (), (layer,), processes=1)
    assert told.verdict == "same"
    assert told.before == told.after


def test_a_lost_hold_is_worse_whatever_else_is_better() -> None:
    case = trial.Case("plug", trial.AnswerFile(job="x", truth=("a",)))
    before = trial.EndOfJob({"a": 0.2}, ("c",), 30.0, ("no-protective-earth",), ())
    after = trial.EndOfJob({"a": 0.9}, ("c",), 10.0, (), ())
    told = trial.compared(case, before, after)
    assert told.verdict == "worse"
    assert "no longer raised" in told.worse[0]


def test_fewer_minutes_to_the_same_end_are_better() -> None:
    case = trial.Case("knob", trial.AnswerFile(job="x", truth=("a",)))
    told = trial.compared(
        case, trial.EndOfJob({"a": 0.99}, ("c", "d"), 30.0, (), ()), trial.EndOfJob({"a": 0.9}, ("c",), 20.0, (), ())
    )
    assert (told.verdict, told.better) == ("better", ("10 minutes fewer",))


def test_a_file_that_is_in_force_is_held_against_its_absence(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    (shop / "areas").mkdir(parents=True)
    ours = shop / "areas" / "ours.yaml"
    ours.write_text("area: controls\nwords: {knob-crackle: [it goes krrr]}\n")
    layer = Layer("shop", "shop", shop)
    before, after = on_trial(ours, [layer])
    assert (before[0].files(), after[0].files()) == ((), (ours,))
    before, after = on_trial(tmp_path / "new.yaml", [layer])
    assert (before, len(after)) == ((layer,), 2)
