"""'It hums' is a complaint; which hum it is, is asked before anything else."""

from datetime import UTC, datetime

from chopstick.engine.reasoning.log import Answer, Complaint, LogEntry, Opened
from chopstick.engine.reasoning.session import Session

from ..shipped import shipped_knowledge

AT = datetime(2026, 1, 1, 9, tzinfo=UTC)


def told(*entries: LogEntry) -> list[LogEntry]:
    return [Opened(at=AT, title="job", fingerprint="f" * 64), Complaint(at=AT, says="noisy", symptom="noisy"), *entries]


def answered(family: str, key: str) -> Answer:
    return Answer(at=AT, check=f"which-{family}", answer=key)


def test_whatever_shows_a_kind_shows_its_family() -> None:
    base = shipped_knowledge()
    for family, kinds in base.kinds.items():
        showing = {cause for kind in kinds for cause in base.causes_showing.get(kind, ())}
        assert showing, family
        assert showing <= set(base.causes_showing[family]), family


def test_the_question_comes_first_and_the_kind_stands_for_the_complaint() -> None:
    session = Session(shipped_knowledge())
    log = told()
    assert session.read(log).next.id == "which-noisy"
    log = told(answered("noisy", "hum"))
    now = session.read(log)
    assert (now.next.id, [one[0] for one in now.facts.complaints]) == ("which-hums", ["hums"]), "a family again"
    log = told(answered("noisy", "hum"), answered("hums", "always"))
    now = session.read(log)
    assert [one[0] for one in now.facts.complaints] == ["hum-constant"]
    assert not {"noisy", "hums"} & {said.finding for said in now.facts.evidence()}, "the kind says it, once"


def test_none_of_the_kinds_leaves_the_family() -> None:
    now = Session(shipped_knowledge()).read(told(answered("noisy", "other")))
    assert [one[0] for one in now.facts.complaints] == ["noisy"]
    assert now.facts.latest()["hiss"].present is False
    assert now.next.id != "which-noisy"
