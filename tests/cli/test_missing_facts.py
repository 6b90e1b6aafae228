"""An amp fact that a reading can't be judged without: asked at once at the bench, named by `take`."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from .conftest import COMPLAINTS, SMALL, Ran, Run

HOLDS = ("--hold", "discharged=yes", "--hold", "ready-for-live=yes")
READ = ("plates.plate-volts=340", "plates.cathode-current=20mA")


@pytest.fixture
def kb(tmp_path: Path) -> Path:
    """The small base, in which the share of the plate rating is worked out by the tube that is fitted."""
    root = tmp_path / "kb"
    shutil.copytree(SMALL, root)
    file = root / "areas" / "small" / "small.yaml"
    text = file.read_text()
    assert text.count("rating_W: 14") == 1
    file.write_text(text.replace("rating_W: 14", "rating_W: tube.plate_W"))
    return root


@pytest.fixture
def repaired(run: Run, kb: Path) -> int:
    """A job on an amp whose tubes nobody named, with a repair to be proven at its plates."""
    number = int(run("intake", "--title", "Small combo", *COMPLAINTS, "--json", kb=kb).json["number"])
    assert run("take", str(number), "--repair", "set-bias", "look-at-cord=yes", *HOLDS, kb=kb).code == 0
    return number


def bench(run: Run, kb: Path, number: int, typed: str) -> Ran:
    return run("bench", str(number), "--plain", "--level", "senior", typed=typed, kb=kb)


def test_take_says_what_is_missing_and_how_to_say_it(run: Run, kb: Path, repaired: int) -> None:
    ran = run("take", str(repaired), *READ, *HOLDS, kb=kb)
    assert "can't be worked out without the amp fact 'power-tube'" in " ".join(ran.out.split())
    assert f"chopstick take {repaired} --amp power-tube=VALUE" in ran.out
    assert "(plates)" not in ran.out, "it is not the next step again"
    shown = run("show", str(repaired), kb=kb).out
    assert "tried, not proven yet: plate dissipation of the rating: can't be worked" in " ".join(shown.split())
    told = run("take", str(repaired), "--amp", "power-tube=6V6GT", kb=kb)
    assert "Set the bias: proven." in told.out
    assert "power-tube=VALUE" not in told.out


def test_the_json_says_what_it_waits_for(run: Run, kb: Path, repaired: int) -> None:
    ran = run("take", str(repaired), *READ, *HOLDS, "--json", kb=kb)
    share = next(one for one in ran.json["values"] if one["name"] == "share")
    assert share["value"] is None
    assert "the amp fact 'power-tube'" in share["doubt"]
    assert "Which power tubes" in share["settle"]


def test_at_the_bench_it_is_asked_at_once(run: Run, kb: Path, repaired: int) -> None:
    run("take", str(repaired), *READ, *HOLDS, kb=kb)
    ran = bench(run, kb, repaired, "again plates\n340 20mA\n9zz\n6v6\nstop\n")
    assert "ABOUT THE AMP" in ran.out
    assert "power-tube can't be '9zz'" in ran.out
    assert "Set the bias: proven." in ran.out
    assert "power-tube 6V6" in run("show", str(repaired), kb=kb).out


def test_what_is_not_known_is_asked_once_a_sitting(run: Run, kb: Path, repaired: int) -> None:
    run("take", str(repaired), *READ, *HOLDS, kb=kb)
    for said in ("skip", "unknown"):
        ran = bench(run, kb, repaired, f"again plates\n340 20mA\n{said}\nagain plates\n341 20mA\nstop\n")
        assert ran.out.count("ABOUT THE AMP") == 1
        assert "PROOF: Measure the plates" not in ran.out
        assert ran.out.rstrip().endswith(f"chopstick show {repaired}")


def test_back_takes_the_amp_fact_back_before_the_reading(run: Run, kb: Path, repaired: int) -> None:
    run("take", str(repaired), *READ, *HOLDS, kb=kb)
    ran = bench(run, kb, repaired, "again plates\n340 20mA\n6V6GT\nback\nback\nstop\n")
    assert "Taken back: power-tube 6V6GT" in ran.out
    assert "Taken back: Measure the plates at idle" in ran.out
