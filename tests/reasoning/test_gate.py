"""What may be entered, in a safe order and behind its holds, whoever asks: prompt, command line, sheet or page."""

from __future__ import annotations

from collections.abc import Callable

from chopstick.engine.jobs.entering import Given, taken
from chopstick.engine.reasoning.log import CANT_TELL, Answer, HoldAnswered, LogEntry, Note, RepairDone
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.set_up import work_of

from .conftest import AT

Job = Callable[..., list[LogEntry]]


def said(entry: LogEntry) -> str:
    return getattr(entry, "hold", "") or getattr(entry, "check", "") or getattr(entry, "repair", "") or entry.kind


def entered(session: Session, log: list[LogEntry], **given: object) -> list[str]:
    got = taken(session, log, Given(**given), AT)  # type: ignore[arg-type]
    assert not got.wrong, got.wrong
    assert not got.barred, got.barred
    return [said(entry) for entry in got.entries]


def test_work_behind_an_open_hold_is_not_entered_and_the_hold_is_named(session: Session, job: Job) -> None:
    for holds in ((), (("ready-for-power", False),), (("discharged", True),)):
        got = taken(session, job("knob-crackle"), Given(values=[("turn-it", "no")], holds=holds), AT)
        assert (got.entries, got.wrong) == ((), ())
        assert got.barred is not None
        assert got.barred.hold == "ready-for-power"
    got = taken(session, job("knob-crackle"), Given(repairs=[("clean-pot", "")]), AT)
    assert got.barred is not None
    assert got.barred.hold == "discharged"


def test_holds_come_before_the_work_and_repairs_before_their_proof(session: Session, job: Job) -> None:
    order = entered(
        session, job("knob-crackle"), values=[("turn-it", "no")], repairs=[("clean-pot", "")],
        holds=[("ready-for-power", True), ("discharged", True)], kept=[Note(at=AT, text="done")],
    )  # fmt: skip
    assert [one for one in order if one not in ("ready-for-power", "discharged")] == ["clean-pot", "turn-it", "note"]
    assert order.index("discharged") < order.index("clean-pot")
    assert order.index("ready-for-power") < order.index("turn-it")
    assert order[order.index("turn-it") - 1] == "ready-for-power", (
        "it lapsed with the work inside, and is answered anew"
    )


def test_a_hold_that_the_work_itself_raises_bars_what_follows(session: Session, job: Job) -> None:
    log = job("knob-crackle")
    given = {"values": [("look-at-plug", "no"), ("turn-it", "no")], "holds": [("ready-for-power", True)]}
    got = taken(session, log, Given(**given), AT)  # type: ignore[arg-type]
    assert got.barred is not None
    assert got.barred.hold == "earth-first"
    given["holds"] = [("ready-for-power", True), ("earth-first", True)]
    barred = taken(session, log, Given(**given), AT).barred  # type: ignore[arg-type]
    assert barred is not None
    assert (barred.hold, barred.kind) == ("danger/no-earth", "danger"), "yes alone does not mend a missing earth"
    mended = job("knob-crackle", then=[
        ("look-at-plug", "no"), ("hold:earth-first", True), ("hold:discharged", True), ("repair:fit-cord", "earth-missing"),
    ])  # fmt: skip
    ready = [("ready-for-power", True)]
    assert taken(session, mended, Given(values=[("turn-it", "no")], holds=ready), AT).barred is not None, (
        "and is not proven"
    )
    assert entered(session, mended, values=[("look-at-plug", "yes"), ("turn-it", "no")], holds=ready)[-1] == "turn-it"


def test_a_danger_is_taken_on_with_a_reason_only(session: Session, job: Job) -> None:
    log = job("knob-crackle", then=[("look-at-plug", "no"), ("hold:earth-first", True)])
    given = {"values": [("turn-it", "no")], "holds": [("ready-for-power", True), ("danger/no-earth", True)]}
    assert "must say why" in taken(session, log, Given(**given), AT).wrong[0].text  # type: ignore[arg-type]
    assert entered(session, log, **given, reason="on an isolating transformer, for two minutes")[-1] == "turn-it"


def test_what_is_skipped_needs_no_work_and_no_hold(session: Session, job: Job) -> None:
    assert entered(session, job("knob-crackle"), values=[("turn-it", CANT_TELL)]) == ["turn-it"]
    base = session.base
    assert work_of(base, Answer(at=AT, check="turn-it", answer="no")) is base.checks["turn-it"]
    assert work_of(base, RepairDone(at=AT, repair="clean-pot", cause="track-dirty")) is base.repairs["clean-pot"]
    assert work_of(base, HoldAnswered(at=AT, hold="discharged", cleared=True)) is None


def test_all_that_is_wrong_is_told_and_nothing_entered(session: Session, job: Job) -> None:
    got = taken(
        session, job("knob-crackle"),
        Given(
            undo=True, holds=[("discharge", True)], repairs=[("clean-pott", ""), ("clean-pot", "bias-off")], circuit="no-such",
            values=[("pot-dc", "900 V"), ("turn-it", "perhaps"), ("pot-dcs", "1")],
        ),
        AT,
    )  # fmt: skip
    assert got.entries == ()
    assert [(one.about, one.doubted) for one in got.wrong if one.about] == [("pot-dc", True), ("turn-it", False)]
    texts = " ".join(one.text for one in got.wrong)
    for word in (
        "no hold 'discharge'",
        "no repair 'clean-pott'",
        "is no repair of 'bias-off'",
        "no check 'pot-dcs'",
        "no-such",
    ):
        assert word in texts
    assert "--" not in texts, "what to type is not the engine's to say"
    believed = Given(values=[("pot-dc", "900 V")], holds=[("ready-for-power", True)], believe=True)
    assert taken(session, job("knob-crackle"), believed, AT).entries
