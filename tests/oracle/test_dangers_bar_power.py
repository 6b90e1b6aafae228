"""Every dangerous cause, once found, keeps power away: the bench's session does not offer it, `take` refuses it, and an
answer file comes to no work under power; until it is ruled out, or repaired and proven."""

from __future__ import annotations

from datetime import datetime

import pytest
from chopstick.engine.jobs.entering import Given, taken
from chopstick.engine.knowledge import model
from chopstick.engine.reasoning import answers, script
from chopstick.engine.reasoning.log import Complaint, LogEntry, Opened

from ..amount import amount
from ..shipped import shipped_knowledge
from . import Watching
from .danger import bars

AT = datetime(2026, 1, 1)
AMP = {"power-tube": "6L6GC", "bias": "fixed", "output-class": "push-pull", "rectifier": "5AR4", "era": "before-1960"}
FOUND: dict[str, object] = {  # found on an amp and once no bar to a live check
    "look-at-mains-cord": "yes", "bplus-to-chassis-ohms": 20.0, "look-at-filter-polarity": "yes",
    "look-at-filter-capacitors": "yes", "output-insulation": {"insulation": 100e3}, "choke-ohms": "grounded",
    "check-line-through-fuse": "yes", "look-for-mains-grime": "yes", "switch-open-ohms": "yes", "field-coil-ohms": "frame",
    "look-at-fuse-holder": "yes", "feel-mains-inlet": "yes", "look-at-output-sockets": "yes", "look-for-charred-board": "yes",
    "rectifier-tube-ohms": "shorted", "power-tube-short-test": "yes", "work-voltage-selector": "yes",
    "look-at-mains-wiring": "charred",
}  # fmt: skip


@pytest.fixture(scope="module")
def session() -> Watching:
    return Watching(shipped_knowledge())


def found(session: Watching, check: str, shown: object) -> list[LogEntry]:
    base = session.base
    symptom = "weak-output"
    opened = Opened(at=AT, title="x", fingerprint=base.fingerprint, amp=dict(AMP))
    entry = answers.entry(base.checks[check], shown, AT, believed=True)  # type: ignore[arg-type]
    return [opened, Complaint(at=AT, says="weak", symptom=symptom), entry]


def barred(session: Watching, log: list[LogEntry]) -> set[str]:
    """The dangers that stand before power, power tubes, or play."""
    return {
        hold.hold for hold in session.read(log).holds if hold.kind in ("danger", "raised") and hold.answered is not True
    }


def assert_no_power(session: Watching, log: list[LogEntry]) -> None:
    """Whatever holds are answered yes, no live work is taken, and none is offered."""
    yes = [(hold, True) for hold in session.base.moves]
    got = taken(session, log, Given(holds=yes, volts=[2.0], values=[("watch-plates", "none")]), AT)
    assert got.barred is not None
    assert got.entries == ()
    session.wrong.clear()
    step = session.read(log).next
    assert session.wrong == []
    assert step.kind != "check" or session.base.checks[step.id].stage not in model.POWERED


@pytest.mark.parametrize("check", FOUND)
def test_what_was_once_no_bar_bars_power(session: Watching, check: str) -> None:
    log = found(session, check, FOUND[check])
    assert barred(session, log), f"nothing bars after {check}"
    assert_no_power(session, log)


def telling(session: Watching) -> list[tuple[str, str, str]]:
    """A cause of hazard shock or fire, and a check with the answer by which it is found."""
    base, dangers = session.base, session.oracle.dangers(session.base)
    ways = []
    for cause in base.causes.values():
        if bars(cause) != "power" or cause.hazard not in ("shock", "fire"):
            continue
        for finding, causes in dangers.telling.items():
            if cause.id in causes:
                ways += [
                    (cause.id, check.id, key)
                    for check in base.written.values()
                    for key, answer in check.answers.items()
                    if finding in answer.findings and check.stage not in model.POWERED
                ][:1]
    return list({cause: (cause, check, key) for cause, check, key in ways}.values())


@pytest.mark.long
def test_every_cause_that_can_kill_bars_power_once_it_is_found(session: Watching) -> None:
    ways = telling(session)
    assert len(ways) > 40
    passed = []
    for cause, check, key in ways[:: amount(8, 1)]:
        log = found(session, check, key)
        try:
            assert_no_power(session, log)
        except AssertionError as error:
            passed.append((cause, check, key, str(error)[:80]))
    assert passed == []


@pytest.mark.parametrize("check", list(FOUND)[::6])
def test_an_answer_file_comes_to_no_power(session: Watching, check: str) -> None:
    file = script.AnswerFile(
        job="x", amp=dict(AMP), complaints=(script.Told(says="weak", symptom="weak-output"),),
        holds={**dict.fromkeys(session.base.moves, "yes"), "discharged": "2 V"}, checks={check: FOUND[check]},
    )  # fmt: skip
    session.wrong.clear()
    run = script.run(file, session, lambda: AT)
    assert session.wrong == []
    assert session.oracle.walk(run.log) == []
