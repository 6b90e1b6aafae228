"""A check or proof whose readings tell nothing says why, and what would; and nothing is the next step forever."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning import answers
from chopstick.engine.reasoning.facts import Facts, gather
from chopstick.engine.reasoning.log import (
    CANT_TELL,
    AmpFactsTold,
    Answer,
    Complaint,
    LogEntry,
    Opened,
    Reading,
    RepairDone,
)
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.steps import Plan, Step

from ..amount import LONG, amount
from ..answering import hold_answered, nothing_wrong
from ..shipped import shipped_knowledge
from .conftest import AT
from .ways_to_read import Amp, Way, amp_facts, ways, whole_amp

Job = Callable[..., list[LogEntry]]
READ = {"plate": "398V", "cathode": "25.2mA"}


def pairs(base: KnowledgeBase) -> dict[tuple[str, model.Proof], str]:
    """Every repair with each check that proves it, and a cause for which it does."""
    found: dict[tuple[str, model.Proof], str] = {}
    for cause in base.causes.values():
        for repair in cause.repairs:
            found.setdefault((repair, base.repairs[repair].proof_for(cause)), cause.id)
    return found


def opened(base: KnowledgeBase, amp: Amp) -> Opened:
    return Opened(at=AT, title="", fingerprint=base.fingerprint, amp=dict(amp))


def explained(base: KnowledgeBase, facts: Facts, check: model.Check, finding: str, amp: Amp) -> bool:
    """Whether a doubt of the check says why it leaves a finding open and what would settle it, missing facts by name."""
    doubts = [doubt for doubt in facts.doubts if doubt.check == check.id and finding in doubt.findings]
    assert all(doubt.text and doubt.settle for doubt in doubts)
    assert all(fact not in facts.amp and base.amp_facts[fact].ask in one.settle for one in doubts for fact in one.facts)
    return bool(doubts)


# --- all there is in the shipped base


def test_whatever_is_read_each_finding_of_a_check_is_told_or_it_is_said_why_not() -> None:
    base = shipped_knowledge()
    amp = whole_amp(base)
    read = [check for check in base.checks.values() if check.readings]
    silent = [
        (check.id, way.name, finding)
        for check in read
        for way in ways(check, amp)
        if isinstance(way.entry, Reading)
        for facts in [gather(base, [opened(base, way.amp), way.entry])]
        for finding in set(check.findings()) - {said.finding for said in facts.said}
        if not explained(base, facts, check, finding, way.amp)
    ]
    assert len(read) > 90
    assert silent == []


def test_whatever_a_proof_shows_it_is_not_asked_for_again_and_says_what_it_waits_for() -> None:
    base, ahead = shipped_knowledge(), Session(shipped_knowledge()).read([opened(shipped_knowledge(), {})])
    amp = whole_amp(base)
    silent, again, untold = [], [], 0
    for (repair, proof), cause in pairs(base).items():
        check, done = base.checks[proof.check], RepairDone(at=AT, repair=repair, cause=cause)
        for way in ways(check, amp):
            facts = gather(base, [opened(base, way.amp), done, way.entry])
            plan = Plan(base, facts, ahead.deduction, ahead.ahead, ())
            if any(step.id == check.id for step in plan.proofs()):
                again.append((repair, check.id, way.name))
            if facts.repairs[0].proven is None and isinstance(way.entry, Reading):
                untold += 1
                waits = plan.unproven(cause)
                if waits is None or not explained(base, facts, check, proof.gone or proof.found or "", way.amp):
                    silent.append((repair, check.id, way.name))
    assert untold > 200, "too few came to nothing to show anything"
    assert (again, silent) == ([], [])


def test_an_amp_fact_that_is_missing_is_named_and_settles_it_when_it_is_told() -> None:
    base = shipped_knowledge()
    amp = whole_amp(base)
    missing = [
        (check, fact, way)
        for check in base.checks.values()
        for fact in amp_facts(check)
        for way in ways(check, amp)
        if way.name in (f"no {fact}", f"{fact} unknown")
    ]
    named = set()
    for check, fact, way in missing:
        log: list[LogEntry] = [opened(base, way.amp), way.entry]
        waiting = {one for doubt in gather(base, log).doubts for one in doubt.facts}
        judged = {band.of for band in check.bands}
        if waiting:
            assert waiting == {fact}, (check.id, way.name)
            named.add((check.id, fact))
        else:  # a figure that no band judges
            assert any(name not in judged for name in check.figures), (check.id, way.name)
        told = gather(base, [*log, AmpFactsTold(at=AT, amp={fact: amp[fact]})])
        assert not any(doubt.facts for doubt in told.doubts)
    assert len(named) >= 8


# --- to the end of the job


def left_out(session: Session, id_: str) -> LogEntry:
    """Can't tell; but what must be told before power is told, with nothing wrong."""
    check = session.base.checks[id_]
    needed = check.safety or any(id_ in move.through for move in session.base.moves.values())
    return answers.entry(check, nothing_wrong(check) if needed else CANT_TELL, AT, believed=True)


def play(session: Session, repair: str, proof: model.Proof, cause: str, way: Way) -> list[Step]:
    """A job after a repair, its proof entered in that way and all else left out; the steps, to its end."""
    symptom = next((one for one in session.base.causes[cause].shows if one in session.base.symptoms), "")
    log: list[LogEntry] = [opened(session.base, way.amp)]
    log += [Complaint(at=AT, says="it does", symptom=symptom)] if symptom else []
    log.append(RepairDone(at=AT, repair=repair, cause=cause))
    steps: list[Step] = []
    while len(steps) < 400:
        step = session.read(log).next
        steps.append(step)
        if step.kind in ("done", "held"):
            return steps
        if step.kind in ("hold", "move"):
            log.append(hold_answered(session.read(log), step, AT))
        elif step.kind == "repair":
            log.append(RepairDone(at=AT, repair=step.id, cause=step.cause))
        else:
            log.append(way.entry if step.id == proof.check else left_out(session, step.id))
    raise AssertionError(f"no end for {repair} proved by {proof.check}, {way.name}")


@pytest.mark.long
@pytest.mark.parametrize("seed", range(amount(4, 300)))
def test_a_job_comes_to_its_end_past_a_proof_that_tells_nothing(seed: int) -> None:
    session = Session(shipped_knowledge())
    draw = random.Random(seed if not LONG else None)
    read = [
        (*pair, cause) for pair, cause in pairs(session.base).items() if session.base.checks[pair[1].check].readings
    ]
    repair, proof, cause = draw.choice(read)
    without = [
        way for way in ways(session.base.checks[proof.check], whole_amp(session.base)) if "middle" not in way.name
    ]
    way = draw.choice(without)
    steps = play(session, repair, proof, cause, way)
    asked = sum(step.id == proof.check for step in steps)
    others = sum(step.kind == "repair" for step in steps)  # which the same check may have to prove
    assert 1 <= asked <= 1 + others, (repair, proof.check, way.name)


# --- one by one, on a small base


def doubts(facts: Facts) -> list[tuple[str, str, tuple[str, ...]]]:
    return [(doubt.text, doubt.settle, doubt.facts) for doubt in facts.doubts]


def test_a_reading_left_out_is_named(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job(amp={"power-tube": "6V6GT"}, then=[("idle", {"plate": "398V"})]))
    assert doubts(facts) == [
        ("dissipation: can't be worked out without 'Cathode current'", "measure that too: Cathode current", ())
    ]
    facts = gather(
        base, job(amp={"power-tube": "6V6GT"}, then=[("idle", {"plate": "398V"}), ("idle", {"cathode": "25mA"})])
    )
    assert doubts(facts) == [], "the readings of a check may come one by one"


@pytest.mark.parametrize("amp", [{}, {"power-tube": "unknown"}])
def test_an_amp_fact_that_is_not_known_is_named_with_its_question(
    base: KnowledgeBase, job: Job, amp: dict[str, object]
) -> None:
    facts = gather(base, job(amp=amp, then=[("idle", READ)]))
    asked = "it takes the answer to: Which power tubes does it have now?"
    assert doubts(facts) == [
        ("dissipation: can't be worked out without the amp fact 'power-tube'", asked, ("power-tube",))
    ]


def test_values_that_give_no_sum_say_so(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job(amp={"power-tube": "6V6GT"}, then=[("idle", {"plate": "0V", "cathode": "0mA"})]))
    ((text, settle, lacking),) = doubts(facts)
    assert text == "dissipation: can't be worked out, plate 0 V is not above cathode 0 V; check both readings"
    assert "others may" in settle
    assert lacking == ()


def test_a_limit_that_is_not_known_and_another_check_that_was_not_done(base: KnowledgeBase, job: Job) -> None:
    def judged(limit: str) -> Facts:
        idle = base.checks["idle"].model_copy(
            update={"bands": (model.Band(of="plate", above=limit, findings=("idle-over-rating",), text="over"),)}
        )
        area = base.areas["small"]
        ours = replace(base, areas={"small": area.model_copy(update={"checks": {**area.checks, "idle": idle}})})
        return gather(ours, job(then=[("idle", READ)]))

    assert doubts(judged("tube.plate_V")) == [
        ("Plate volts: can't be judged without the amp fact 'power-tube'",
         "it takes the answer to: Which power tubes does it have now?", ("power-tube",)),
    ]  # fmt: skip
    assert doubts(judged("pot-dc/pot")) == [
        ("Plate volts: can't be judged without 'Measure DC on the pot'", "do that first: Measure DC on the pot", ()),
    ]  # fmt: skip


def test_one_quantity_of_two_left_out_denies_nothing_that_both_can_show(base: KnowledgeBase, job: Job) -> None:
    idle = base.checks["idle"]
    bands = (*idle.bands, model.Band(of="plate", above=500, findings=("idle-over-rating",), text="far too high"))
    area = base.areas["small"]
    both = area.model_copy(update={"checks": {**area.checks, "idle": idle.model_copy(update={"bands": bands})}})
    ours = replace(base, areas={"small": both})
    assert "idle-over-rating" not in gather(ours, job(then=[("idle", READ)])).latest()
    known = gather(ours, job(amp={"power-tube": "6V6GT"}, then=[("idle", READ)])).latest()
    assert known["idle-over-rating"].present is False
    high = gather(ours, job(then=[("idle", {"plate": "600V"})])).latest()
    assert high["idle-over-rating"].present is True


def test_a_proof_that_waits_for_an_amp_fact_holds_as_soon_as_it_is_told(session: Session, job: Job) -> None:
    log = job(
        "tubes-run-hot",
        then=[("look-at-plug", "yes"), ("hold:discharged", True), ("repair:mend-bias", "bias-off"),
              ("hold:ready-for-power", True), ("idle", READ)],
    )  # fmt: skip
    now = session.read(log)
    assert (now.next.kind, now.next.id) != ("proof", "idle")
    assert now.facts.repairs[0].proven is None
    waits = now.plan.unproven("bias-off")
    assert waits is not None
    assert waits.facts == ("power-tube",)
    told = session.read([*log, AmpFactsTold(at=AT, amp={"power-tube": "6V6GT"})])
    assert told.facts.repairs[0].proven is True
    assert told.plan.unproven("bias-off") is None


def test_an_answer_or_a_reading_that_is_no_longer_there_is_asked_for_again(base: KnowledgeBase, job: Job) -> None:
    log = job(
        then=[("look-at-plug", "yes"), ("repair:change-capacitor", "capacitor-leaky"), ("hold:ready-for-power", True)]
    )
    for entry in (Reading(at=AT, check="pot-dc", values={"older": 1.0}), Answer(at=AT, check="pot-dc", answer="older")):
        now = Session(base).read([*log, entry])
        assert (now.next.kind, now.next.id) == ("proof", "pot-dc")


def test_what_is_no_longer_there_was_still_done_under_power(base: KnowledgeBase, job: Job) -> None:
    log = job(then=[("look-at-plug", "yes"), ("hold:discharged", True), ("hold:ready-for-power", True)])
    facts = gather(base, [*log, Answer(at=AT, check="pot-dc", answer="older")])
    assert (facts.stage, dict(facts.holds), dict(facts.done)) == (
        "live", {"ready-for-power": True}, {"look-at-plug": "yes"},
    )  # fmt: skip
