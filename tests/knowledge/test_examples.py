"""The eleven worked examples: sound, true to the schema that editors use, and at work on real jobs."""

import json
import re
from datetime import datetime, timedelta
from pathlib import Path

import jsonschema
import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.layers import Layer, needs_unmet
from chopstick.engine.reasoning.answers import entry
from chopstick.engine.reasoning.log import Complaint, LogEntry, Opened
from chopstick.engine.reasoning.session import Session, Standing
from chopstick.engine.reference.text import read_file

SHOP = load.shipped() / "examples" / "shop"
LAYER = Layer("shop", "shop", SHOP)
FILES = sorted((SHOP / "areas").glob("*.yaml"))
AT = datetime(2026, 3, 2, 9, 0)


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return load.load(layers=[LAYER])


@pytest.fixture(scope="module")
def session(base: KnowledgeBase) -> Session:
    return Session(base)


def read(session: Session, *symptoms: str, amp: dict[str, str] | None = None, **checks: object) -> Standing:
    log: list[LogEntry] = [Opened(at=AT, title="job", fingerprint="", amp=amp or {})]  # type: ignore[arg-type]
    log += [Complaint(at=AT, says=id_, symptom=id_) for id_ in symptoms]
    log += [entry(session.base.checks[id_.replace("_", "-")], typed, AT) for id_, typed in checks.items()]  # type: ignore[arg-type]
    return session.read(log)


def test_they_have_no_problem_not_even_a_warning() -> None:
    ours = {str(file) for file in FILES}
    assert [str(one) for one in load.check(layers=[LAYER]) if one.where.file in ours or one.severity == "error"] == []
    assert list(needs_unmet([LAYER], "0.1.0")) == []


def test_there_are_eleven_each_explained() -> None:
    text = "".join(file.read_text() for file in FILES)
    assert re.findall(r"# Example (\d+)\. ", text) == [str(n) for n in range(1, 12)]


@pytest.mark.parametrize("file", FILES, ids=[file.stem for file in FILES])
def test_they_fit_the_schema_that_editors_use(file: Path) -> None:
    schema = load.shipped() / "schema" / "overlay.schema.json"
    assert file.read_text().startswith("# yaml-language-server: $schema=../../../schema/overlay.schema.json\n")
    jsonschema.validate(read_file(file).value, json.loads(schema.read_text()))


def test_every_rule_carries_examples_of_its_own(base: KnowledgeBase) -> None:
    ours = [rule for rule in base.rules.values() if Path(rule.where.file) in FILES]
    assert len(ours) >= 7
    assert all(rule.examples for rule in ours)


def test_terms_and_prices_make_an_estimate(session: Session) -> None:
    """A crackling knob: cleaning it and a leaky capacitor are both priced, in the shop's currency."""
    from chopstick.engine.jobs.shop.estimate import estimate

    now = read(session, "knob-crackle")
    made = estimate(now, [Opened(at=AT, title="job", fingerprint=""), Complaint(at=AT, says="", symptom="knob-crackle")])
    assert (made.currency, made.hour, session.base.shop.warranty_days) == ("EUR", 60, 180)
    cost = {work.repair: work.parts_cost for work in made.works}
    assert cost["clean-control-track"] == 0.4
    assert 1.8 in cost.values()
    assert made.total is not None


def test_they_use_every_form_that_a_layer_adds(base: KnowledgeBase) -> None:
    """Complaints, answers, counts, absence, other rules, comparisons between readings, time; and each new conclusion."""
    text = "".join(file.read_text() for file in FILES)
    for form in ("complaint:", "answer:", "at_least:", "unknown:", "spoken:", "times:", "since:", "amp:", "not:"):
        assert form in text
    forms = {c.form for rule in base.rules.values() if Path(rule.where.file) in FILES for c in rule.then}
    assert forms >= {
        "raise", "lower", "advice", "prefer", "forbid", "check_first", "skip", "repair_minutes", "price", "hold", "conclude",
    }  # fmt: skip


def test_damp_tarnishes_jacks(session: Session) -> None:
    """Example 4."""
    damp = read(session, "jack-intermittent", amp={"storage": "damp"}).ranking.probability
    dry = read(session, "jack-intermittent", amp={"storage": "dry"}).ranking.probability
    assert damp["jack-contacts-dirty"] > dry["jack-contacts-dirty"]
    assert damp["jack-spring-weak"] < dry["jack-spring-weak"]


def test_a_pair_far_apart_wants_new_tubes(session: Session) -> None:
    """Example 5."""
    apart = read(session, "power-tubes-run-hot", pair_idle_current={"side-a": 46, "side-b": 28})
    cause = session.base.causes["power-tubes-mismatched"]
    assert apart.deduction.repairs(cause)[0] == "replace-power-tubes"
    near = read(session, "power-tubes-run-hot", pair_idle_current={"side-a": 38, "side-b": 34})
    assert near.deduction.repairs(cause)[0] == "match-power-tubes"


def test_a_fault_that_comes_warm_wants_twenty_minutes(session: Session) -> None:
    """Example 7: by the job's own times."""
    log: list[LogEntry] = [
        Opened(at=AT, title="job", fingerprint=""),
        Complaint(at=AT + timedelta(minutes=2), says="fades", symptom="fades-or-distorts-when-warm"),
    ]
    assert "not-warm-yet" in session.read(log).deduction.spoken
    later = [log[0], log[1].model_copy(update={"at": AT + timedelta(minutes=40)})]
    assert "not-warm-yet" not in session.read(later).deduction.spoken


def test_a_track_cleaned_in_vain_is_replaced_and_priced(session: Session) -> None:
    """Examples 2 and 9."""
    board = read(session, "knob-crackle", amp={"board": "printed"}, clean_and_listen="back")
    base, cause = session.base, session.base.causes["pot-track-dirty"]
    repair = base.repairs["replace-control"]
    assert board.deduction.repairs(cause) == ("replace-control",)
    (part,) = repair.parts
    price = base.price_of(part)
    assert price is not None
    assert (price.each, price.currency) == (pytest.approx(6.5), "EUR")
    assert board.deduction.changed_price(repair, price.each) == pytest.approx(6.5 + 2.5)
    assert board.deduction.repair_minutes(repair) == repair.minutes * 1.5
    fibre = read(session, "knob-crackle", amp={"board": "fibre"}, clean_and_listen="back")
    assert fibre.deduction.changed_price(repair, price.each) == pytest.approx(6.5)


def test_gnawed_wiring_stops_the_work(session: Session) -> None:
    """Example 10: the shop's own check raises the shipped hold, and nothing under power is offered."""
    now = read(session, "smells-of-mice", look_for_gnawing="yes")
    raised = {hold.hold for hold in now.holds if hold.rule}
    assert "charred-mains-wiring" in raised
    hold = now.plan.blocked_by(session.base.checks["plate-dissipation"])
    assert hold is not None
    assert hold.kind in ("raised", "danger")
