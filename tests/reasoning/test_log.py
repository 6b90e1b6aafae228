"""The log of a job: what stands of it, what undo takes back, and what a close says."""

from datetime import datetime

import pytest
from chopstick.engine.reasoning.log import (
    AmpFactsTold,
    CircuitChosen,
    Closed,
    Complaint,
    LogEntry,
    Note,
    Opened,
    Undone,
    chosen_circuit,
    last_undoable,
    standing,
)
from pydantic import ValidationError

AT = datetime(2026, 3, 1, 9, 0)
OPENED = Opened(at=AT, title="job", fingerprint="")
HUM = Complaint(at=AT, says="it hums", symptom="hum")


def numbers(*log: LogEntry) -> list[int]:
    return [number for number, _ in standing(log)]


def test_entries_keep_their_numbers_whatever_is_taken_back() -> None:
    assert numbers(OPENED, HUM, Note(at=AT, text="a"), Undone(at=AT, number=2)) == [1, 3]
    assert numbers(OPENED, HUM, Undone(at=AT, number=2), HUM) == [1, 4], "said again, it stands again"


def test_the_opening_is_never_taken_back() -> None:
    with pytest.raises(ValidationError):
        Undone(at=AT, number=1)
    assert last_undoable([OPENED]) is None
    assert last_undoable([OPENED, HUM, Undone(at=AT, number=2)]) is None
    assert last_undoable([]) is None


def test_undo_after_undo_goes_back_entry_by_entry() -> None:
    log: list[LogEntry] = [OPENED, HUM, AmpFactsTold(at=AT, amp={"bias": "fixed"}), Note(at=AT, text="a")]
    taken = []
    while (number := last_undoable(log)) is not None:
        taken.append(number)
        log.append(Undone(at=AT, number=number))
    assert taken == [4, 3, 2]


def test_the_circuit_is_the_one_chosen_last_that_still_stands() -> None:
    one, other = CircuitChosen(at=AT, circuit="one"), CircuitChosen(at=AT, circuit="other")
    assert chosen_circuit([OPENED]) == ""
    assert chosen_circuit([OPENED, one, other]) == "other"
    assert chosen_circuit([OPENED, one, other, Undone(at=AT, number=3)]) == "one"


@pytest.mark.parametrize(
    ("closed", "says"),
    [({}, False), ({"minutes": 30.0}, False), ({"was": ("a",)}, True), ({"other": "nothing wrong"}, True), ({"left": ("a",)}, True)],
)
def test_a_close_that_says_nothing_of_the_causes_teaches_nothing(closed: dict[str, object], says: bool) -> None:
    assert Closed.model_validate({"at": AT, **closed}).verdict is says
