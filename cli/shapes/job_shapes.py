"""The documented JSON of `chopstick jobs ...` and `chopstick queue`, under the same promise as shapes.py."""

from __future__ import annotations

from typing import Literal

from .shapes import Shape


class HitShape(Shape):
    """An entry that holds the text that was searched: its number in the job's log, its kind, its words."""

    entry: int
    kind: str
    words: str


class FoundShape(Shape):
    number: int
    job: str
    hits: tuple[HitShape, ...]


class SearchShape(Shape):
    """`jobs search`."""

    shape: Literal["chopstick jobs search 1"] = "chopstick jobs search 1"
    text: str
    jobs: tuple[FoundShape, ...]


class TakenInShape(Shape):
    """What became of a job that came in. was: its number there; number: its number here; added: how many of its entries
    were new here; new: whether the job was."""

    was: int
    number: int
    added: int
    new: bool


class ImportShape(Shape):
    """`jobs import`."""

    shape: Literal["chopstick jobs import 1"] = "chopstick jobs import 1"
    jobs: tuple[TakenInShape, ...]


class BackupShape(Shape):
    """`jobs backup` and `jobs restore`. aside: where `restore` put what was there before, '' when nothing was."""

    shape: Literal["chopstick jobs backup 1"] = "chopstick jobs backup 1"
    file: str
    store: str
    jobs: int
    aside: str = ""


class StoreCheckShape(Shape):
    """`jobs check`. problems: what is wrong, in words; none when the store is sound."""

    shape: Literal["chopstick jobs check 1"] = "chopstick jobs check 1"
    store: str
    jobs: int
    problems: tuple[str, ...]


class AwaitedPartShape(Shape):
    part: str
    due: str


class QueuedShape(Shape):
    """An open job in the queue. group: why it stands where it does. minutes: bench minutes left, null when they can't
    be worked out, and trouble then says why. promised, and due of each part awaited: a day, '' when none is known."""

    number: int
    job: str
    group: Literal["held", "to do", "waiting for parts"]
    hold: str
    promised: str
    overdue: bool
    minutes: float | None
    awaited: tuple[AwaitedPartShape, ...]
    priority: str
    next: str
    trouble: str


class QueueShape(Shape):
    """`queue`: the open jobs in the order in which to take them up. today: the day that overdue is judged by."""

    shape: Literal["chopstick queue 1"] = "chopstick queue 1"
    today: str
    jobs: tuple[QueuedShape, ...]
