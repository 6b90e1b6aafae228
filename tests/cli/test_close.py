"""Closing a job: what it really was, what it took, and what is told about it; and what closed jobs then teach."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from chopstick.engine.reports.closing import Closing
from chopstick.engine.reports.lessons import Calibration, Lessons

from .conftest import COMPLAINTS, SMALL, Run
from .terminal import Terminal
from .test_estimate import shop  # noqa: F401
from .test_shapes import shaped

WORK = (
    "look-at-cord=yes", "control-dc=2.5", "--hold", "discharged=yes", "--hold", "ready-for-live=yes",
)  # fmt: skip


@pytest.fixture
def repaired(run: Run, opened: int) -> int:
    """A job whose capacitor has been replaced, with the proof."""
    assert run("take", str(opened), *WORK).code == 0
    ran = run("take", str(opened), "--repair", "replace-capacitor", "turn-and-listen=no", "--hold", "discharged=yes",
              "--hold", "ready-for-live=yes")  # fmt: skip
    assert ran.code == 0, ran.err
    return opened


def test_away_from_a_terminal_it_never_asks(run: Run, repaired: int) -> None:
    ran = run("close", str(repaired))
    assert ran.code == 2
    assert "--as-proposed (capacitor-leaky)" in ran.err
    assert run("show", str(repaired), "--json").json["agreed"]["closed"] is None


def test_closed_as_proposed_with_estimate_against_actual(run: Run, repaired: int, shop: Path) -> None:  # noqa: F811
    (shop / "areas" / "terms.yaml").write_text(
        (shop / "areas" / "terms.yaml").read_text().replace("hour: 60", "hour: 60, warranty_days: 90")
    )
    run("take", str(repaired), "--approve", "the owner", "--up-to", "60")
    ran = run("close", str(repaired), "--as-proposed", "--minutes", "50", "--charged", "75", "--json")
    assert ran.code == 0, ran.err
    shaped(Closing, ran.json)
    assert ran.json["closed"]["was"] == ["capacitor-leaky"]
    assert ran.json["teaches"] is True
    against = ran.json["against"]
    assert (against["approved_high"], against["charged"], against["currency"]) == (60, 75, "EUR")
    assert against["reckoned"] == pytest.approx(against["minutes_by_the_log"] + 2.5)
    today = date.fromisoformat(ran.json["closed"]["at"][:10])
    assert ran.json["closed"]["warranty_until"] == (today + timedelta(days=90)).isoformat()
    told = run("show", str(repaired)).out
    assert "warranty until" in told
    assert "75.00 EUR" in told


def test_a_charge_over_what_was_approved_is_said(run: Run, repaired: int) -> None:
    run("take", str(repaired), "--approve", "the owner", "--up-to", "60 EUR")
    ran = run("close", str(repaired), "--as-proposed", "--charged", "75 EUR")
    assert "the charge is OVER it" in " ".join(ran.out.split())


def test_a_repair_without_its_proof_is_told_as_open(run: Run, opened: int) -> None:
    run("take", str(opened), *WORK, "--repair", "replace-capacitor")
    ran = run("close", str(opened), "--as-proposed")
    assert "not proven yet: Replace the coupling capacitor" in " ".join(ran.out.split())


def test_a_closed_job_is_closed_once_and_can_be_opened_again(run: Run, repaired: int) -> None:
    assert run("close", str(repaired), "--was", "capacitor-leaky").code == 0
    again = run("close", str(repaired), "--was", "track-dirty")
    assert again.code == 2
    assert f"take {repaired} --undo" in again.err
    assert run("take", str(repaired), "--undo").code == 0
    assert run("close", str(repaired), "--was", "Dirty control track").code == 0
    assert run("show", str(repaired), "--json").json["agreed"]["closed"]["was"] == ["track-dirty"]


def test_a_cause_that_is_none_is_told_with_the_nearest(run: Run, opened: int) -> None:
    ran = run("close", str(opened), "--was", "track-dirt")
    assert ran.code == 2
    assert "Did you mean 'track-dirty'?" in ran.err
    assert "--other" in ran.err


def test_at_a_terminal_it_asks_and_proposes(run: Run, repaired: int, jobs: Path) -> None:
    terminal = Terminal(jobs, "close", str(repaired))
    terminal.shows("Leaky coupling capacitor (capacitor-leaky)", "Enter takes those above; none for none:")
    terminal.says("", "nothing wrong at all")
    terminal.says("a frayed guitar lead too", "left as it is")
    terminal.says("nonsense", "there is no cause")
    terminal.says("track-dirty", "Bench minutes")
    terminal.says("about an hour", "A number of minutes")
    terminal.says("55", "charged")
    terminal.type("80 EUR")
    assert "is closed" in terminal.end()
    closed = run("show", str(repaired), "--json").json["agreed"]["closed"]
    assert (closed["was"], closed["left"]) == (["capacitor-leaky"], ["track-dirty"])
    assert (closed["other"], closed["minutes"], closed["charged"]) == ("a frayed guitar lead too", 55, 80)


# --- what closed jobs teach ---


def test_closed_jobs_teach_and_can_be_left_out_and_forgotten(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(1, 7):
        assert run("intake", *COMPLAINTS, "--title", f"combo {number}").code == 0
    before = _capacitor(run)
    for number in range(1, 6):
        assert run("close", str(number), "--was", "capacitor-leaky").code == 0
    ran = run("jobs", "learned", "--kb", str(SMALL), "--json")
    shaped(Lessons, ran.json)
    assert ran.json["jobs"] == 5
    (kind,) = ran.json["kinds"]
    change = next(one for one in kind["changes"] if one["cause"] == "capacitor-leaky")
    assert (change["found"], change["amps"]) == (5, 5)
    assert change["now"] == pytest.approx((200 * change["prior"] + 5) / 205)
    earth = next(one for one in kind["changes"] if one["cause"] == "earth-lost")
    assert (earth["kept"], earth["now"]) == (True, earth["prior"])
    assert "5 of 5" in run("jobs", "learned", "--kb", str(SMALL)).out
    assert _capacitor(run) > before
    assert "5 of 5 amps of this kind" in " ".join(run("show", "6", "--why", "capacitor-leaky").out.split())
    shown = run("show", "6").out
    assert ran.json["fingerprint"] in shown
    monkeypatch.setenv("CHOPSTICK_NO_LEARNED", "1")
    assert _capacitor(run) == before
    assert "Switched off" in run("jobs", "learned", "--kb", str(SMALL)).out
    monkeypatch.delenv("CHOPSTICK_NO_LEARNED")
    assert run("jobs", "learned", "--reset", "--kb", str(SMALL)).code == 0
    assert _capacitor(run) == before
    assert run("jobs", "learned", "--kb", str(SMALL), "--json").json["jobs"] == 0


def test_the_switch_may_stand_anywhere(process: Run) -> None:
    words = ("--kb", str(SMALL))
    for _ in range(2):
        process("intake", *words, "--complaint", "crackle=it crackles")
    process("close", *words, "1", "--was", "capacitor-leaky")
    assert process("show", *words, "2", "--json").json["learned"]
    assert process("show", *words, "2", "--json", "--no-learned").json["learned"] == ""
    assert process("--no-learned", "show", *words, "2", "--json").json["learned"] == ""


def test_the_shop_can_switch_it_off(run: Run, shop: Path) -> None:  # noqa: F811
    for _ in range(2):
        run("intake", *COMPLAINTS)
    run("close", "1", "--was", "capacitor-leaky")
    assert run("show", "2", "--json").json["learned"]
    (shop / "areas" / "terms.yaml").write_text("area: small\nshop: {learn: false}\n")
    assert run("show", "2", "--json").json["learned"] == ""


def test_calibration_counts_what_was_there(run: Run, repaired: int) -> None:
    run("close", str(repaired), "--as-proposed")
    ran = run("jobs", "calibration", "--kb", str(SMALL), "--json")
    assert ran.code == 0, ran.err
    shaped(Calibration, ran.json)
    assert (ran.json["jobs"], ran.json["closed"]) == (1, 1)
    assert {one["low"]: one["there"] for one in ran.json["bins"]}[0.9] == 1
    assert "shown at" in run("jobs", "calibration", "--kb", str(SMALL)).out


def _capacitor(run: Run) -> float:
    ranking = run("show", "6", "--json").json["ranking"]
    return next(float(one["probability"]) for one in ranking if one["cause"] == "capacitor-leaky")
