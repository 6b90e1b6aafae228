"""How the amp stands, at the bench of a junior and with `take`: moves with volts, dangers, what is due before power, and
what an amp must pass before it goes back. On the shipped knowledge base."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from chopstick.cli.papers.checklist import checklist
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.reasoning import answers
from chopstick.engine.reasoning.healthy import nothing_wrong
from chopstick.engine.reasoning.log import CANT_TELL, Complaint, HoldAnswered, LogEntry, Opened, RepairDone
from chopstick.engine.reasoning.session import Session, Standing
from chopstick.engine.reasoning.steps import Step

from ..answering import hold_answered
from ..shipped import shipped_knowledge
from .conftest import Run
from .terminal import Terminal

AT = datetime(2026, 1, 1)
CORD = "look-at-mains-cord"
SO = "All of it so? [yes, no]"
VOLTS = "Volts DC at each filter node"
READ = "Have you read this, and is it so? [yes, no]"


@pytest.fixture(scope="module")
def session() -> Session:
    return Session(shipped_knowledge(), "junior")


def opened() -> list[LogEntry]:
    amp = {"power-tube": "6V6GT", "mains-cord": "three-wire", "bias": "cathode", "rectifier": "solid-state"}
    return [
        Opened(at=AT, title="Small combo", fingerprint=shipped_knowledge().fingerprint, amp=amp),
        Complaint(at=AT, says="the knob is scratchy", symptom="knob-crackle"),
    ]


def healthy(now: Standing, step: Step) -> LogEntry:
    """What an amp without a fault shows at a step, and somebody who works with care says to a move."""
    if step.kind in ("hold", "move"):
        return hold_answered(now, step, AT)
    if step.kind == "repair":
        return RepairDone(at=AT, repair=step.id, cause=step.cause)
    check = now.base.checks[step.id]
    return answers.entry(check, nothing_wrong(now.base, check), AT)  # type: ignore[arg-type]


def until(session: Session, log: list[LogEntry], there: Callable[[Step], bool], later: str = "") -> list[LogEntry]:
    """The log of a healthy amp up to the step that is wanted. later: a cause whose repair is put off."""
    for _ in range(80):
        now = session.read(log)
        step = now.next_but({later} if later else ())
        if there(step):
            return log
        assert step.kind not in ("done", "held"), step
        log.append(healthy(now, step))
    raise AssertionError("the step that is wanted never came")


@pytest.fixture
def kept(jobs: Path) -> Callable[[list[LogEntry]], int]:
    """Puts a log in the store of the test; the number of its job."""

    def keep(log: list[LogEntry]) -> int:
        first, *more = log
        assert isinstance(first, Opened)
        return open_store(jobs).create(first, *more).number

    return keep


@pytest.fixture
def at_the_bench(jobs: Path, kept: Callable[[list[LogEntry]], int]) -> Iterator[Callable[..., Terminal]]:
    open_: list[Terminal] = []

    def sit(log: list[LogEntry], level: str = "junior") -> Terminal:
        open_.append(Terminal(jobs, "bench", str(kept(log)), level=level, kb=None))
        return open_[-1]

    yield sit
    for one in open_:
        one.close()


def log_of(jobs: Path, number: int = 1) -> list[LogEntry]:
    return list(open_store(jobs).find(number).log)


# --- at the bench ---


def test_the_amp_is_opened_for_hands_by_volts_and_by_nothing_else(
    session: Session, at_the_bench: Callable[..., Terminal], jobs: Path
) -> None:
    bench = at_the_bench(until(session, opened(), lambda step: step.id == "discharged"))
    bench.shows("MOVE: Unplug (", SO)  # it was so in an earlier sitting; is it still?
    bench.says("yes", "MOVE: Unplug, bleed and measure", VOLTS, "never a screwdriver")
    bench.says("yes", "Yes alone will not do: type what the meter read", VOLTS)
    bench.says("380", "Not below 50 V yet: filter node 1 380 V", "Keep out.", "Bleed that node", VOLTS)
    bench.says("3 1.5", "unplugged, bled and measured", "BEFORE YOU BEGIN", READ)
    bench.close()
    moves = [entry for entry in log_of(jobs) if isinstance(entry, HoldAnswered) and entry.hold == "discharged"]
    assert [tuple(entry.volts.values()) for entry in moves] == [(380.0,), (3.0, 1.5)]


def test_before_power_hands_do_what_they_must_and_under_power_they_are_out(
    session: Session, at_the_bench: Callable[..., Terminal]
) -> None:
    log = until(session, opened(), lambda step: step.kind == "move" and bool(step.prepared))
    now = session.read(log)
    ready = now.base.checks[now.next.prepared[0]]
    bench = at_the_bench(log)
    bench.shows("MOVE: Unplug, bleed and measure", VOLTS)  # it was so in an earlier sitting
    bench.says("2", f"MOVE: {now.base.moves[now.next.id].name}", "first, while it is unplugged and bled", SO)
    seen, parts = bench.text, int(bench.text.partition("(part 1 of ")[2].partition(":")[0])
    for part in range(2, parts + 1):
        bench.says("more", f"(part {part} of ", SO)
        seen += bench.text
    assert ready.name in seen
    assert " ".join((ready.prepare or "").split()[:5]) in seen
    assert "Plug the amp into the limiter, not into the wall" in seen
    bench.says("yes", "UNDER POWER", "[yes, no]")


def test_a_cut_cord_is_never_powered_and_a_senior_may_take_it_on_in_writing(
    session: Session, at_the_bench: Callable[..., Terminal], jobs: Path
) -> None:
    cut = [*opened(), HoldAnswered(at=AT, hold="discharged", cleared=True, volts={"node_1": 2.0})]
    cut.append(answers.entry(session.base.checks["look-over-mains-side"], "not-all", AT))
    cut.append(answers.entry(session.base.checks[CORD], "yes", AT))
    log = until(session, cut, lambda step: step.kind == "held", later="mains-cord-jacket-cut")
    base = session.base
    moved = {
        base.moves[entry.hold].blocks for entry in log if isinstance(entry, HoldAnswered) and entry.hold in base.moves
    }
    assert moved <= {"look", "cold"}  # whatever there was to do, none of it was under power
    assert not session.read(log).facts.set_up.powered

    senior = at_the_bench(log, "senior")
    senior.shows("REPAIR: ", "Is it done? [done, later]", "open holds: danger/cord-damaged")
    senior.says("later", "HOLD: stop here first", "The mains cord is cut, crushed", "because REASON", "What now?")
    senior.says("yes", "Yes alone does not open this", "What now?")
    senior.says("because the bench's own cord is plugged in", "MOVE: Power it up on the limiter", SO)
    senior.close()
    assert [entry.reason for entry in log_of(jobs) if isinstance(entry, HoldAnswered) and entry.reason] == [
        "the bench's own cord is plugged in"
    ]

    junior = at_the_bench(log, "junior")
    junior.shows("MOVE: Unplug, bleed and measure", VOLTS)  # it was so in an earlier sitting
    junior.says("2", "BEFORE YOU BEGIN", READ)
    junior.says("yes", "REPAIR: ", "Is it done? [done, later]")
    junior.says("later", "HOLD: stop here first", "Have somebody senior look at it.", "What now?")
    junior.says("because I want to", "What now?")
    junior.says("check watch-plates", "The mains cord is cut, crushed")
    junior.close()
    assert not [entry for entry in log_of(jobs, 2) if isinstance(entry, HoldAnswered) and entry.reason]


def test_another_check_a_complaint_that_is_gone_and_a_word_on_the_amp(
    session: Session, at_the_bench: Callable[..., Terminal], jobs: Path
) -> None:
    log = until(session, opened(), lambda step: step.kind == "check")
    bench = at_the_bench(log, "senior")
    bench.shows("CHECK: ")
    bench.says("check no-such-thing", "No check has 'no-such-thing' in its name.")
    bench.says("check plate", "Which? Type: check NAME", "plate-dissipation")
    bench.says("check sweep-pot-ohms", "MOVE: Unplug, bleed and measure", VOLTS)
    bench.says("120", "Not below 50 V yet: filter node 1 120 V", "MOVE: Unplug, bleed and measure", VOLTS)
    bench.says("2 1", "CHECK: Sweep the control slowly on an ohmmeter")
    bench.says("amp reverb=absent", "Kept of the amp: reverb absent")
    bench.says("amp reverb=loud", "reverb", "present")
    bench.says("gone hum", "Which complaint is gone?", "knob-crackle")
    bench.says("gone", "Not done yet, and due before power", "First power on the limiter")  # it is heard under power
    bench.close()
    assert [entry.amp for entry in log_of(jobs) if entry.kind == "amp"] == [{"reverb": "absent"}]


# --- without prompts ---


def test_take_wants_the_volts_of_each_filter_node(run: Run, kept: Callable[[list[LogEntry]], int]) -> None:
    number = str(kept(opened()))
    words = ("take", number, "sweep-pot-ohms=jumps")
    barred = run(*words, kb=None)
    assert (barred.code, "--hold discharged=VOLTS,VOLTS" in barred.err) == (3, True)
    alone = run(*words, "--hold", "discharged=yes", kb=None)
    assert (alone.code, "wants the volts read at each filter node" in alone.err) == (2, True)
    high = run(*words, "--hold", "discharged=380V,1V", kb=None)
    assert (high.code, "filter node 1 380 V. Keep out." in high.err) == (2, True)
    assert run(*words, "--hold", "discharged=3V,1V", kb=None).code == 0
    circuit = ("--circuit", "cathode-biased-2x6v6gt-split-load")
    too_few = run("take", number, *circuit, kb=None)
    assert too_few.code == 0
    too_few = run("take", number, "--hold", "discharged=3V,1V", kb=None)
    assert (too_few.code, "bplus_1, bplus_2, bplus_3" in too_few.err) == (2, True)


def test_take_is_refused_by_a_danger_until_somebody_says_why(
    run: Run, session: Session, kept: Callable[[list[LogEntry]], int], jobs: Path
) -> None:
    log = until(session, opened(), lambda step: step.id == "ready-for-first-power")
    log.append(answers.entry(session.base.checks[CORD], "yes", AT))
    number = str(kept(log))
    words = ("take", number, "limiter-bare=no", "--hold", "ready-for-first-power=yes")
    barred = run(*words, kb=None)
    assert barred.code == 3
    assert "danger 'danger/cord-damaged'" in barred.err
    assert "--hold danger/cord-damaged=yes --because REASON" in barred.err
    silent = run(*words, "--hold", "danger/cord-damaged=yes", kb=None)
    assert (silent.code, "must say why" in silent.err) == (2, True)
    taken = run(*words, "--hold", "danger/cord-damaged=yes", "--because", "shop lead on the bench", kb=None)
    assert taken.code in (0, 3), taken.err
    assert [e.reason for e in log_of(jobs) if isinstance(e, HoldAnswered) and e.reason] == ["shop lead on the bench"]


def test_take_is_refused_by_what_was_not_told_before_power(
    run: Run, session: Session, kept: Callable[[list[LogEntry]], int]
) -> None:
    number = str(kept(opened()))
    words = ("take", number, "limiter-bare=no", "--hold", "ready-for-first-power=yes")
    barred = run(*words, kb=None)
    assert barred.code == 3
    assert "Look over the mains side" in " ".join(barred.err.split())
    assert "untold/before-power=yes --because REASON" in barred.err
    skipped = until(session, opened(), lambda step: step.id == "look-at-load")
    skipped.append(answers.entry(session.base.checks["look-at-load"], CANT_TELL, AT))
    skipped = until(session, skipped, lambda step: step.kind in ("held", "done") or step.id == "ready-for-first-power")
    other = str(kept(skipped))
    words = ("take", other, "limiter-bare=no", "--hold", "ready-for-first-power=yes")
    barred = run(*words, kb=None)
    assert (barred.code, "check 'untold/look-at-load'" in barred.err) == (3, True), barred.err
    taken = run(*words, "--hold", "untold/look-at-load=yes", "--because", "dummy load seen", kb=None)
    assert taken.code in (0, 3), taken.err


def test_an_amp_does_not_go_back_without_its_last_tests(
    run: Run, session: Session, kept: Callable[[list[LogEntry]], int]
) -> None:
    log = [*opened(), HoldAnswered(at=AT, hold="discharged", cleared=True, volts={"node_1": 2.0})]
    log.append(RepairDone(at=AT, repair="clean-control-track", cause="pot-track-dirty"))
    number = str(kept(log))
    refused = run("close", number, "--as-proposed", kb=None)
    assert refused.code == 3
    assert "not tested since the last repair: Final test: protective earth" in refused.err
    assert "--because REASON" in refused.err
    assert run("show", number, "--json", kb=None).json["agreed"]["closed"] is None
    closed = run("close", number, "--as-proposed", "--because", "the owner fetched it in parts", kb=None)
    assert closed.code == 0
    assert "not tested since the last repair" in " ".join(closed.out.split())


def test_a_job_that_passed_its_last_tests_is_closed_without_a_reason(
    run: Run, session: Session, kept: Callable[[list[LogEntry]], int]
) -> None:
    log = until(session, opened(), lambda step: step.kind in ("held", "done"))
    ran = run("close", str(kept(log)), "--other", "nothing wrong", kb=None)
    assert ran.code == 0, ran.err


# --- a checklist typed back ---


def test_a_checklist_is_typed_back_with_the_volts_of_the_nodes(
    run: Run, session: Session, kept: Callable[[list[LogEntry]], int], jobs: Path, tmp_path: Path
) -> None:
    log = until(session, opened(), lambda step: step.id == "discharged")
    number = kept(log)
    sheet = checklist(session.read(log), log, number)
    move = next(line for line in sheet.lines if line.of == "discharged")
    after = next(line for line in sheet.lines if line.number > move.number and line.ok)
    file = tmp_path / "lines.txt"

    def typed(*lines: str) -> tuple[int, str]:
        file.write_text("\n".join((f"sheet {sheet.head.sheet}", *lines)) + "\n")
        ran = run("take", str(number), "--sheet", "--lines", str(file), kb=None)
        return ran.code, " ".join((ran.out + ran.err).split())

    code, said = typed(f"{move.number} yes", f"{after.number} ok")
    assert code == 3
    assert "wants the volts read at each filter node" in said
    code, said = typed(f"{move.number} 380 2")
    assert "Keep out." in said
    assert not [entry for entry in log_of(jobs) if isinstance(entry, HoldAnswered) and entry.volts]
    code, said = typed(f"{move.number} 3 1.5", f"{after.number} ok")
    assert code in (0, 3), said
    (kept_,) = [entry for entry in log_of(jobs) if isinstance(entry, HoldAnswered) and entry.hold == "discharged"]
    assert tuple(kept_.volts.values()) == (3.0, 1.5)
    assert any(getattr(entry, "check", "") == after.of for entry in log_of(jobs))
