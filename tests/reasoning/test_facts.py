"""What a log says: values, figures and findings; undo and re-measuring; what a repair does to the evidence."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, timedelta, timezone

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.facts import Facts, bounds, gather
from chopstick.engine.reasoning.log import (
    CANT_TELL,
    ENTRY,
    NOT_THIS_AMP,
    Answer,
    CircuitChosen,
    Closed,
    Complaint,
    HoldAnswered,
    LogEntry,
    Reading,
    RepairDone,
    Undone,
    last_undoable,
)

from .conftest import AT

Job = Callable[..., list[LogEntry]]


def test_a_reading_becomes_a_figure_before_it_is_judged(base: KnowledgeBase, job: Job) -> None:
    """398 V and 25.2 mA in a tube rated 12 W is 10 W or 84 percent; no finding until it is over the rating."""
    facts = gather(base, job(amp={"power-tube": "6V6GT"}, then=[("idle", {"plate": "398V", "cathode": "25.2mA"})]))
    assert facts.values["idle/dissipation"].value == pytest.approx(398 * 0.0252 / 12 * 100, rel=1e-9)
    assert facts.latest()["idle-over-rating"].present is False
    steps = facts.values["idle/dissipation"].figure
    assert steps is not None
    assert any("W" in step for step in steps.steps)


def test_without_the_tube_the_figure_says_why_there_is_none(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job(then=[("idle", {"plate": "398V", "cathode": "25.2mA"})]))
    assert facts.values["idle/dissipation"].value is None
    assert "power-tube" in facts.values["idle/dissipation"].trouble
    assert "idle-over-rating" not in facts.latest()


def test_the_tube_may_be_told_after_the_reading(base: KnowledgeBase, job: Job) -> None:
    from chopstick.engine.reasoning.log import AmpFactsTold

    log = job(then=[("idle", {"plate": "462.5V", "cathode": "40mA"})])
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


def test_of_an_empty_log_nothing_is_known(base: KnowledgeBase) -> None:
    assert gather(base, []) == Facts()
    assert (Facts().closed, Facts().stage, Facts().latest()) == (False, "look", {})


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


# --- holds, and how long they stay cleared ---

BLED: list[tuple[str, object]] = [("hold:earth-first", True), ("hold:discharged", True)]
ON: list[tuple[str, object]] = [*BLED, ("hold:ready-for-power", True)]


@pytest.mark.parametrize(
    ("before", "done", "stage", "stands"),
    [
        (BLED, ("look-at-plug", "yes"), "cold", {"discharged"}),
        (BLED, ("pot-ohms", "no"), "cold", {"discharged"}),
        (BLED, ("repair:clean-pot", "track-dirty"), "cold", {"discharged"}),
        (BLED, ("hold:ready-for-power", True), "first power", {"ready-for-power"}),  # power charges the capacitors
        (BLED, ("pot-dc", "2 mV"), "live", set()),  # nobody said that it is ready: it was powered all the same
        (ON, ("look-at-plug", "yes"), "first power", {"ready-for-power"}),
        (ON, ("pot-dc", "2 mV"), "live", {"ready-for-power"}),
        (ON, ("turn-it", CANT_TELL), "play", {"ready-for-power"}),  # it was tried
        (ON, ("turn-it", NOT_THIS_AMP), "first power", {"ready-for-power"}),  # nobody touched anything
        (ON, ("pot-ohms", "no"), "first power", set()),  # hands went in: to be made ready anew, and not known to be bled
        (ON, ("hold:discharged", True), "cold", {"discharged"}),  # it was unplugged for that
        (ON, ("hold:discharged", False), "first power", {"ready-for-power", "discharged"}),
    ],
)
def test_a_standing_hold_lapses_with_what_undoes_it(
    base: KnowledgeBase, job: Job, before: list[tuple[str, object]], done: tuple[str, object], stage: str, stands: set[str]
) -> None:
    """Power charges the capacitors; work inside may leave a tool or a wire. An earth that was fitted stays fitted."""
    facts = gather(base, job("knob-crackle", then=[*before, done]))
    assert facts.stage == stage
    assert set(facts.holds) == {"earth-first", *stands}


def test_a_hold_taken_back_is_open_again(base: KnowledgeBase, job: Job) -> None:
    log = job("knob-crackle", then=[("hold:discharged", False), ("hold:discharged", True)])
    assert gather(base, log).holds == {"discharged": True}
    assert gather(base, [*log, Undone(at=AT, number=4)]).holds == {"discharged": False}
    assert gather(base, [*log, Undone(at=AT, number=3), Undone(at=AT, number=4)]).holds == {}


def test_power_that_is_taken_back_was_on_all_the_same(base: KnowledgeBase, job: Job) -> None:
    """To take an entry back does not empty the capacitors."""
    log = job("knob-crackle", then=[*BLED, ("hold:ready-for-power", True), ("turn-it", "yes")])
    back = [*log, Undone(at=AT, number=len(log)), Undone(at=AT, number=len(log) - 1)]
    assert gather(base, back).holds == {"earth-first": True}
    assert gather(base, back).set_up.live


def test_what_this_knowledge_base_no_longer_has_is_passed_over(base: KnowledgeBase, job: Job) -> None:
    log = job("knob-crackle", then=[("hold:discharged", True)])
    gone: list[LogEntry] = [
        Complaint(at=AT, says="it wobbles", symptom="gone"), HoldAnswered(at=AT, hold="gone", cleared=True),
        RepairDone(at=AT, repair="gone", cause="track-dirty"), Answer(at=AT, check="gone", answer="yes"),
        Reading(at=AT, check="gone", values={"volts": 1.0}),
    ]  # fmt: skip
    with_gone, without = gather(base, [*log, *gone]), gather(base, log)
    assert replace(with_gone, minutes_since={}) == replace(without, minutes_since={})
    odd = gather(base, [*log, Answer(at=AT, check="pot-ohms", answer="gone"), Reading(at=AT, check="pot-dc", values={"gone": 9.0})])
    assert odd.latest() == without.latest()
    assert odd.values == {}


# --- repairs, their proof, and time ---


@pytest.mark.parametrize(
    ("typed", "proven"),
    [([], None), (["2 mV"], True), (["900 mV"], False), ([CANT_TELL], None),
     (["900 mV", "2 mV"], True), (["2 mV", "900 mV"], False), (["2 mV", "900 mV", "2 mV"], True)],  # the last word counts
)  # fmt: skip
def test_a_repair_is_proven_by_what_its_proof_shows_afterwards(
    base: KnowledgeBase, job: Job, typed: list[str], proven: bool | None
) -> None:
    """What the proving check said before the repair proves nothing."""
    before: list[tuple[str, object]] = [("pot-dc", "900 mV"), ("pot-dc", "2 mV")]
    after: list[tuple[str, object]] = [("pot-dc", one) for one in typed]
    (repaired,) = gather(base, job(then=[*before, ("repair:change-capacitor", "capacitor-leaky"), *after])).repairs
    assert (repaired.repair, repaired.cause, repaired.entry) == ("change-capacitor", "capacitor-leaky", 4)
    assert repaired.proven is proven


def test_what_was_read_before_a_repair_proves_nothing_after_it(base: KnowledgeBase, job: Job) -> None:
    """The bias is mended, and of the idle only the plate volts are read anew: without the current nothing is proven,
    neither by the 60 mA from before nor, had it been so, by 20."""
    for before, first in (("60mA", True), ("20mA", False)):
        log = job(
            amp={"power-tube": "6V6GT"},
            then=[("idle", {"plate": "300V", "cathode": before}), ("repair:mend-bias", "bias-off"), ("idle", {"plate": "300V"})],
        )
        facts = gather(base, log)
        assert [said.present for said in facts.said] == [first]
        assert facts.repairs[0].proven is None
        assert "not measured yet" in facts.values["idle/dissipation"].trouble
        whole = gather(base, [*log, *job(then=[("idle", {"cathode": "20mA"})])[1:]])
        assert whole.repairs[0].proven is True, "one by one, they come to a figure"
        assert whole.values["idle/dissipation"].value == pytest.approx(300 * 0.020 / 12 * 100)


def test_a_proof_may_ask_for_something_to_be_there(base: KnowledgeBase, job: Job) -> None:
    """A dead tube replaced is proven by the glow that is back, not by something that is gone."""
    area = base.areas["small"]
    proof = model.Proof(check="look-at-plates", found="plates-dark")
    repair = area.repairs["mend-bias"].model_copy(update={"proof": (proof,)})
    ours = replace(base, areas={"small": area.model_copy(update={"repairs": {**area.repairs, "mend-bias": repair}})})
    for answer, proven in (("no", True), ("yes", False)):
        log = job(then=[("repair:mend-bias", "bias-off"), ("look-at-plates", answer)])
        assert gather(ours, log).repairs[0].proven is proven


def test_times_with_and_without_a_zone_can_be_held_against_each_other(base: KnowledgeBase, job: Job) -> None:
    log = job("knob-crackle", then=[("hold:discharged", True), ("pot-ohms", "no"), ("repair:clean-pot", "track-dirty")])
    zoned = AT.replace(tzinfo=UTC) + timedelta(minutes=90)
    late = [*log, Answer(at=zoned.astimezone(timezone(timedelta(hours=2))), check="turn-it", answer="no")]
    assert gather(base, late).minutes_since == {
        "opened": 90, "complaint/knob-crackle": 90, "hold/discharged": 90, "check/pot-ohms": 90, "repair/clean-pot": 90,
        "check/turn-it": 0,
    }  # fmt: skip


def test_the_title_the_circuit_and_the_close_are_kept(base: KnowledgeBase, job: Job) -> None:
    log = job("knob-crackle")
    open_ = gather(base, [*log, CircuitChosen(at=AT, circuit="one"), CircuitChosen(at=AT, circuit="other")])
    assert (open_.title, open_.fingerprint, open_.circuit, open_.closed) == ("job", base.fingerprint, "other", False)
    assert gather(base, [*log, Closed(at=AT)]).closed
    assert open_.complaints == (("knob-crackle", "it does knob-crackle", 2),)
    assert open_.said[0].how == "the player says: it does knob-crackle"


# --- what a band or a calculation may name ---

AMP: dict[str, object] = {"power-tube": "6V6GT", "rectifier": "5Y3GT", "power-tube-count": 2}
READ: list[tuple[str, object]] = [("pot-dc", "61 mV"), ("idle", {"plate": "398V", "cathode": "25.2mA"})]


@pytest.mark.parametrize(
    ("source", "value"),
    [
        (300.0, 300.0),
        ("plate", 398.0),
        ("dissipation", 398 * 0.0252 / 12 * 100),
        ("pot-dc/pot", 61.0),  # of another check
        ("amp.power-tube-count", 2.0),
        ("tube.plate_V", 315.0),  # design center of the 6V6GT
        ("rectifier.output_mA", 125.0),
        ("rectifier.peak_inverse_V", 1400.0),  # the 5Y3GT's first block of limits lacks it; its second gives it
        ("window.discharged_V.high", 50.0),
    ],
)
def test_what_a_limit_may_name(base: KnowledgeBase, job: Job, source: str | float, value: float) -> None:
    facts = gather(base, job(amp=AMP, then=READ))
    above = bounds(base, facts, base.checks["idle"], model.Band(above=source, text="x"))
    below = bounds(base, facts, base.checks["idle"], model.Band(below=source, text="x"))
    assert above == (pytest.approx(value), math.inf)
    assert below == (-math.inf, pytest.approx(value))


@pytest.mark.parametrize(
    ("source", "amp", "why"),
    [
        ("nothing", AMP, "'nothing' is not measured yet"),
        ("odd.thing", AMP, "'odd.thing' is not measured yet"),
        ("pot-ohms/nothing", AMP, "'pot-ohms/nothing' is not measured yet"),
        ("amp.bias", AMP, "the amp fact 'bias' is not known yet"),
        ("amp.power-tube", AMP, "must be a number, not '6V6GT'"),
        ("tube.plate_V", {}, "the amp fact 'power-tube' is not known yet"),
        ("tube.plate_V", {"power-tube": "9ZZ9"}, "no tube called '9ZZ9' is on file"),
        ("tube.plate_kg", AMP, "there is no limit called 'plate_kg'"),
        ("rectifier.output_mA", {}, "the amp fact 'rectifier' is not known yet"),
        ("rectifier.output_mA", {"rectifier": "9ZZ9"}, "no rectifier called '9ZZ9' is on file"),
        ("rectifier.hot_switching_A", AMP, "no hot_switching_A is on file for the 5Y3GT"),
        ("window.discharged_V.low", AMP, "the limit 'discharged_V' has no 'low'"),
        ("window.nothing.high", AMP, "no limit called 'nothing' is on file"),
    ],
)
def test_what_a_limit_names_and_is_not_known_leaves_all_open_and_says_why(
    base: KnowledgeBase, job: Job, source: str, amp: dict[str, object], why: str
) -> None:
    check = base.checks["idle"]
    given = {"plate_V": source, "cathode_mA": "cathode", "screen_mA": 0, "rating_W": 10}
    compute = "bias.plate_dissipation_percent"
    figures = {"odd": model.FigureOf(compute=compute, given=given), "own": model.FigureOf(compute=compute, given=given, unit="percent")}
    bands = (model.Band(of="plate", above=source, findings=("idle-over-rating",), text="over"),)
    area = base.areas["small"]
    odd = check.model_copy(update={"figures": figures, "bands": bands})
    changed = replace(base, areas={"small": area.model_copy(update={"checks": {**area.checks, "idle": odd}})})
    facts = gather(changed, job(amp=amp, then=READ))
    assert why in facts.values["idle/odd"].trouble
    assert facts.values["idle/odd"].value is None
    assert [facts.values[f"idle/{name}"].unit for name in figures] == ["", "percent"]
    assert bounds(changed, facts, odd, bands[0]) is None
    assert facts.values["idle/plate"].value == 398.0
    assert "idle-over-rating" not in facts.latest(), "neither side of a limit that nobody knows"


def test_a_limit_out_of_a_table_has_no_error_of_its_own(base: KnowledgeBase, job: Job) -> None:
    """The plate rating is 315 V and the meter good to 0.8 percent: 317.6 V are over it by a little more than that."""
    area = base.areas["small"]
    band = model.Band(of="plate", above="tube.plate_V", findings=("idle-over-rating",), text="over")
    idle = area.checks["idle"].model_copy(update={"bands": (band,)})
    ours = replace(base, areas={"small": area.model_copy(update={"checks": {**area.checks, "idle": idle}})})
    for volts, there in ((317.6, True), (317.4, None)):
        facts = gather(ours, job(amp=AMP, then=[("idle", {"plate": volts})]))
        said = facts.latest().get("idle-over-rating")
        assert (said.present if said else None) is there


@pytest.mark.parametrize(("unit", "dc", "typed", "volts"), [
    ("mV", "plus", 61.0, 0.061), ("mV", "minus", 61.0, -0.061), ("V", "plus", 61.0, 61.0), ("V", "minus", 61.0, -61.0),
])  # fmt: skip
def test_volts_at_a_test_point_are_kept_with_their_true_sign(
    base: KnowledgeBase, job: Job, unit: str, dc: str, typed: float, volts: float
) -> None:
    """A bias is asked for without its minus sign, and is negative all the same."""
    area = base.areas["small"]
    reading = area.checks["pot-dc"].readings["pot"].model_copy(update={"unit": unit, "dc": dc, "point": "bias_feed"})
    check = area.checks["pot-dc"].model_copy(update={"readings": {"pot": reading}})
    ours = replace(base, areas={"small": area.model_copy(update={"checks": {**area.checks, "pot-dc": check}})})
    log = [*job(then=[("repair:clean-pot", "track-dirty")]), Reading(at=AT, check="pot-dc", values={"pot": typed})]
    (read,) = gather(ours, log).volts
    assert (read.check, read.reading, read.volts, read.entry, read.repaired) == (
        "pot-dc", "pot", pytest.approx(volts), 3, {"track-dirty"},
    )  # fmt: skip
    assert gather(ours, log).latest()["dc-on-pot"].point == "bias_feed"
    assert gather(base, log).volts == (), "a reading of no test point is none"
