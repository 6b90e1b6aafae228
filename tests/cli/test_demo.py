"""The demo is a real job: five unrelated faults, found and proven by the engine from the shipped knowledge base."""

from __future__ import annotations

import pytest
from chopstick.engine.knowledge.load import load, shipped
from chopstick.engine.reasoning.script import AnswerFile, read_answers
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reports.standing import StandingOfJob

from .conftest import Ran, Run


@pytest.fixture(scope="module")
def file() -> AnswerFile:
    return read_answers(shipped() / "demo.yaml", Session(load()))


@pytest.fixture
def text(process: Run) -> Ran:
    return process("demo")


def test_every_fault_is_found_and_proven(file: AnswerFile, run: Run) -> None:
    ran = run("demo", "--json", kb=None)
    assert ran.code == 0
    StandingOfJob.model_validate(ran.json)
    assert len(file.truth) >= 5
    probability = {one["cause"]: one["probability"] for one in ran.json["ranking"]}
    assert all(probability[cause] >= 0.8 for cause in file.truth)
    assert {one["cause"] for one in ran.json["repairs"] if one["state"] == "proven"} == set(file.truth)
    assert {one["verdict"] for one in ran.json["complaints"]} == {"proven"}
    assert ran.json["conflicts"] == []
    areas = {load().causes[cause].where.file for cause in file.truth}
    assert len(areas) >= 4  # faults that have nothing to do with each other


def test_it_shows_questions_answers_figures_ranking_and_repairs_without_a_terminal(text: Ran) -> None:
    assert text.code == 0
    assert text.err == ""
    assert "\x1b" not in text.out
    for wanted in (
        "can kill",
        "The player says:",
        "Stage of work: cold",
        "-> plate-to-cathode 453.5 V, cathode-current 22.1 mA",
        "453.5 V x 20.09 mA = 9.11 W",  # plate volts times cathode current less the screen's share
        "How each complaint ends",
        "The ranking",
        ": proven.",
    ):
        assert wanted in text.out, wanted
    assert max(map(len, text.out.splitlines())) <= 80


def test_no_live_check_comes_before_the_cold_checks_on_safety(run: Run) -> None:
    steps = run("demo", "--json", kb=None).json["steps"]
    checks = [one for one in steps if one["kind"] == "check"]
    first_powered = next(n for n, one in enumerate(checks) if one["stage"] in ("first power", "live", "play"))
    base = load()
    later = [one["id"] for one in checks[first_powered:] if one["stage"] in ("look", "cold")]
    on_safety = [one["id"] for one in checks if base.checks[one["id"]].safety]
    raised_later = {id_ for id_ in on_safety if id_ in later}
    assert len(on_safety) - len(raised_later) >= 4
    assert raised_later <= {"look-at-voltage-selector"}  # asked for by a rule, once the plates were measured
