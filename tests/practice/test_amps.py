"""The practice amps: every one answers as it would on the bench, and can be mended by going as the plan goes."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from chopstick.engine.practice import amps, circuits, score
from chopstick.engine.reasoning.log import Answer, HoldAnswered, Reading, RepairDone
from chopstick.engine.reasoning.plan import worthwhile
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.voltages import KnownCircuit

from ..shipped import shipped_knowledge

AT = datetime(2026, 1, 1)
SAMPLES = Path(__file__).parents[1] / "sessions"
QUICK = ("attic-amp-with-frozen-knobs", "club-combo-rattles-and-crackles", "two-pin-combo-that-bites",
         "torn-cone-and-a-lead-that-slaps")  # fmt: skip


@pytest.fixture(scope="module")
def session() -> Session:
    return Session(shipped_knowledge(), "junior")


def amp(session: Session, name: str) -> amps.Amp:
    return amps.read(next(path for path in amps.files() if path.stem == name), session)


def test_there_are_enough_of_them_and_a_seed_always_brings_the_same(session: Session) -> None:
    assert len(amps.files()) >= 12
    for seed in (3, 4):
        assert circuits.choose(session, None, seed).file == circuits.choose(session, None, seed).file
    kinds = {bool(circuits.choose(session, None, seed).circuit) for seed in range(8)}
    assert kinds == {True, False}  # sample jobs, and circuits with one bad part


def test_an_amp_of_a_circuit_reads_wrong_where_its_bad_part_is_and_right_once_that_is_mended(session: Session) -> None:
    """The same spread that the dictionary of faults has: sound parts stay within about 4 standard deviations."""
    one = circuits.amp("single-ended-6v6gt", session, 5)
    again = circuits.amp("single-ended-6v6gt", session, 5)
    assert one.file == again.file
    known = session.known("single-ended-6v6gt")
    assert isinstance(known, KnownCircuit)
    (cause,) = one.file.truth
    assert cause in known.shares
    log = one.opening(session, AT)
    assert session.read(log).voltages is not None
    repair = session.base.causes[cause].repairs[0]
    off = {True: 0.0, False: 0.0}
    for mended, so_far in ((False, log), (True, [*log, RepairDone(at=AT, repair=repair, cause=cause)])):
        for check in known.base.checks.values():
            points = [known.points(reading) for reading in check.readings.values()]
            if len(points) == 1 and len(points[0]) == 1 and points[0][0] in known.chart:  # volts alone
                entry = one.entry(check, so_far, AT)
                assert isinstance(entry, Reading)
                volts, sigma = known.chart[points[0][0]]
                sign = -1 if next(iter(check.readings.values())).dc == "minus" else 1
                scale = 1000 if next(iter(check.readings.values())).unit == "mV" else 1
                (value,) = entry.values.values()
                off[mended] = max(off[mended], abs(sign * value / scale - volts) / sigma)
    assert off[False] > 2.5
    assert off[True] < 5


def test_the_plan_finds_the_bad_part_of_a_circuit(session: Session) -> None:
    one = circuits.amp("single-ended-6v6gt", session, 5)
    log, _ = score.plan_order(session, one, AT)
    assert one.faults(log) == ()


def test_a_file_that_tells_volts_of_a_circuit_is_an_amp_as_well(session: Session) -> None:
    """Its checks of test points are those of its circuit."""
    one = amps.read(SAMPLES / "tail-that-is-open.yaml", session)
    log, _ = score.plan_order(session, one, AT)
    assert one.file.truth
    assert one.faults(log) == ()


def test_every_amp_has_faults_and_says_nothing_of_them_at_the_start(session: Session) -> None:
    for path in amps.files():
        one = amps.read(path, session)
        assert one.file.truth
        opened, *complaints = one.opening(session, AT)
        assert opened.title == "An amp to practise on"  # type: ignore[union-attr]
        assert len(complaints) == len(one.file.complaints)


@pytest.mark.parametrize("name", QUICK)
def test_the_plan_finds_and_mends_every_fault(session: Session, name: str) -> None:
    one = amp(session, name)
    log, order = score.plan_order(session, one, AT)
    assert one.faults(log) == ()
    result = score.score(session, one, log, (), lambda: AT)
    assert (result.points, result.missed, result.needless, result.unsafe) == (100.0, (), (), ())
    assert len(order) == len(log) - 1 - len(one.file.complaints)


@pytest.mark.parametrize("name", QUICK)
def test_a_repair_of_a_fault_is_proven_by_what_the_amp_then_shows(session: Session, name: str) -> None:
    one = amp(session, name)
    log, _ = score.plan_order(session, one, AT)
    proven = {repaired.cause: repaired.proven for repaired in session.read(log).facts.repairs}
    assert {cause: proven[cause] for cause in one.file.truth} == dict.fromkeys(one.file.truth, True)


def test_every_check_gets_an_answer_that_can_be_taken(session: Session) -> None:
    """Every check of the knowledge base, on an amp whose file names only some of them."""
    one = amp(session, "attic-amp-with-frozen-knobs")
    log = one.opening(session, AT)
    entries = [one.entry(check, log, AT) for check in session.base.checks.values()]
    told = [one for one in entries if not (isinstance(one, Answer) and one.answer == "can't tell")]
    assert all(isinstance(one, Answer | Reading) for one in entries)
    assert len(told) > 0.75 * len(entries)
    assert len(told) > 3 * len(one.file.checks)


def test_what_was_not_at_fault_is_not_mended_by_a_repair(session: Session) -> None:
    one = amp(session, "attic-amp-with-frozen-knobs")
    log = one.opening(session, AT)
    log.append(RepairDone(at=AT, repair="fit-right-lamp", cause="pilot-lamp-wrong-type"))
    assert one.faults(log) == one.file.truth
    result = score.score(session, one, log, (), lambda: AT)
    assert result.needless == ("fit-right-lamp",)
    assert {missed.cause for missed in result.missed} == set(one.file.truth)
    assert all(missed.checks for missed in result.missed)
    assert result.points == 0


def test_live_work_before_the_safety_checks_or_the_holds_is_unsafe(session: Session) -> None:
    one = amp(session, "attic-amp-with-frozen-knobs")
    log = one.opening(session, AT)
    now = session.read(log)
    early = score.unsafe_in(now, session.base.checks["watch-plates"], "Watch the plates")
    assert early is not None
    assert "nothing goes under power before" in early.why
    reach_in = score.unsafe_in(now, session.base.checks["sweep-pot-ohms"], "Measure a resistor")
    assert reach_in is not None
    assert "below 50 V" in reach_in.why
    look = session.base.checks["look-at-mains-plug"]
    plugged_in = score.unsafe_in(now, look, "Look at the plug")
    assert plugged_in is not None
    assert "plug out" in plugged_in.why
    unplugged = session.read([*log, HoldAnswered(at=AT, hold="unplugged", cleared=True)])
    assert score.unsafe_in(unplugged, look, "Look at the plug") is None
    assert score.unsafe_in(unplugged, session.base.checks["sweep-pot-ohms"], "Measure a resistor") is not None
    said = HoldAnswered(at=AT, hold="discharged", cleared=True)
    high = session.read([*log, said.model_copy(update={"volts": {"node_1": 120.0}})])
    assert score.unsafe_in(high, session.base.checks["sweep-pot-ohms"], "Measure a resistor") is not None
    cleared = session.read([*log, said.model_copy(update={"volts": {"node_1": 2.0}})])
    assert score.unsafe_in(cleared, session.base.checks["sweep-pot-ohms"], "Measure a resistor") is None


def test_full_mains_past_the_steps_of_power_is_unsafe(session: Session) -> None:
    """The safety checks are done; the limiter with tubes out, with the rectifier, with the power tubes is not."""
    one = amp(session, "attic-amp-with-frozen-knobs")
    log = one.opening(session, AT)
    log.append(HoldAnswered(at=AT, hold="discharged", cleared=True, volts={"node_1": 2.0}))
    while due := session.read(log).plan.safety_checks():
        log.append(one.entry(due[0], log, AT))
    log.append(HoldAnswered(at=AT, hold="ready-for-live", cleared=True))
    now = session.read(log)
    skipped = score.unsafe_in(now, session.base.checks["watch-plates"], "Watch the plates")
    assert skipped is not None
    assert session.base.checks["limiter-bare"].name in skipped.why
    first = session.base.checks["limiter-bare"]
    assert first.name not in (score.unsafe_in(now, first, first.name) or score.Unsafe("", "")).why


def test_a_hold_is_not_as_it_should_be_while_its_fault_is_there(session: Session) -> None:
    one = amp(session, "two-pin-combo-that-bites")
    log = one.opening(session, AT)
    log.append(one.entry(session.base.checks["look-at-mains-plug"], log, AT))
    raised = [hold for hold in session.read(log).holds if hold.rule]
    assert raised
    assert not any(one.holds(hold, log) for hold in raised)
    mended = [*log, *(RepairDone(at=AT, repair=session.base.causes[c].repairs[0], cause=c) for c in one.file.truth)]
    assert all(one.holds(hold, mended) for hold in raised)


def test_points_fall_with_unsafe_moves_and_detours(session: Session) -> None:
    one = amp(session, "attic-amp-with-frozen-knobs")
    log, _ = score.plan_order(session, one, AT)
    unsafe = (score.Unsafe("Watch the plates", "the hold before it was open"),)
    assert score.score(session, one, log, unsafe, lambda: AT).points == 85
    start = 1 + len(one.file.complaints)
    detours = [check for check in session.base.checks.values() if check.stage == "look"][:25]
    longer = [*log[:start], *(one.entry(check, log[:start], AT) for check in detours), *log[start:]]
    assert score.score(session, one, longer, (), lambda: AT).points < 95


@pytest.mark.parametrize(("level", "enough"), [("junior", 0.9), ("senior", 0.8)])
def test_a_repair_waits_for_the_proof_its_level_asks_for_or_for_the_last_check(level: str, enough: float) -> None:
    session = Session(shipped_knowledge(), level)
    one = amp(session, "club-combo-rattles-and-crackles")
    log, _ = score.plan_order(session, one, AT)
    repairs = [number for number, entry in enumerate(log) if isinstance(entry, RepairDone)]
    assert len(repairs) >= len(one.file.truth)
    for number in repairs:
        now = session.read(log[:number])
        cause = log[number].cause  # type: ignore[union-attr]
        assert now.ranking.probability[cause] >= enough or not worthwhile(now.worths)
