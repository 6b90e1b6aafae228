"""What a log says: values, figures and findings; undo and re-measuring; what a repair does to the evidence."""

from collections.abc import Callable

import pytest
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.facts import gather
from chopstick.engine.reasoning.log import ENTRY, LogEntry, Undone, last_undoable

from .conftest import AT

Job = Callable[..., list[LogEntry]]


def test_a_reading_becomes_a_figure_before_it_is_judged(base: KnowledgeBase, job: Job) -> None:
    """415 V and 20.6 mA in a tube rated 12 W is 8.5 W or 71 per cent; no finding until it is over the rating."""
    facts = gather(base, job(amp={"power-tube": "6V6GT"}, then=[("idle", {"plate": "415V", "cathode": "20.6mA"})]))
    assert facts.values["idle/dissipation"].value == pytest.approx(415 * 0.0206 / 12 * 100, rel=1e-9)
    assert facts.latest()["idle-over-rating"].present is False
    steps = facts.values["idle/dissipation"].figure
    assert steps is not None
    assert any("W" in step for step in steps.steps)


def test_without_the_tube_the_figure_says_why_there_is_none(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job(then=[("idle", {"plate": "415V", "cathode": "20.6mA"})]))
    assert facts.values["idle/dissipation"].value is None
    assert "power-tube" in facts.values["idle/dissipation"].trouble
    assert "idle-over-rating" not in facts.latest()


def test_the_tube_may_be_told_after_the_reading(base: KnowledgeBase, job: Job) -> None:
    from chopstick.engine.reasoning.log import AmpFactsTold

    log = job(then=[("idle", {"plate": "453.5V", "cathode": "40mA"})])
    log.append(AmpFactsTold(at=AT, amp={"power-tube": "6V6GT"}))
    assert gather(base, log).latest()["idle-over-rating"].present


def test_one_answer_makes_the_other_answers_findings_false(base: KnowledgeBase, job: Job) -> None:
    latest = gather(base, job(then=[("pot-ohms", "yes")])).latest()
    assert latest["dc-on-pot"].present
    assert not gather(base, job(then=[("pot-ohms", "no")])).latest()["dc-on-pot"].present


def test_cant_tell_says_nothing(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job(then=[("pot-ohms", "can't tell"), ("look-at-plug", "not this amp")]))
    assert facts.latest() == {}
    assert set(facts.done) == {"pot-ohms", "look-at-plug"}


def test_measuring_again_corrects(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job(then=[("pot-dc", "400 mV"), ("pot-dc", "2 mV")]))
    assert not facts.latest()["dc-on-pot"].present
    assert [said.present for said in facts.evidence() if said.finding == "dc-on-pot"] == [False]


def test_undo_is_an_entry_that_takes_another_back(base: KnowledgeBase, job: Job) -> None:
    log = job("knob-crackle", then=[("pot-dc", "400 mV")])
    assert last_undoable(log) == 3
    log.append(Undone(at=AT, number=3))
    assert "dc-on-pot" not in gather(base, log).latest()
    assert last_undoable(log) == 2


def test_gone_after_a_repair_keeps_what_was_there_before(base: KnowledgeBase, job: Job) -> None:
    facts = gather(
        base, job("knob-crackle", then=[("repair:clean-pot", "track-dirty"), ("turn-it", "no")])
    )
    said = [(one.present, sorted(one.repaired)) for one in facts.evidence() if one.finding == "knob-crackle"]
    assert said == [(True, []), (False, ["track-dirty"])]
    assert facts.repairs[0].proven is True


def test_a_failed_proof_is_known_as_one(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job("knob-crackle", then=[("repair:clean-pot", "track-dirty"), ("turn-it", "yes")]))
    assert facts.repairs[0].proven is False
    assert [sorted(one.repaired) for one in facts.evidence() if one.finding == "knob-crackle"] == [["track-dirty"]]


def test_power_charges_the_capacitors_again(base: KnowledgeBase, job: Job) -> None:
    """The hold 'discharged' is cleared for as long as the amp stays unplugged, and no longer."""
    cold = [("hold:discharged", True), ("pot-ohms", "no")]
    assert gather(base, job(then=cold)).holds == {"discharged": True}
    powered = [*cold, ("hold:ready-for-power", True), ("turn-it", "yes")]
    assert gather(base, job(then=powered)).holds == {"ready-for-power": True}
    assert gather(base, job(then=[*powered, ("hold:discharged", True), ("pot-ohms", "no")])).holds == {"discharged": True}


def test_entries_survive_the_file(base: KnowledgeBase, job: Job) -> None:
    log = job("knob-crackle", amp={"power-tube-count": 2, "bias": "fixed"}, then=[("pot-dc", "400 mV")])
    assert [ENTRY.validate_json(ENTRY.dump_json(one)) for one in log] == log
