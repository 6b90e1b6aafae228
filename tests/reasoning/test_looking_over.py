"""Looking a list over in one go, and asking a complaint again once it should be cured."""

from collections.abc import Callable
from datetime import datetime

import pytest
from chopstick.engine.reasoning.log import CANT_TELL, Answer, Complaint, LogEntry, Opened
from chopstick.engine.reasoning.session import Session

from ..shipped import shipped_knowledge

Job = Callable[..., list[LogEntry]]
AT = datetime(2026, 1, 1)
SINGLE = {
    "look-at-mains-plug", "look-at-mains-cord", "look-at-mains-fuse", "look-at-mains-wiring", "look-for-line-capacitor",
}  # fmt: skip


@pytest.fixture(scope="module")
def shipped() -> Session:
    return Session(shipped_knowledge())


def _after(session: Session, answer: str) -> tuple[set[str], dict[str, bool]]:
    """The safety checks still due, and what is known, once the mains side has been looked over."""
    log: list[LogEntry] = [
        Opened(at=AT, title="a", fingerprint="", amp={"era": "before-1960"}),
        Complaint(at=AT, says="it hums", symptom="hum-constant"),
        Answer(at=AT, check="look-over-mains-side", answer=answer),
    ]
    standing = session.read(log)
    known = {id_: said.present for id_, said in standing.facts.latest().items()}
    return {check.id for check in standing.plan.safety_checks()}, known


def test_all_sound_settles_every_point_of_the_mains_side(shipped: Session) -> None:
    due, known = _after(shipped, "sound")
    assert not SINGLE & due
    every = {finding for id_ in SINGLE for finding in shipped.base.checks[id_].findings()}
    assert {finding for finding in every if known.get(finding, True)} == set(), "each is known, and absent"
    assert "measure-protective-earth" in due, "the earth is still measured"


@pytest.mark.parametrize("answer", ["not-all", CANT_TELL])
def test_anything_less_asks_each_point_by_itself(shipped: Session, answer: str) -> None:
    due, known = _after(shipped, answer)
    assert due >= SINGLE
    assert set(known) == {"hum-constant"}


def test_a_modern_filter_is_told_from_an_old_line_capacitor(shipped: Session) -> None:
    due, known = _after(shipped, "filter")
    assert not SINGLE & due
    assert (known["mains-filter-fitted"], known["line-capacitor-fitted"]) == (True, False)


def test_a_hand_built_amp_asks_for_few_looks_before_power(shipped: Session) -> None:
    log: list[LogEntry] = [
        Opened(at=AT, title="a", fingerprint="", amp={"kit-built": "present"}),
        Complaint(at=AT, says="it hums", symptom="hum-constant"),
    ]
    due = shipped.read(log).plan.safety_checks()
    assert len(due) <= 8
    assert {"polarity-against-drawing", "power-transformer-leads-ohms", "measure-protective-earth"} <= {c.id for c in due}


LEAKY = [
    ("look-at-plug", "yes"),
    ("hold:ready-for-power", True),
    ("pot-dc", "900 mV"),
    ("hold:discharged", True),
    ("repair:change-capacitor", "capacitor-leaky"),
    ("hold:ready-for-power", True),
    ("pot-dc", "2 mV"),
]


def test_after_the_proof_the_complaint_is_asked_again_in_its_own_words(session: Session, job: Job) -> None:
    """The DC is gone, which says nothing of the crackle: so the crackle is asked about."""
    standing = session.read(job("knob-crackle", then=LEAKY))
    assert (standing.next.kind, standing.next.id, standing.next.cause) == ("proof", "again-knob-crackle", "capacitor-leaky")
    assert standing.base.checks["again-knob-crackle"].ask == "Does it crackle?"
    gone = session.read(job("knob-crackle", then=[*LEAKY, ("again-knob-crackle", "no")]))
    assert gone.complaints[0].verdict == "proven"
    assert gone.next.kind == "done"
    stays = session.read(job("knob-crackle", then=[*LEAKY, ("again-knob-crackle", "yes")]))
    assert stays.complaints[0].verdict != "proven"
    assert stays.ranking.probability["track-dirty"] > standing.ranking.probability["track-dirty"]


def test_a_proof_that_settles_the_complaint_is_enough(session: Session, job: Job) -> None:
    then = [("look-at-plug", "yes"), ("repair:clean-pot", "track-dirty"), ("turn-it", "no")]
    assert session.read(job("knob-crackle", then=then)).next.id != "again-knob-crackle"


def test_it_is_asked_once_only(session: Session, job: Job) -> None:
    cant_tell = session.read(job("knob-crackle", then=[*LEAKY, ("again-knob-crackle", CANT_TELL)]))
    assert cant_tell.next.kind != "proof"


def test_a_symptom_that_bears_on_safety_is_never_tried_again(shipped: Session) -> None:
    """Nobody is asked to touch a chassis to see whether it still bites."""
    assert "tingle-from-chassis" not in shipped.base.again
    assert "hum-constant" in shipped.base.again
    assert {check.stage for check in shipped.base.again.values()} == {"play"}
