"""What each paper says of a job: the right things, in a safe order, and the same each time."""

from __future__ import annotations

from typing import Any

import pytest
from chopstick.cli.papers import write
from chopstick.cli.papers.checklist import check_over, checklist
from chopstick.cli.papers.estimate import estimate
from chopstick.cli.papers.handback import hand_back
from chopstick.cli.papers.models import OWNERS_CAUTION, Pair
from chopstick.cli.papers.record import record
from chopstick.cli.papers.work import work_order
from chopstick.engine.jobs.shop import estimate as engine
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.model import STAGES
from chopstick.engine.reasoning.check_over import round_of_checks
from chopstick.engine.reasoning.log import Approved, Details, HoldAnswered, LogEntry, Opened, Reading
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.steps import reach

from .conftest import clock


@pytest.mark.parametrize("kind", ["checklist", "check-over"])
def test_it_runs_through_the_stages_with_each_hold_before_what_it_bars(papers: dict[str, Any], kind: str) -> None:
    sheet = papers[kind]
    assert [line.number for line in sheet.lines] == list(range(1, len(sheet.lines) + 1))
    stages = [stage.stage for stage in sheet.stages]
    assert stages == sorted(stages, key=lambda stage: STAGES.index(stage))
    order = [line.of for line in sheet.lines]
    assert order.index("look-at-cord") < order.index("ready-for-live")
    assert order.index("ready-for-live") < order.index("control-dc")


def test_each_stage_tells_every_caution_of_its_checks_in_full(papers: dict[str, Any], session: Session) -> None:
    for stage in papers["checklist"].stages:
        told = {pair.label for pair in stage.cautions}
        assert {name for item in stage.items for name in item.cautions} <= told
        assert all(session.base.cautions[pair.label.replace(" ", "-")].text == pair.text for pair in stage.cautions)


def test_a_reading_has_room_its_unit_its_point_and_what_its_ranges_mean(papers: dict[str, Any]) -> None:
    line = next(line for line in papers["checklist"].lines if line.reading == "plate-volts")
    assert (line.unit, line.point) == ("V", "out_a.plate")
    assert line.bands == ("over 350 V: over the rating", "under 350 V: within the rating")
    item = next(i for s in papers["checklist"].stages for i in s.items if i.check == "plates")
    assert item.worked_out == ("plate dissipation of the rating: over 70 %: too hot; under 70 %: not too hot",)


def test_ok_is_the_answer_of_a_healthy_amp(papers: dict[str, Any]) -> None:
    by_check = {line.of: line.ok for line in papers["check-over"].lines}
    assert by_check["look-at-cord"] == "yes"  # it has an earth wire
    assert {line.ok for line in papers["check-over"].lines if line.kind == "hold"} == {"yes"}


def test_a_check_over_has_every_safety_check_though_nobody_complains(session: Session) -> None:
    opened = Opened(at=clock()(), title="", fingerprint=session.base.fingerprint)
    sheet = check_over(session.read([opened]))
    assert {check.id for check in session.base.checks.values() if check.safety} <= {line.of for line in sheet.lines}
    assert sheet.head.blank


def test_a_round_keeps_to_its_minutes_and_to_a_safe_order(session: Session, begun: list[LogEntry]) -> None:
    now = session.read(begun)
    for minutes in (0, 3, 6, 60):
        checks = round_of_checks(now, minutes)
        assert sum(check.minutes for check in checks if not check.safety) <= minutes
        assert [reach(check.stage) for check in checks] == sorted(reach(check.stage) for check in checks)
        assert all(check.safety for check in checks) or minutes


def test_a_longer_round_sees_no_fewer_faults(session: Session, begun: list[LogEntry]) -> None:
    now = session.read(begun)
    sizes = [len(round_of_checks(now, minutes)) for minutes in (0, 5, 10, 20, 40)]
    assert sizes == sorted(sizes)


def test_the_work_order_has_steps_parts_and_proof(papers: dict[str, Any]) -> None:
    order = papers["work-order"]
    assert {work.name for work in order.works} == {"Replace the coupling capacitor", "Fit the rectifier it was designed for"}
    for work in order.works:
        assert work.steps
        assert work.proof.wants
        assert work.caution_ids
    assert order.holds


def test_the_estimate_has_the_sums_of_the_job_and_room_for_the_owners_word(session: Session, priced: KnowledgeBase, log: list[LogEntry]) -> None:
    half = [*log[:8], Details(at=log[7].at, serial="A 1234", budget=20, currency="EUR")]
    now = Session(priced).read(half)
    paper, made = estimate(now, half, 7), engine.estimate(now, half)
    assert made.total is not None
    assert Pair("most likely", f"about {made.total.likely:,.2f} EUR") in paper.comes_to
    text = write.text(paper, "html")
    assert "Replace the coupling capacitor" in [work.name for work in made.works]
    assert all(f"<strong>{work.total:.2f} EUR</strong>" in text for work in made.works)
    assert "Even the low end is over the owner&#39;s budget of 20.00 EUR: ask before going on." in text
    assert "Go ahead, up to" in write.text(paper, "html")
    approved = [*half, Approved(at=log[7].at, high=60, currency="EUR", by="the owner")]
    said = estimate(Session(priced).read(approved), approved, 7).approval
    assert said == "Approved by the owner on 2026-03-02, up to 60.00 EUR."
    assert work_order(Session(priced).read(approved), approved, 7).approved == said


def test_an_estimate_without_prices_says_so_and_makes_no_sum(papers: dict[str, Any]) -> None:
    paper = papers["estimate"]
    assert [pair.label for pair in paper.comes_to] == ["bench time"]
    assert paper.missing[0].startswith("labor")
    assert all(work.total is None for work in paper.made.works if work.parts)


def test_readings_taken_again_stand_beside_the_first(session: Session, log: list[LogEntry]) -> None:
    """2.5 V of DC on a control before its coupling capacitor was replaced, 10 mV after it: below the limit of 0.2 V."""
    after = [*log, HoldAnswered(at=log[-1].at, hold="ready-for-live", cleared=True),
             Reading(at=log[-1].at, check="control-dc", values={"volts": 0.01})]  # fmt: skip
    report = hand_back(session.read(after), after, 7)
    row = next(one for one in report.compared if one.what == "DC at the top of the control")
    assert (row.before, row.after, row.limits) == ("2.5 V", "10 mV", "200 mV or less")


def test_the_owner_reads_what_was_said_found_and_done(papers: dict[str, Any]) -> None:
    report = papers["hand-back"]
    assert [one.says for one in report.endings] == ["it crackles when I turn the volume", "the big tubes get far too hot"]
    assert any(text.startswith("Leaky coupling capacitor") for text in report.found)
    assert any(one.before == "there" and one.after == "gone" for one in report.compared)
    assert report.head.caution == OWNERS_CAUTION
    assert not report.head.sheet


def test_the_record_has_every_entry_reading_and_sum(papers: dict[str, Any], log: list[LogEntry]) -> None:
    record = papers["record"]
    assert len(record.entries) == len(log)
    assert {(row.name, row.value) for row in record.readings} >= {("Plate to cathode", 462.5), ("Cathode current of one tube", 28.0)}
    assert any("462.5 V" in step for one in record.sums for step in one.figure.steps)
    assert next(row for row in record.readings if row.value == 462.5).verdict == "over the rating"


def test_the_record_draws_the_taper_and_the_load_line() -> None:
    """Readings of an audio-taper control of 1 megohm, 15 % at half travel (common practice, no source), and of a triode
    stage of 100 k and 1.5 k on 300 V."""
    from chopstick.engine.knowledge import cache

    base = cache.load(None, ())
    sweep = {"volume-total": 1e6, "volume-at-quarter": 4e4, "volume-at-half": 1.5e5, "volume-at-three-quarters": 4.2e5}
    stage = next(check for check in base.checks.values() if any(f.compute == "stage.expected_plate_V" for f in check.figures.values()))
    volts = {"V": 180.0, "ohm": 100e3}
    read = {name: volts[one.unit] for name, one in stage.readings.items()}
    read |= {name: 300.0 for name in read if name.endswith("node")}
    read |= {name: 1.5 for name in read if name.endswith("-cathode")}
    read |= {name: 1500.0 for name in read if name.endswith("cathode-resistor")}
    at = clock()
    log = [
        Opened(at=at(), title="", fingerprint=base.fingerprint),
        Reading(at=at(), check="volume-pot-law-ohms", values=sweep),
        Reading(at=at(), check=stage.id, values=read),
    ]
    paper = record(Session(base).read(log), log, 7)
    drawn = {one.name: one.figure.curve for one in paper.sums if one.figure.curve}
    assert "plate volts by the load line" in drawn
    taper = drawn["taper of the control"]
    assert [name for name, _, _ in taper.lines] == ["fit", "read"]
    assert dict(zip(*taper.lines[1][1:], strict=True)) == pytest.approx({0: 0, 25: 4, 50: 15, 75: 42, 100: 100})
    assert write.text(paper, "html").count("<svg") == len(drawn)


def test_a_chosen_circuit_tells_what_its_test_points_should_read() -> None:
    from chopstick.engine.knowledge import cache
    from chopstick.engine.reasoning.log import CircuitChosen, Complaint

    base, at = cache.load(None, ()), clock()
    log = [
        Opened(at=at(), title="", fingerprint=base.fingerprint, amp={"power-tube": "6V6GT", "bias": "cathode"}),
        Complaint(at=at(), says="it is dead", symptom="one-channel-dead"),
        CircuitChosen(at=at(), circuit="cathode-biased-2x6v6gt-split-load"),
    ]
    reading = Session(base)
    points = [item for stage in checklist(reading.read(log), log, 7).stages for item in stage.items if item.check.startswith("volts-at-")]
    assert points
    assert all("good parts give" in item.normal for item in points)
    log.append(Reading(at=at(), check="volts-at-v1a-plate", values={"volts": 245.0}))
    paper = record(reading.read(log), log, 7)
    assert paper.volts is not None
    (row,) = paper.volts.readings
    assert (row.point, row.volts, row.fits) == ("v1a.plate", 245.0, False)
    assert "<strong>NO</strong>" in write.text(paper, "html")


def test_the_nearest_circuit_tells_more_widely() -> None:
    from chopstick.engine.knowledge import cache

    base = cache.load(None, ())
    amp: dict[str, str | bool | float] = {
        "power-tube": "6V6GT", "power-tube-count": 2.0, "output-class": "push-pull", "bias": "cathode", "inverter": "split-load",
        "rectifier": "5Y3GT",
    }  # fmt: skip
    opened = Opened(at=clock()(), title="", fingerprint=base.fingerprint, amp=amp)
    told = [line.expected for line in check_over(Session(base).read([opened])).lines if line.expected]
    assert told
    assert all("widely, by the nearest circuit: cathode-biased-2x6v6gt-split-load" in text for text in told)


def test_papers_are_a_pure_function_of_the_log(session: Session, begun: list[LogEntry]) -> None:
    once, again = (checklist(Session(session.base).read(begun), begun, 7) for _ in range(2))
    assert once == again
    assert write.text(once, "html") == write.text(again, "html")


@pytest.mark.parametrize("kind", ["intake", "check-over", "checklist", "estimate", "work-order", "hand-back", "record"])
def test_every_text_of_a_paper_is_on_it(papers: dict[str, Any], kind: str) -> None:
    html, plain = write.text(papers[kind], "html"), write.text(papers[kind], "md")
    assert papers[kind].head.title in html
    assert plain.startswith(f"# {papers[kind].head.title}")
