"""What the owner wants, what is ordered and what was approved, on the command line."""

from __future__ import annotations

from .conftest import COMPLAINTS, Run


def test_an_amp_arrives_with_its_serial_and_its_owners_wishes(run: Run) -> None:
    ran = run(
        "intake", *COMPLAINTS, "--detail", "serial=A 1044", "--detail", "accessories=foot switch, cover",
        "--detail", "promised=2026-03-14", "--detail", "budget=200 EUR", "--detail", "priority=reliable on tour", "--json",
    )  # fmt: skip
    assert ran.code == 0, ran.err
    told = run("show", "1", "--json").json["agreed"]
    assert told["accessories"] == ["foot switch", "cover"]
    assert (told["promised"], told["budget"], told["currency"]) == ("2026-03-14", 200.0, "EUR")
    assert "reliable on tour" in run("show", "1").out


def test_ordered_arrived_approved(run: Run, opened: int) -> None:
    ran = run("take", str(opened), "--await", "control 1M=2026-03-09", "--approve", "the owner, by phone", "--up-to", "240 EUR")
    assert ran.code == 0, ran.err
    assert "control 1M, due 2026-03-09" in run("show", str(opened)).out
    assert "approved up to 240.00 EUR" in run("show", str(opened)).out
    assert run("take", str(opened), "--arrived", "control").code == 0
    told = run("show", str(opened), "--json").json["agreed"]
    assert told["awaited"] == []
    assert [(one["approved"], one["high"]) for one in told["approvals"]] == [(True, 240.0)]


def test_what_can_not_be_taken_is_told_and_nothing_is_kept(run: Run, opened: int) -> None:
    for words, said in (
        (("--detail", "serail=4"), "Did you mean 'serial'?"),
        (("--detail", "promised=soon"), "2026-03-01"),
        (("--approve", "the owner", "--up-to", "a lot"), "not an amount of money"),
        (("--arrived", "choke"), "Awaited: nothing"),
    ):
        ran = run("take", str(opened), *words)
        assert (ran.code, said in ran.err) == (2, True), ran.err
    assert run("jobs", "--json").json["jobs"][0]["entries"] == 3


def test_what_bears_on_safety_is_asked_before_the_complaints(process: Run) -> None:
    """By hand over the shipped knowledge: the mains come before any talk of tone, and what is left open stays open."""
    ran = process("intake", typed="Old combo\n117 V\n230\ntwo-wire\n\nit crackles when I turn the volume\n1\n\n")
    assert ran.code == 0, ran.err
    asked = [line for line in ran.out.splitlines() if line.startswith("> ")]
    player = next(number for number, line in enumerate(asked) if "player say" in line)
    assert "Mains voltage" in asked[1]
    assert "power transformer" in asked[4]
    assert player == 5
    assert not [line for line in asked[player:] if "ains" in line]
    amp = process("show", "1", "--json").json["amp"]
    assert amp == {"mains-cord": "two-wire", "mains-designed": 117.0, "mains-here": 230.0}
