"""A job is found again by any words on it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from chopstick.engine.jobs.store.search import chosen, search
from chopstick.engine.jobs.store.store import Store
from chopstick.engine.reasoning.log import AmpFactsTold, Closed, Complaint, Details, Reading, RepairDone, Undone

from .conftest import AT, note, opened


@pytest.fixture
def shop(store: Store) -> Store:
    store.create(
        opened("Head with a hum"), Complaint(at=AT, says="It HUMS when warm", symptom="hum-warm"),
        AmpFactsTold(at=AT, amp={"power-tube": "6V6GT"}), note("smells of hot resin"),
    )  # fmt: skip
    store.create(
        opened("Small combo"), Details(at=AT, serial="A 1044", accessories=("foot switch", "Größe M cover")),
        Reading(at=AT, check="measure-plates", values={"plate": 462.5}),
        RepairDone(at=AT, repair="fit-capacitor", cause="capacitor-leaky"),
        Closed(at=AT + timedelta(days=10), was=("capacitor-leaky",)),
    )  # fmt: skip
    return store


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("hums", [(1, (2,))]),
        ("warm hum", [(1, (2,))]),  # in any order
        ("hum", [(1, (1, 2))]),
        ("6v6gt", [(1, (3,))]),
        ("hot resin", [(1, (4,))]),
        ("hot hum", []),  # not in one entry
        ("a 1044", [(2, (2,))]),
        ("GRÖSSE", [(2, (2,))]),  # case folds as Unicode has it
        ("462.5", [(2, (3,))]),
        ("capacitor-leaky", [(2, (4, 5))]),
        ("ffff", []),  # the fingerprint is nobody's word
    ],
)
def test_words_find_their_entries(text: str, found: list[tuple[int, tuple[int, ...]]], shop: Store) -> None:
    hits = [(job.number, tuple(hit.entry for hit in hits)) for job, hits in search(shop.jobs(), text)]
    assert hits == found


def test_what_was_undone_is_not_found(shop: Store) -> None:
    shop.find(1).append(Undone(at=AT, number=4))
    assert list(search(shop.jobs(), "resin")) == []


def test_a_list_is_narrowed(shop: Store) -> None:
    def numbers(**how: object) -> list[int]:
        return [one.number for one in chosen(shop.listed(), **how)]  # type: ignore[arg-type]

    assert numbers() == [1, 2]
    assert numbers(open_=True) == [1]
    assert numbers(open_=False) == [2]
    assert numbers(since=date(2026, 1, 2)) == [2]
    assert numbers(faults=["capacitor-leaky"]) == [2]
    assert numbers(faults=["capacitor-leaky", "fuse-wrong"]) == []
    assert numbers(open_=True, faults=["capacitor-leaky"]) == []
