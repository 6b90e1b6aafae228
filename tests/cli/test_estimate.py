"""`estimate`: what is printed, and what `take --approve` makes of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from chopstick.engine.jobs.shop.estimate import Estimate

from .conftest import Run
from .test_shapes import shaped

TERMS = """\
area: small
shop: {currency: EUR, hour: 60}
prices:
  film-capacitor: {name: Film capacitor, each: 2.5, currency: EUR, part: film capacitor}
  rectifier: {name: Rectifier tube, each: 30, currency: EUR, part: rectifier tube}
"""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    areas = tmp_path / "shop" / "areas"
    areas.mkdir(parents=True)
    (areas / "terms.yaml").write_text(TERMS)
    monkeypatch.setenv("CHOPSTICK_SHOP", str(tmp_path / "shop"))
    return tmp_path / "shop"


def test_an_estimate_names_its_currency_its_confidence_and_what_is_missing(run: Run, opened: int, shop: Path) -> None:
    ran = run("estimate", str(opened), "--json")
    assert ran.code == 0, ran.err
    shaped(Estimate, ran.json)
    assert (ran.json["currency"], ran.json["hour"], ran.json["confidence"]) == ("EUR", 60, 0.8)
    assert ran.json["missing"] == ["no price in EUR: contact cleaner"]
    assert ran.json["total"]["low"] <= ran.json["total"]["likely"] <= ran.json["total"]["high"]
    text = run("estimate", str(opened)).out
    assert "in 80 of 100 jobs" in " ".join(text.split())
    assert "and more for what has no price" in " ".join(text.split())
    assert "can kill" in text


def test_an_approval_without_a_sum_is_of_the_estimate_as_it_stands(run: Run, opened: int, shop: Path) -> None:
    total = run("estimate", str(opened), "--json").json["total"]
    assert run("take", str(opened), "--approve", "the owner, by phone").code == 0
    (one,) = run("show", str(opened), "--json").json["agreed"]["approvals"]
    assert (one["low"], one["high"], one["currency"]) == (round(total["low"], 2), round(total["high"], 2), "EUR")


def test_without_a_labour_rate_an_approval_needs_its_sum(run: Run, opened: int) -> None:
    ran = run("take", str(opened), "--approve", "the owner")
    assert ran.code == 2
    assert "--up-to 240" in ran.err


def test_a_repair_over_the_approved_sum_is_flagged_at_once(run: Run, opened: int, shop: Path) -> None:
    run("take", str(opened), "look-at-cord=yes", "--approve", "the owner", "--up-to", "10")
    ran = run("take", str(opened), "--repair", "replace-capacitor", "--hold", "discharged=yes")
    assert "over the 10.00 that were approved" in " ".join(ran.out.split())
    assert run("estimate", str(opened), "--json").json["over_approved"]
