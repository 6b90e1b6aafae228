"""What comes next, and what must come before it."""

from collections.abc import Callable

from chopstick.engine.reasoning.log import LogEntry
from chopstick.engine.reasoning.session import Session

Job = Callable[..., list[LogEntry]]


def test_the_mains_plug_is_looked_at_before_anything(session: Session, job: Job) -> None:
    step = session.read(job("knob-crackle")).next
    assert (step.kind, step.id) == ("check", "look-at-plug")
    assert "safety" in step.why


def test_no_cold_work_before_the_amp_is_discharged(session: Session, job: Job) -> None:
    standing = session.read(job("knob-crackle", then=[("look-at-plug", "yes"), ("turn-it", "yes")]))
    hold = standing.plan.blocked_by("cold")
    assert hold is not None
    assert hold.hold.id == "discharged"


def test_a_missing_earth_stops_the_job_until_it_is_mended(session: Session, job: Job) -> None:
    log = job("tubes-run-hot", then=[("look-at-plug", "no")])
    asked = session.read(log).next
    assert (asked.kind, asked.id) == ("hold", "earth-first")
    refused = session.read(job("tubes-run-hot", then=[("look-at-plug", "no"), ("hold:earth-first", False)]))
    assert refused.plan.blocked_by("live") is not None
    while refused.next.kind not in ("held", "repair"):
        assert refused.next.kind == "hold"
        assert refused.base.holds[refused.next.id].blocks == "cold"
        log = job(
            "tubes-run-hot",
            then=[("look-at-plug", "no"), ("hold:earth-first", False), (f"hold:{refused.next.id}", True)],
        )
        refused = session.read(log)
    assert (refused.next.kind, refused.next.id) == ("repair", "fit-cord")


def test_a_repair_is_proposed_when_checking_no_longer_pays(session: Session, job: Job) -> None:
    then = [
        ("look-at-plug", "yes"),
        ("hold:ready-for-power", True),
        ("pot-dc", "900 mV"),
        ("hold:discharged", True),
    ]
    step = session.read(job("knob-crackle", then=then)).next
    assert (step.kind, step.id, step.cause) == ("repair", "change-capacitor", "capacitor-leaky")


def test_after_a_repair_its_proof_is_asked(session: Session, job: Job) -> None:
    then = [
        ("look-at-plug", "yes"),
        ("hold:discharged", True),
        ("pot-ohms", "yes"),
        ("repair:change-capacitor", "capacitor-leaky"),
        ("hold:ready-for-power", True),
    ]
    step = session.read(job("knob-crackle", then=then)).next
    assert (step.kind, step.id) == ("proof", "pot-dc")


def test_a_failed_proof_reopens_the_question(session: Session, job: Job) -> None:
    """Cleaning did not help: the dirty track falls back, the other causes of crackle rise."""
    before = session.read(job("knob-crackle", then=[("look-at-plug", "yes")]))
    after = session.read(
        job("knob-crackle", then=[("look-at-plug", "yes"), ("repair:clean-pot", "track-dirty"), ("turn-it", "yes")])
    )
    assert before.complaints[0].candidates[0].cause == "track-dirty"
    assert after.ranking.probability["track-dirty"] < before.ranking.probability["track-dirty"] / 2
    assert after.ranking.probability["capacitor-leaky"] > before.ranking.probability["capacitor-leaky"]
    assert after.complaints[0].verdict in ("checks", "repair")


def test_a_passed_proof_closes_the_complaint(session: Session, job: Job) -> None:
    standing = session.read(
        job("knob-crackle", then=[("look-at-plug", "yes"), ("repair:clean-pot", "track-dirty"), ("turn-it", "no")])
    )
    assert standing.complaints[0].verdict == "proven"
    assert standing.ranking.probability["track-dirty"] >= 0.8


def test_rules_chain_and_say_why(session: Session, job: Job) -> None:
    """170 per cent at idle concludes a lost bias, which in turn gives advice and raises the odds of the cause."""
    log = job(
        "tubes-run-hot",
        amp={"power-tube": "6V6GT"},
        then=[("look-at-plug", "yes"), ("hold:ready-for-power", True), ("idle", {"plate": "400V", "cathode": "60mA"})],
    )
    standing = session.read(log)
    assert ("Switch off now.", "lost-bias-is-urgent") in standing.deduction.advice
    assert standing.deduction.factors == {"bias-off": 10}
    assert standing.deduction.spoken["lost-bias-is-urgent"].because == (
        "not so: The plug has no protective earth",
        "The bias is lost",
    )
    assert standing.ranking.probability["bias-off"] > 0.99


def test_same_log_same_standing(session: Session, job: Job) -> None:
    log = job("knob-crackle", "tubes-run-hot", then=[("look-at-plug", "yes"), ("turn-it", "yes")])
    one, other = session.read(log), Session(session.base).read(list(log))
    assert one.ranking.probability == other.ranking.probability
    assert one.next == other.next


def test_a_safety_check_of_a_rare_kind_of_amp_waits_until_the_amp_is_known_to_be_one() -> None:
    """Hand-built amps ask for more looks before power; an amp of unknown make begins with its mains side."""
    from datetime import datetime

    from chopstick.engine.knowledge import load
    from chopstick.engine.reasoning.log import Complaint, Opened

    session = Session(load.load())
    at = datetime(2026, 1, 1)

    def due(amp: dict[str, str]) -> list[str]:
        log = [Opened(at=at, title="a", fingerprint="", amp=amp), Complaint(at=at, says="hum", symptom="hum-constant")]
        return [check.id for check in session.read(log).plan.safety_checks()]

    kit_only = {check.id for check in session.base.checks.values() if check.safety and "kit-built" in check.needs}
    assert kit_only
    assert "look-over-mains-side" in due({})[:3]
    assert not kit_only & set(due({}))
    assert kit_only & set(due({"kit-built": "present"}))
    assert "look-over-mains-side" in due({"kit-built": "present"})
