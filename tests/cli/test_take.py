"""Entering without prompts: all or nothing, in a safe order."""

from __future__ import annotations

from pathlib import Path

from .conftest import COMPLAINTS, Run


def kinds(run: Run, number: int) -> list[str]:
    return [line for line in run("show", str(number), "--log").out.splitlines() if line.strip()]


def test_answers_readings_holds_and_repairs_in_one_command(run: Run, opened: int) -> None:
    ran = run(
        "take", str(opened), "look-at-cord=yes", "control-dc=2.5V", "plates.plate-volts=462.5",
        "plates.cathode-current=28mA", "sweep-ohms=smooth", "--hold", "ready-for-live=yes", "--hold", "discharged=yes",
        "--note", "one pilot lamp holder bent", "--json",
    )  # fmt: skip
    assert ran.code == 0, ran.err
    assert {one["name"]: one["value"] for one in ran.json["values"]} | {"share": 0} == {
        "volts": 2.5, "plate-volts": 462.5, "cathode-current": 28.0, "share": 0,
    }  # fmt: skip
    assert ran.json["notes"] == ["one pilot lamp holder bent"]
    proved = run(
        "take", str(opened), "turn-and-listen=no", "--repair", "replace-capacitor",
        "--hold", "discharged=yes", "--hold", "ready-for-live=yes", "--json",
    )  # fmt: skip
    assert proved.code == 0, proved.err
    assert {one["repair"]: one["state"] for one in proved.json["repairs"]}["replace-capacitor"] == "proven"


def test_one_thing_wrong_and_nothing_is_entered(run: Run, opened: int) -> None:
    ran = run("take", str(opened), "look-at-cord=yes", "sweep-omhs=smooth", "control-dc=4k7", "turn-and-listen=perhaps")
    assert ran.code == 2
    assert "Did you mean 'sweep-ohms'?" in ran.err
    assert "that reads as a resistance" in ran.err
    assert "it takes: yes, no" in ran.err
    assert run("jobs", "--json").json["jobs"][0]["entries"] == 3


def test_an_implausible_reading_is_questioned(run: Run, opened: int) -> None:
    words = ("take", str(opened), "plates.plate-volts=45.35", "--hold", "ready-for-live=yes")
    ran = run(*words)
    assert ran.code == 2
    assert "hard to believe (expected 50 V to 800 V)" in ran.err
    assert run(*words, "--believe").code == 0


def test_undo_takes_back_the_last_entry(run: Run, opened: int) -> None:
    run("take", str(opened), "look-at-cord=no")
    ran = run("take", str(opened), "--undo", "look-at-cord=yes", "--json")
    assert {one["finding"]: one["present"] for one in ran.json["findings"]}["cord-two-wire"] is False


def test_a_contradiction_is_named_as_it_arises(run: Run, opened: int) -> None:
    run("take", str(opened), "sweep-ohms=rough", "--hold", "discharged=yes")
    ran = run("take", str(opened), "turn-and-listen=no", "--hold", "ready-for-live=yes")
    assert "fit together" in ran.out


def test_why_says_weights_in_words_and_numbers(run: Run, opened: int) -> None:
    run("take", str(opened), "sweep-ohms=rough", "--hold", "discharged=yes")
    out = run("show", str(opened), "--why", "track-dirty").out
    assert "Points to it" in out
    assert "The track of the control is rough on the ohmmeter." in out
    assert "decides, x " in out


def test_photographs_are_kept_with_what_they_show(run: Run, opened: int, tmp_path: Path) -> None:
    picture = tmp_path / "pin 3.jpg"
    picture.write_bytes(b"\xff\xd8")
    assert run("take", str(opened), "--photo", f"{picture}=burnt at pin 3", "--note", "smells of it").code == 0
    ran = run("show", str(opened))
    assert "burnt at pin 3" in ran.out
    assert "smells of it" in ran.out
    assert run("show", str(opened), "--json").json["photos"] == [
        {"path": str(picture.resolve()), "text": "burnt at pin 3", "check": ""}
    ]
    assert run("intake", *COMPLAINTS, "--photo", str(picture), "--json").code == 0
    assert run("show", "2", "--json").json["photos"][0]["path"] == str(picture.resolve())


def test_a_photograph_that_is_not_there_is_refused(run: Run, opened: int, tmp_path: Path) -> None:
    ran = run("take", str(opened), "--photo", str(tmp_path / "none.jpg"), "look-at-cord=yes")
    assert ran.code == 2
    assert "there is no such file" in ran.err
    assert run("show", str(opened), "--json").json["photos"] == []
    assert run("intake", *COMPLAINTS, "--photo", str(tmp_path)).code == 2
