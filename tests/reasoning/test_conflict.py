"""Answers that do not fit together are named."""

from collections.abc import Callable

from chopstick.engine.reasoning.log import LogEntry
from chopstick.engine.reasoning.session import Session

Job = Callable[..., list[LogEntry]]


def test_the_same_thing_said_both_ways(session: Session, job: Job) -> None:
    standing = session.read(job("knob-crackle", then=[("pot-ohms", "yes"), ("pot-dc", "2 mV")]))
    named = {(one.one, one.other) for one in standing.conflicts}
    assert ("dc-on-pot", "dc-on-pot") in named
    assert any("said both ways" in one.why for one in standing.conflicts)


def test_answering_the_same_check_again_is_a_correction(session: Session, job: Job) -> None:
    standing = session.read(job("knob-crackle", then=[("pot-dc", "400 mV"), ("pot-dc", "2 mV")]))
    assert standing.conflicts == ()


def test_what_can_not_be_true_together(session: Session, job: Job) -> None:
    """Idle at 200 per cent means a lost bias, which makes plates glow; they were seen dark."""
    hot = ("idle", {"plate": "400V", "cathode": "60mA"})
    log = job("tubes-run-hot", amp={"power-tube": "6V6GT"}, then=[hot, ("look-at-plates", "no")])
    assert ("bias-lost", "plates-dark") in {(one.one, one.other) for one in session.read(log).conflicts}
    assert session.read(log[:-1]).conflicts == ()


def test_an_ordinary_job_has_none(session: Session, job: Job) -> None:
    standing = session.read(job("knob-crackle", then=[("look-at-plug", "yes"), ("pot-dc", "900 mV"), ("turn-it", "yes")]))
    assert standing.conflicts == ()


def test_what_is_hard_to_believe_together(session: Session) -> None:
    """An idle over the rating comes of a lost bias here, and a lost bias nearly always runs the tubes hot: told that
    they are not hot, the reading would be met in few amps. DC on a pot has nothing to do with it and is not named."""
    from chopstick.engine.reasoning.conflict import conflicts
    from chopstick.engine.reasoning.deduce import Deduction
    from chopstick.engine.reasoning.facts import Facts, Said
    from chopstick.engine.reasoning.ranking import causes_of, rank

    said = (
        Said("tubes-run-hot", False, 2, ""),
        Said("idle-over-rating", True, 3, ""),
        Said("dc-on-pot", True, 4, ""),
    )

    def named(*statements: Said) -> set[tuple[str, str]]:
        facts = Facts(said=statements)
        ranking = rank(causes_of(session.base, {}), facts, Deduction())
        return {(one.one, one.other) for one in conflicts(session.base, facts, Deduction(), ranking)}

    assert named(*said) == {("idle-over-rating", "tubes-run-hot")}
    assert named(*said[1:]) == set()
