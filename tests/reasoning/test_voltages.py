"""A job with a known circuit: its checks, what its volts say of causes, and which test point comes next.

The amp of the examples is the textbook pair of cathode-biased 6V6GT: V1a's plate sits near 148 V, its cathode near
1.2 V, the node that feeds it near 231 V.
"""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from chopstick.engine.circuit.collection import Circuits
from chopstick.engine.circuit.evidence import BOUND
from chopstick.engine.knowledge import load, model
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.reasoning.circuit_checks import FITS_NOT, check_named, point_check
from chopstick.engine.reasoning.log import (
    AmpFactsTold,
    CircuitChosen,
    Complaint,
    LogEntry,
    Opened,
    Reading,
    RepairDone,
    Undone,
)
from chopstick.engine.reasoning.session import Session, Standing
from chopstick.engine.reasoning.voltages import BAND, Voltages
from chopstick.engine.reports.reasons import reasons

from ..shipped import shipped_knowledge

AT = datetime(2026, 1, 1)
AMP = "cathode-biased-2x6v6gt-split-load"
DRAWS_NOTHING = {"v1a.plate": 245.0, "bplus_3": 248.0, "v1a.cathode": 0.0}  # V1a.dead, solved


@pytest.fixture(scope="module")
def session() -> Session:
    return Session(shipped_knowledge())


def opened(*symptoms: str, circuit: str = AMP, **amp: model.AmpValue) -> list[LogEntry]:
    log: list[LogEntry] = [Opened(at=AT, title="job", fingerprint="", amp=amp)]
    log += [Complaint(at=AT, says=symptom, symptom=symptom) for symptom in symptoms]
    return [*log, CircuitChosen(at=AT, circuit=circuit)] if circuit else log


def read(**volts: float) -> list[LogEntry]:
    """Readings in short: v1a_plate=245 is the test point v1a.plate."""
    points = {name.replace("_", ".", 1) if name[0] in "vop" else name: value for name, value in volts.items()}
    return readings(points)


def readings(volts: Mapping[str, float]) -> list[LogEntry]:
    return [Reading(at=AT, check=point_check(point), values={"volts": value}) for point, value in volts.items()]


def volts_of(now: Standing) -> Voltages:
    assert now.voltages is not None
    return now.voltages


# --- the checks a circuit brings


def test_every_test_point_becomes_a_live_check(session: Session) -> None:
    now = session.read(opened("weak-output"))
    circuit = session.circuits.find(AMP).circuit
    for point in circuit.test_points:
        check = now.base.checks[point_check(point)]
        assert check.stage == "live"
        assert "live" in check.cautions
        assert [(one.point, one.dc) for one in check.readings.values()] == [(point, "plus")]
    plate = now.base.checks[point_check("v1a.plate")]
    assert plate.name == "Measure the plate of V1a (12AX7) to chassis"
    assert "Red probe to the plate of V1a (12AX7), where it meets R3 (plate load), " in plate.do
    supply = now.base.checks[point_check("bplus_3")]
    assert "Red probe to bplus_3: " in supply.do, "no tube stands there"
    assert "where it meets" not in supply.do
    grid = now.base.checks[point_check("out_a.grid")]
    assert now.base.checks[point_check("out_a.plate")].do.endswith("the output transformer.")
    assert "transformer" not in plate.do + supply.do
    assert grid.do.endswith("Read quickly: a probe on a grid may set the stage crackling or oscillating.")
    assert plate.normal.startswith("147.6 V; good parts give 118.")


@pytest.mark.parametrize(
    ("point", "name", "where", "minutes"),
    [
        ("v1a.plate", "Measure the plate of V1a (12AX7) to chassis",
         "Red probe to the plate of V1a (12AX7), where it meets R3 (plate load), C2 (coupling capacitor).", 2.0),
        ("v1a.grid", "Measure the grid of V1a (12AX7) to chassis",
         "Red probe to the grid of V1a (12AX7), where it meets R2 (grid stopper). Read quickly: a probe on a grid may set "
         "the stage crackling or oscillating.", 3.0),
        ("out_a.plate", "Measure the plate of V3 (6V6GT) to chassis",
         "Red probe to the plate of V3 (6V6GT), where it meets the output transformer.", 2.0),
        ("bplus_3", "Measure bplus_3 to chassis",
         "Red probe to bplus_3: R3 (plate load), R5 (plate load), R9 (plate load), R17 (dropping resistor), "
         "C10 (filter capacitor).", 2.0),
    ],
)  # fmt: skip
def test_a_point_is_told_by_the_electrode_and_the_parts_that_meet_there(
    session: Session, point: str, name: str, where: str, minutes: float
) -> None:
    base = session.read(opened("weak-output")).base
    check = base.checks[point_check(point)]
    assert (check.name, check.minutes) == (name, minutes)
    assert check.do.endswith(f"Black lead clipped to bare metal of the chassis before power; speaker or dummy load on, no "
                             f"signal, warm for two minutes. {where}")  # fmt: skip
    assert check.cautions == ("live", "load")
    assert check_named(base, point) == check_named(base, check.id) == check.id


def test_a_reading_far_beyond_the_supply_or_below_the_chassis_is_questioned(session: Session) -> None:
    now = session.read(opened("weak-output"))
    highest = max(abs(mean) for mean, _ in volts_of(now).known.chart.values())
    reading = now.base.checks[point_check("v1a.plate")].readings["volts"]
    assert reading.plausible == (pytest.approx(-highest / 2), pytest.approx(highest * 1.5 + 50))
    mean, sigma = volts_of(now).known.chart["v1a.plate"]
    above, sound, below = now.base.checks[point_check("v1a.plate")].bands
    assert (above.above, below.below) == (sound.below, sound.above) == (mean + 2 * sigma, mean - 2 * sigma)


def test_a_check_is_found_by_its_id_before_any_test_point(session: Session) -> None:
    base = session.read(opened("weak-output")).base
    assert check_named(base, "plate-volts") == "plate-volts"
    assert check_named(base, "no-such-point") == "no-such-point", "left as typed, to be told"


def test_without_a_circuit_nothing_is_added(session: Session) -> None:
    now = session.read(opened("weak-output", circuit=""))
    assert now.base is session.base
    assert now.voltages is None


def test_choosing_can_be_undone_and_changed(session: Session) -> None:
    log = opened("weak-output")
    assert session.read([*log, Undone(at=AT, number=3)]).voltages is None
    other = session.read([*log, CircuitChosen(at=AT, circuit="single-ended-6v6gt")])
    assert volts_of(other).known.name == "single-ended-6v6gt"
    assert session.read([*log, CircuitChosen(at=AT, circuit="")]).voltages is None


def test_a_circuit_that_is_not_there_is_told_and_the_job_goes_on(session: Session) -> None:
    now = session.read([*opened("weak-output", circuit="single-ended-6v6"), *read(v1a_plate=245)])
    assert "Did you mean 'single-ended-6v6gt'?" in now.trouble
    assert now.next.kind == "move"


def test_a_shops_own_circuit_is_chosen_by_name(tmp_path: Path) -> None:
    (tmp_path / "circuits").mkdir()
    text = (load.shipped() / "amps" / "single-ended-6v6gt.yaml").read_text()
    (tmp_path / "circuits" / "bench-amp.yaml").write_text(text.replace("ohm: 1k5", "ohm: 3k3"))
    ours = Session(shipped_knowledge(), circuits=Circuits(None, [Layer("shop", "shop", tmp_path)]))
    plain = ours.read(opened("weak-output", circuit="single-ended-6v6gt"))
    own = ours.read(opened("weak-output", circuit="bench-amp"))
    assert volts_of(own).known.chart["v1a.plate"][0] > volts_of(plain).known.chart["v1a.plate"][0] + 5


# --- what a reading should be


def test_a_check_of_the_base_is_told_what_to_expect(session: Session) -> None:
    now = session.read(opened("weak-output"))
    found = now.expected(now.base.checks["plate-dissipation-cathode-bias"])
    assert (found.circuit, found.sure, found.share) == (AMP, True, 1.0)
    assert [(one.reading, one.point) for one in found.points][-1] == ("cathode-volts", "out.cathode")
    one = found.points[-1]
    assert one.low < 17.0 < one.high


def test_a_reading_without_its_minus_sign_is_expected_without_it(session: Session) -> None:
    now = session.read(opened("weak-output", circuit="fixed-bias-2x6v6gt-split-load"))
    (feed,) = now.expected(now.base.checks["bias-against-expected"]).points
    assert feed.point == "bias_feed"
    assert 10 < feed.low < feed.volts < feed.high < 30


def test_with_no_circuit_the_nearest_gives_a_wide_band_and_says_so(session: Session) -> None:
    facts: dict[str, model.AmpValue] = {"power-tube": "6V6GT", "bias": "cathode", "inverter": "split-load"}
    log = [*opened("weak-output", circuit=""), AmpFactsTold(at=AT, amp=facts)]
    check = session.base.checks["split-load-volts"]
    wide = session.read(log).expected(check)
    sure = session.read([*log, CircuitChosen(at=AT, circuit=AMP)]).expected(check)
    assert (wide.circuit, wide.sure, wide.share) == (AMP, False, 1.0)
    for broad, narrow in zip(wide.points, sure.points, strict=True):
        assert broad.high - broad.low > 0.5 * abs(broad.volts)
        assert broad.high - broad.low > narrow.high - narrow.low
    assert not session.read(opened("weak-output", circuit="")).expected(check).points  # too little is known


def test_a_circuit_is_called_the_nearest_when_half_of_two_known_facts_agree(session: Session) -> None:
    def nearest(**amp: model.AmpValue) -> tuple[str, float] | None:
        like = session.like({name.replace("_", "-"): value for name, value in amp.items()})
        return (like.name, like.share) if like else None

    assert nearest(power_tube="6V6GT", bias="cathode", inverter="split-load") == (AMP, 1.0)
    assert nearest(power_tube="6V6GT") is None, "one fact tells too little"
    assert nearest(power_tube="9ZZ9", bias="cathode") == ("cathode-biased-2x6v6gt-paraphase", 0.5)
    assert nearest(power_tube="9ZZ9", bias="none") is None, "nothing agrees"
    assert session.read(opened("weak-output", circuit="")).expected(session.base.checks["look-at-mains-plug"]).circuit == ""


def test_a_reading_with_an_area_of_its_own_is_expected_by_its_own_check(session: Session) -> None:
    """The checks made from a circuit say themselves what they should read."""
    now = session.read(opened("weak-output"))
    told = now.expected(now.base.checks[point_check("v1a.plate")])
    assert (told.circuit, told.sure, told.points) == (AMP, True, ())


# --- what the volts say of causes


def test_the_plate_that_should_sit_near_150_and_sits_at_the_supply(session: Session) -> None:
    """The stage draws nothing: a dead tube or an open cathode resistor; the cathode tells which (facts of the trade)."""
    before = session.read(opened("one-channel-dead"))
    plate = session.read([*opened("one-channel-dead"), *read(v1a_plate=245, bplus_3=248)])
    p, was = plate.ranking.probability, before.ranking.probability
    assert p["preamp-tube-dead"] > 5 * was["preamp-tube-dead"]
    assert p["cathode-resistor-open"] > 5 * was["cathode-resistor-open"]
    assert p["plate-load-open"] < 0.02
    assert [one.fault for one in volts_of(plate).suspects[:2]] == ["V1a.dead", "R4.open"]
    dead = session.read([*opened("one-channel-dead"), *read(v1a_plate=245, bplus_3=248, v1a_cathode=0.0)])
    assert dead.ranking.probability["cathode-resistor-open"] < 0.01
    assert dead.ranking.probability["preamp-tube-dead"] > 0.8
    open_ = session.read([*opened("one-channel-dead"), *read(v1a_plate=245, bplus_3=248, v1a_cathode=5.6)])
    assert open_.ranking.probability["cathode-resistor-open"] > 0.8
    assert open_.ranking.probability["preamp-tube-dead"] < 0.01


def test_causes_that_each_explain_the_volts_do_not_add_up(session: Session) -> None:
    p = session.read([*opened("one-channel-dead"), *read(v1a_plate=245, bplus_3=248)]).ranking.probability
    rivals = ("preamp-tube-dead", "cathode-resistor-open", "preamp-socket-contacts-loose")
    assert 0.9 < sum(p[id_] for id_ in rivals) < 1.15


def test_sound_volts_speak_against_what_they_would_show(session: Session) -> None:
    log = opened("one-channel-dead")
    before, chart = session.read(log), volts_of(session.read(log)).known.chart
    sound = session.read([*log, *readings({point: mean for point, (mean, _) in chart.items()})])
    assert volts_of(sound).said == ()
    for cause in ("preamp-tube-dead", "plate-load-open", "cathode-resistor-open"):
        assert sound.ranking.probability[cause] < before.ranking.probability[cause] / 20
    # A coupling capacitor that is open shows in no DC reading: it gains as the others go.
    assert "coupling-capacitor-open" in volts_of(sound).known.silent
    assert sound.ranking.probability["coupling-capacitor-open"] > before.ranking.probability["coupling-capacitor-open"]
    assert volts_of(sound).predicted("coupling-capacitor-open") == {}


def test_no_reading_decides_for_ever(session: Session) -> None:
    factors = volts_of(session.read([*opened("one-channel-dead"), *readings(DRAWS_NOTHING)])).volts.factors
    assert factors is not None
    assert np.all(factors <= 1.0 + 1e-9)
    assert np.all(factors >= 0.99 / BOUND)


def test_two_faults_in_two_stages(session: Session) -> None:
    # R3 open and C5 leaking 3 megohm, solved together.
    volts = {"v1a.plate": 0.02, "v1a.cathode": 0.0, "bplus_3": 240.0, "out_a.grid": 11.0, "out_b.grid": 0.02,
             "out.cathode": 20.6, "pi.plate": 175.0}  # fmt: skip
    now = session.read([*opened("one-channel-dead", "power-tubes-glow-red"), *readings(volts)])
    assert {said.finding for said in volts_of(now).said} >= {"input-volts-off", "output-a-volts-off"}
    assert now.ranking.probability["plate-load-open"] > 0.8
    assert now.ranking.probability["power-coupling-capacitor-leaky"] > 0.3


def test_faults_that_read_the_same_are_one_class_with_the_check_that_parts_them(session: Session) -> None:
    # Positive volts on a power grid: the capacitor leaks or the tube is gassy (a fact of the trade).
    volts = {"out_a.grid": 2.5, "out_b.grid": 0.0, "pi.plate": 185.0, "out.cathode": 17.9}
    suspects = volts_of(session.read([*opened("power-tubes-glow-red"), *readings(volts)])).suspects
    both = next(one for one in suspects if {"C5.leaky", "V3.gassy"} <= set(one.same))
    assert any("lift one end" in check for check in both.checks)
    assert any("swap in a tube" in check for check in both.checks)
    assert {"power-coupling-capacitor-leaky", "power-tube-gassy"} <= set(both.causes)


def test_suspects_are_the_faults_that_may_well_be_behind_the_volts(session: Session) -> None:
    """A plate at the supply: a tube without emission is twice as common as an open cathode resistor. 17 V over what is
    sound point to nothing in particular, and nothing is named."""
    suspects = volts_of(session.read([*opened("one-channel-dead"), *read(v1a_plate=245)])).suspects
    assert [(one.fault, one.text, one.stage) for one in suspects] == [
        ("V1a.dead", "V1a no emission (heater or cathode gone)", "Input stage"), ("R4.open", "R4 open", "Input stage"),
    ]  # fmt: skip
    assert [one.probability for one in suspects] == pytest.approx([2 / 3, 1 / 3], abs=0.05)
    assert [one.predicted for one in suspects] == [{"v1a.plate": pytest.approx(245.1, abs=1.0)}] * 2
    assert [(one.same, one.checks) for one in suspects] == [(("V1a.dead",), ()), (("R4.open",), ())]
    assert suspects[1].causes == ("cathode-resistor-open",)
    assert volts_of(session.read([*opened("one-channel-dead"), *read(v1a_plate=165)])).suspects == ()
    assert volts_of(session.read(opened("one-channel-dead"))).suspects == ()


def test_volts_that_fit_no_fault_are_named_and_believed_little(session: Session) -> None:
    volts = {"bplus_1": 300.0, "bplus_2": 420.0, "bplus_3": 20.0, "v1a.plate": 400.0, "out_a.plate": 10.0}
    now = session.read([*opened("weak-output"), *readings(volts)])
    assert not volts_of(now).explained
    assert FITS_NOT in {conflict.one for conflict in now.conflicts}
    factors = volts_of(now).volts.factors
    assert factors is not None
    assert factors.min() > 0.05


def test_the_volts_speak_once_even_where_a_check_judges_them_too(session: Session) -> None:
    """With one power tube 'the lower of the plate volts' is one test point: for the causes that the circuit judges, the
    band that calls it missing says nothing more."""
    log = opened("weak-output", circuit="single-ended-6v6gt")
    log.append(Reading(at=AT, check="plate-volts", values={"lower": 0.1}))
    now = session.read(log)
    assert volts_of(now).readings == {"out_a.plate": 0.1}
    said = next(one for one in now.ranking.evidence if one.finding == "plate-volts-missing-one-side" and one.present)
    causes = now.ranking.causes
    heeded, shown = causes.rows([said]).shows[0], causes.link(said.finding)
    judged = [causes.column[id_] for id_ in volts_of(now).volts.aside if id_ in causes.column]
    rest = [column for column in range(len(causes.ids)) if column not in judged]
    assert heeded[judged].max() == 0 < shown[judged].max()
    assert np.array_equal(heeded[rest], shown[rest])


# --- repairs, explanation, the next point


def test_after_a_repair_the_volts_start_anew(session: Session) -> None:
    log = [*opened("one-channel-dead"), *readings(DRAWS_NOTHING)]
    assert "input-volts-off" in {target.said.finding for target in session.read(log).ahead.targets}
    log += [RepairDone(at=AT, repair="replace-preamp-tube", cause="preamp-tube-dead")]
    repaired = session.read(log)
    assert "input-volts-off" not in {target.said.finding for target in repaired.ahead.targets}
    assert repaired.ranking.probability["preamp-tube-dead"] > 0.8  # it was so
    again = session.read([*log, *read(v1a_plate=148, v1a_cathode=1.23)])
    assert volts_of(again).readings == {"v1a.plate": 148.0, "v1a.cathode": 1.23}
    assert [epoch.readings for epoch in volts_of(again).epochs] == [DRAWS_NOTHING, volts_of(again).readings]


def test_a_repair_that_touches_no_volts_leaves_the_readings_standing(session: Session) -> None:
    log = [*opened("one-channel-dead"), *readings(DRAWS_NOTHING)]
    log += [RepairDone(at=AT, repair="clean-pot", cause="pot-track-dirty"), *read(v1b_plate=160)]
    assert volts_of(session.read(log)).readings == {**DRAWS_NOTHING, "v1b.plate": 160.0}


def test_a_repair_that_does_not_account_for_the_volts_leaves_the_stage_to_be_explained(session: Session) -> None:
    """A new filter capacitor does not explain a plate at the supply; nor does a repair from before the volts were read."""
    log = [*opened("one-channel-dead"), *readings(DRAWS_NOTHING)]
    capacitor = RepairDone(at=AT, repair="replace-filter-capacitors", cause="filter-capacitor-dried")
    assert capacitor.repair in session.base.repairs
    assert "input-volts-off" in {one.said.finding for one in session.read([*log, capacitor]).ahead.targets}
    tube = RepairDone(at=AT, repair="replace-preamp-tube", cause="preamp-tube-dead")
    before = [*opened("one-channel-dead"), tube, *readings(DRAWS_NOTHING)]
    assert "input-volts-off" in {one.said.finding for one in session.read(before).ahead.targets}


def test_a_fault_is_no_longer_asked_to_explain_volts_read_after_its_repair(session: Session) -> None:
    tube = RepairDone(at=AT, repair="replace-preamp-tube", cause="preamp-tube-dead")
    now = session.read([*opened("one-channel-dead"), tube, *readings(DRAWS_NOTHING)])
    (link,) = [link for (finding, _), (link, _) in volts_of(now).volts.links.items() if finding == "input-volts-off"]
    assert link[now.ranking.causes.column["preamp-tube-dead"]] == 0
    assert link[now.ranking.causes.column["preamp-socket-contacts-loose"]] > 0.1


def test_why_tells_what_the_volts_do_to_a_cause(session: Session) -> None:
    now = session.read([*opened("one-channel-dead"), *readings(DRAWS_NOTHING)])
    weights = reasons(now, "preamp-tube-dead").weights
    assert weights[0].finding == "input-volts-off"
    assert weights[0].log_odds > 3
    assert volts_of(now).predicted("preamp-tube-dead")["v1a.plate"] == pytest.approx(245, abs=3)


def test_the_next_point_is_the_one_that_tells_the_rivals_apart(session: Session) -> None:
    log = [*opened("one-channel-dead"), *read(v1a_plate=245, bplus_3=248)]
    points = [worth for worth in session.read(log).worths if worth.check.startswith("volts-at-")]
    assert points[0].check == point_check("v1a.cathode")
    assert points[0].saves > points[0].minutes == 2, "two minutes, and the work is live already"
    after = session.read([*log, *read(v1a_cathode=5.6)])
    assert all(worth.saves < 1 for worth in after.worths if worth.check.startswith("volts-at-v1a"))


def test_a_point_is_looked_at_in_a_few_bands_that_part_what_its_rivals_would_read(session: Session) -> None:
    """V1a's cathode is sound at 1.23 V; a dead tube leaves nothing there, an open cathode resistor 5.6 V."""
    log = [*opened("one-channel-dead"), *read(v1a_plate=245, bplus_3=248)]
    now = session.read(log)
    points = {worth.check: worth for worth in now.worths if worth.check.startswith("volts-at-")}
    for worth in points.values():
        chances = [chance for _, chance in worth.outcomes]
        assert 2 <= len(chances) <= 7
        assert sum(chances) == pytest.approx(1)
        assert worth.saves >= 0
    assert len(points[point_check("v1a.cathode")].outcomes) >= 3
    dead, open_ = "preamp-tube-dead", "cathode-resistor-open"
    assert 0.05 < now.ranking.probability[open_] < 0.95
    for volts, there, gone in ((0.0, dead, open_), (5.6, open_, dead)):
        after = session.read([*log, *read(v1a_cathode=volts)]).ranking.probability
        assert after[gone] < 0.05 < 0.5 < after[there]


def test_before_any_volts_both_tubes_may_be_the_dead_one_and_a_plate_at_the_supply_says_which(session: Session) -> None:
    """So V1b's plate is worth a look at first, and worth next to nothing once V1a's sits at the supply."""

    def saves(log: list[LogEntry]) -> float:
        return max((one.saves for one in session.read(log).worths if one.check == point_check("v1b.plate")), default=0.0)

    before, after = opened("one-channel-dead"), [*opened("one-channel-dead"), *read(v1a_plate=245, bplus_3=248)]
    assert saves(after) < saves(before) / 2


def test_a_point_is_said_to_read_otherwise_with_the_leading_causes(session: Session) -> None:
    now = session.read([*opened("one-channel-dead"), *read(v1a_plate=245, bplus_3=248)])
    told = {one.cause: one.volts for one in now.would_read(now.base.checks[point_check("v1a.cathode")])}
    assert told["preamp-tube-dead"] == pytest.approx(0.0, abs=0.05)
    assert told["cathode-resistor-open"] == pytest.approx(5.6, abs=0.5)


def test_before_any_volts_are_read_a_cause_stands_for_the_middle_degree_of_its_commonest_fault(session: Session) -> None:
    """V1a's cathode is sound at 1.23 V. With no current it reads nothing; a weak tube takes it anywhere from 0.95 to 0.2 V,
    and a tube of the other stage, as common a fault, does not move it at all: that one does not stand for the cause."""
    now = session.read(opened("one-channel-dead"))
    check = now.base.checks[point_check("v1a.cathode")]
    told = now.would_read(check)
    assert {one.fault: one.volts for one in told[:3]} == {
        "V1a.weak": pytest.approx(0.60, abs=0.08), "R3.open": pytest.approx(0, abs=0.02), "V1a.dead": pytest.approx(0, abs=0.02),
    }  # fmt: skip
    chances = [now.ranking.probability[one.cause] for one in told]
    assert chances == sorted(chances, reverse=True)
    assert len(told) == 4
    sound, sigma = volts_of(now).known.chart["v1a.cathode"]
    assert all(abs(one.volts - sound) > 2 * sigma for one in told), "only what would be seen"
    assert now.would_read(now.base.checks["plate-volts"]) == (), "a check of several points says nothing of one"


def test_the_same_log_gives_the_same_standing(session: Session) -> None:
    log = [*opened("one-channel-dead", "weak-output"), *readings(DRAWS_NOTHING)]
    one, other = session.read(log), Session(shipped_knowledge()).read(list(log))
    assert one.ranking.probability == other.ranking.probability
    assert one.next == other.next
    assert one.worths == other.worths


@pytest.mark.parametrize("name", Circuits().names())
def test_every_fault_that_the_volts_show_is_a_cause_of_the_knowledge_base(session: Session, name: str) -> None:
    """Else the volts would name a fault for which nothing is known: no repair, no proof."""
    known = session.known(name)
    assert not isinstance(known, str)
    book, owned = known.book, {number for ours in known.shares.values() for number, _ in ours}
    away = np.abs(book.expected.mean - book.expected.mean[0]) > BAND * np.array([known.chart[point][1] for point in book.points])
    seen = set(book.row_fault[away.any(axis=1) & book.expected.converged].tolist()) - {-1}
    assert len(seen) > 50
    assert [book.faults[number].id for number in seen - owned] == []
