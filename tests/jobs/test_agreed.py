"""What the owner wants, what is ordered and what was approved: the last word counts, and undo takes a word back."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from chopstick.cli.sitting.agreement import Agreeing, amount, day, entries
from chopstick.engine.jobs.shop.agreement import agreed
from chopstick.engine.reasoning.answers import AnswerError
from chopstick.engine.reasoning.log import (
    ENTRY,
    Approved,
    Arrived,
    Awaited,
    Closed,
    Details,
    LogEntry,
    Opened,
    Undone,
)

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def at(minutes: int) -> datetime:
    return START + timedelta(minutes=minutes)


def log(*entries: LogEntry) -> list[LogEntry]:
    return [Opened(at=START, title="a combo", fingerprint="f"), *entries]


def test_details_are_told_bit_by_bit_and_the_last_word_counts() -> None:
    told = agreed(
        log(
            Details(at=at(1), serial="A 1044", accessories=("foot switch", "cover"), budget=150, currency="EUR"),
            Details(at=at(2), promised=date(2026, 3, 14), budget=200),
        )
    )
    assert (told.serial, told.accessories) == ("A 1044", ("foot switch", "cover"))
    assert (told.budget, told.currency, told.promised) == (200, "EUR", date(2026, 3, 14))


def test_a_part_is_awaited_until_it_has_arrived() -> None:
    ordered = log(Awaited(at=at(1), part="output transformer", due=date(2026, 3, 9)), Awaited(at=at(2), part="choke"))
    assert [one.part for one in agreed(ordered).awaited] == ["output transformer", "choke"]
    assert [one.part for one in agreed([*ordered, Arrived(at=at(3), number=2)]).awaited] == ["choke"]
    back = [*ordered, Arrived(at=at(3), number=2), Undone(at=at(4), number=4)]
    assert len(agreed(back).awaited) == 2


def test_the_owners_last_word_on_an_estimate_stands() -> None:
    told = agreed(log(Approved(at=at(1), approved=False), Approved(at=at(2), high=240, currency="EUR", by="by phone")))
    assert told.approval is not None
    assert (told.approval.approved, told.approval.high) == (True, 240)
    assert len(told.approvals) == 2


def test_a_job_closed_without_a_verdict_says_so() -> None:
    assert not Closed(at=START).verdict
    assert Closed(at=START, was=("filter-capacitor-dried",)).verdict
    assert Closed(at=START, left=("output-transformer-shorted",)).verdict  # the owner would not have it mended
    assert Closed(at=START, other="nothing wrong; it was the guitar cable").verdict


def test_jobs_closed_by_older_versions_can_still_be_read() -> None:
    old = '{"kind": "closed", "at": "2025-01-01T00:00:00Z", "was": ["x"]}'
    entry = ENTRY.validate_json(old)
    assert isinstance(entry, Closed)
    assert (entry.was, entry.left, entry.charged) == (("x",), (), None)


@pytest.mark.parametrize(
    ("typed", "sum_", "code"),
    [("240", 240, ""), ("240.50 EUR", 240.5, "EUR"), ("240,50", 240.5, ""), ("0 usd", 0, "USD")],
)
def test_sums_of_money_as_people_write_them(typed: str, sum_: float, code: str) -> None:
    assert amount(typed) == (sum_, code)


@pytest.mark.parametrize("typed", ["", "a lot", "-5", "nan", "inf", "240 EURO", "1e9", "2,000,0"])
def test_what_is_no_sum_of_money_is_told_so(typed: str) -> None:
    with pytest.raises(AnswerError, match="240"):
        amount(typed)


def test_what_is_no_day_is_told_so() -> None:
    assert day("2026-03-14") == date(2026, 3, 14)
    with pytest.raises(AnswerError, match="2026-03-01"):
        day("next friday")


def test_a_part_that_has_arrived_is_named_by_its_words() -> None:
    ordered = log(Awaited(at=at(1), part="output transformer"), Awaited(at=at(2), part="power transformer"))
    (entry,) = entries(Agreeing(arrived=["output"]), ordered)
    assert isinstance(entry, Arrived)
    assert entry.number == 2
    with pytest.raises(AnswerError, match="2: output transformer; 3: power transformer"):
        list(entries(Agreeing(arrived=["transformer"]), ordered))
