"""A bench that writes logs, and a shop with prices, over the small knowledge base of the command line's tests."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.knowledge.load import load
from chopstick.engine.reasoning.log import Answer, Complaint, HoldAnswered, LogEntry, Opened, Reading, RepairDone

SMALL = Path(__file__).parents[1] / "cli" / "kb"
START = datetime(2026, 3, 2, 9, tzinfo=UTC)
TERMS = """\
area: small
shop: {currency: EUR, hour: 60, warranty_days: 90}
prices:
  film-capacitor: {name: Film capacitor, each: 2.5, currency: EUR, part: film capacitor}
  cleaner: {name: A shot of cleaner, each: 0.5, currency: EUR, part: contact cleaner}
  rectifier: {name: Rectifier tube, each: 30, currency: EUR, part: rectifier tube}
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """The folder of a shop's layer with terms and prices."""
    areas = tmp_path / "shop" / "areas"
    areas.mkdir(parents=True)
    (areas / "terms.yaml").write_text(TERMS)
    return tmp_path / "shop"


@pytest.fixture
def priced(shop: Path) -> KnowledgeBase:
    """The small knowledge base with the shop's terms and prices."""
    return load(SMALL, (Layer("shop", "shop", shop),))


@pytest.fixture
def plain() -> KnowledgeBase:
    return load(SMALL)


class Bench:
    """Writes a log, a minute an entry."""

    def __init__(self, *complaints: str, amp: dict[str, str | bool | float] | None = None) -> None:
        self._times = self._clock()
        self.log: list[LogEntry] = [Opened(at=self.now, title="a combo", fingerprint="f", amp=amp or {})]
        self.log += [Complaint(at=self.now, says=symptom, symptom=symptom) for symptom in complaints]

    @staticmethod
    def _clock() -> Iterator[datetime]:
        at = START
        while True:
            yield at
            at += timedelta(minutes=1)

    @property
    def now(self) -> datetime:
        return next(self._times)

    def answer(self, check: str, key: str) -> Bench:
        return self.add(Answer(at=self.now, check=check, answer=key))

    def read(self, check: str, **values: float) -> Bench:
        named = {name.replace("_", "-"): value for name, value in values.items()}
        return self.add(Reading(at=self.now, check=check, values=named))

    def hold(self, hold: str) -> Bench:
        return self.add(HoldAnswered(at=self.now, hold=hold, cleared=True))

    def repair(self, repair: str, cause: str) -> Bench:
        return self.add(RepairDone(at=self.now, repair=repair, cause=cause))

    def add(self, *entries: LogEntry) -> Bench:
        self.log.extend(entries)
        return self


def kinds(log: Sequence[LogEntry]) -> list[str]:
    return [entry.kind for entry in log]
