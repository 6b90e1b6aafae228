"""Readings as they were taken, and the same ones before and after the work."""

from __future__ import annotations

from collections.abc import Iterator

from ...engine.bench.notation import show
from ...engine.reasoning.bands import Value, bands_of, spoken
from ...engine.reasoning.log import Log, Reading, RepairDone, standing
from ...engine.reasoning.session import Standing
from .models import Compared, ReadingRow


def rows(now: Standing, log: Log) -> Iterator[ReadingRow]:
    """Every reading that holds, in the order in which they were taken, with what its range means."""
    base = now.base
    said = {(one.entry, one.how.partition(": ")[0]): one.how.partition(": ")[2] for one in now.facts.said if one.by}
    for number, entry in standing(log):
        if not isinstance(entry, Reading) or entry.check not in base.checks:
            continue
        check = base.checks[entry.check]
        for name, value in entry.values.items():
            if name not in check.readings:
                continue
            unit = check.readings[name].unit
            words = spoken(check, name, Value(value, unit))
            yield ReadingRow(
                number, f"{entry.at:%Y-%m-%d %H:%M}", check.name, check.readings[name].ask, value, unit,
                show(value, unit), said.get((number, words), ""),
            )  # fmt: skip


def compared(now: Standing, log: Log) -> Iterator[Compared]:
    """Complaints and readings taken before the first repair and again after it."""
    latest = now.facts.latest()
    for symptom in dict.fromkeys(symptom for symptom, _, _ in now.facts.complaints):
        after = latest[symptom]
        if after.repaired:
            yield Compared(now.base.text(symptom), "there", "still there" if after.present else "gone")
    first = min((number for number, entry in standing(log) if isinstance(entry, RepairDone)), default=None)
    if first is None:
        return
    taken = list(rows(now, log))
    for name in dict.fromkeys((row.check, row.name) for row in taken):
        mine = [row for row in taken if (row.check, row.name) == name]
        if mine[0].entry < first < mine[-1].entry:
            check = next(one for one in now.base.checks.values() if one.name == name[0])
            yield Compared(name[1], mine[0].shown, mine[-1].shown, check.normal if bands_of(check) else "")
