"""Readings as they were taken, and the same ones before and after the work."""

from __future__ import annotations

from collections.abc import Iterator

from ...engine.bench.notation import show
from ...engine.jobs.shop.before_after import before_after
from ...engine.reasoning import wording
from ...engine.reasoning.log import Answer, Log, Reading, standing
from ...engine.reasoning.session import Standing
from .models import ReadingRow, SideBySide, Tested


def rows(now: Standing, log: Log) -> Iterator[ReadingRow]:
    """Every reading that holds, in the order in which they were taken, with what its range means."""
    base = now.base
    meaning = {(one.entry, one.quantity): one.meaning for one in now.facts.said}
    for number, entry in standing(log):
        if not isinstance(entry, Reading) or entry.check not in base.checks:
            continue
        check = base.checks[entry.check]
        for name, value in entry.values.items():
            if name not in check.readings:
                continue
            unit = check.readings[name].unit
            yield ReadingRow(
                number, f"{entry.at:%Y-%m-%d %H:%M}", check.name, check.readings[name].ask, value, unit,
                show(value, unit), meaning.get((number, name), ""),
            )  # fmt: skip


def last_tests(now: Standing, log: Log) -> Iterator[Tested]:
    """The electrical safety test of the finished amp, as far as it was done since the last repair, with its figures."""
    last_repair = max((one.entry for one in now.facts.repairs), default=0)
    entries = dict(standing(log))
    for check in now.base.written.values():
        number = now.facts.done_at.get(check.id, 0)
        entry = entries.get(number)
        if check.last is None or check.last.areas or number <= last_repair or entry is None:
            continue
        said = wording.said_of(now.base, [entry])
        if isinstance(entry, Answer) and entry.answer in check.answers:
            said = check.answers[entry.answer].text or said
        told = [one.meaning for one in now.facts.said if one.entry == number and one.meaning]
        yield Tested(check.name, f"{said}: {told[-1]}" if told else said, check.normal)


def compared(now: Standing, log: Log) -> Iterator[SideBySide]:
    """Complaints, and what was measured or judged before a repair and again after it."""
    latest = now.facts.latest()
    for symptom in dict.fromkeys(symptom for symptom, _, _ in now.facts.complaints):
        after = latest.get(symptom)  # none where a family stood aside for its kinds
        if after is not None and after.repaired:
            yield SideBySide(now.base.text(symptom), "there", "still there" if after.present else "gone")
    for one in before_after(now.base, log):
        if one.quantity or one.before.said not in ("yes", "no"):  # a bare yes or no tells an owner nothing
            outside = " (outside the limits)" if one.after.good is False else ""
            yield SideBySide(one.name, one.before.said, f"{one.after.said}{outside}", one.limits)
