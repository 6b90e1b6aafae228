"""Before and after: what a check showed when the amp came, beside what it showed after the repairs, with the limits.

A pure function of the log and the knowledge base. Of each check that was done both before a repair and after one, the
first reading and the last one stand side by side; so does each figure worked out from them, and each answer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from ...bench.notation import show
from ...knowledge import model
from ...knowledge.base import KnowledgeBase
from ...reasoning.bands import Value, bands_of
from ...reasoning.facts import Facts, bounds, gather
from ...reasoning.log import CANT_TELL, NOT_THIS_AMP, Answer, Log, Reading, RepairDone, standing
from ...reasoning.session import Standing


@dataclass(frozen=True)
class Side:
    """One side of a comparison: the value (None for an answer), as people say it, whether it is within the limits (None
    when there are none, or it is nearer to one than its error), and the number of the log entry."""

    value: float | None
    said: str
    good: bool | None
    entry: int


@dataclass(frozen=True)
class BeforeAfter:
    """A quantity of a check, before and after. quantity: '' for an answer. low, high: the limits between which nothing
    is wrong, in `unit`, where they are known; limits: in words. repairs: those done in between."""

    check: str
    quantity: str
    name: str
    unit: str
    before: Side
    after: Side
    low: float | None
    high: float | None
    limits: str
    repairs: tuple[str, ...]


def before_after(base: KnowledgeBase, log: Log) -> tuple[BeforeAfter, ...]:
    """Every quantity and answer that was taken before a repair and again after one, in the order of the log."""
    entries = standing(log)
    repairs = [(number, entry.repair) for number, entry in entries if isinstance(entry, RepairDone)]
    done: dict[str, list[tuple[int, Answer | Reading]]] = {}
    for number, entry in entries:
        if isinstance(entry, Answer | Reading) and entry.check in base.checks and not _passed_over(entry):
            done.setdefault(entry.check, []).append((number, entry))
    found: list[BeforeAfter] = []
    for check, taken in done.items():
        first, last = taken[0], taken[-1]
        between = tuple(dict.fromkeys(repair for number, repair in repairs if first[0] < number < last[0]))
        if between:
            found.extend(_compared(base, log, base.checks[check], first, last, between))
    return tuple(found)


def settling(now: Standing) -> tuple[str, ...]:
    """What to expect of the parts that were fitted while they settle, and what to look at again."""
    told = (now.base.repairs[one.repair].settles for one in now.facts.repairs if one.proven is not False)
    return tuple(dict.fromkeys(text for text in told if text))


def _passed_over(entry: Answer | Reading) -> bool:
    return isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP)


def _compared(
    base: KnowledgeBase,
    log: Log,
    check: model.Check,
    first: tuple[int, Answer | Reading],
    last: tuple[int, Answer | Reading],
    repairs: tuple[str, ...],
) -> Iterator[BeforeAfter]:
    if isinstance(first[1], Answer) and isinstance(last[1], Answer):
        sides = [_answered(check, number, entry.answer) for number, entry in (first, last) if isinstance(entry, Answer)]
        yield BeforeAfter(check.id, "", check.name, "", sides[0], sides[1], None, None, check.normal, repairs)
        return
    before, after = gather(base, log[: first[0]]), gather(base, log[: last[0]])
    for quantity in (*check.readings, *check.figures):
        key = f"{check.id}/{quantity}"
        was, now = before.values.get(key), after.values.get(key)
        if was is None or now is None or was.value is None or now.value is None:
            continue
        name = check.readings[quantity].ask if quantity in check.readings else check.figures[quantity].text or quantity
        low, high = limits(base, after, check, quantity)
        said = _limits_said(low, high, now.unit) or check.normal
        yield BeforeAfter(
            check.id, quantity, name, now.unit, _side(base, before, check, quantity, was, first[0]),
            _side(base, after, check, quantity, now, last[0]), low, high, said, repairs,
        )  # fmt: skip


def _answered(check: model.Check, number: int, key: str) -> Side:
    """An answer that names no finding is the one of an amp in order, when there is only one such."""
    answer = check.answers.get(key)
    quiet = [one for one in check.answers.values() if not one.findings]
    good = None if answer is None or not quiet else not answer.findings
    return Side(None, (answer.text if answer else None) or key, good, number)


def _side(base: KnowledgeBase, facts: Facts, check: model.Check, quantity: str, value: Value, number: int) -> Side:
    low, high = limits(base, facts, check, quantity)
    good = None
    ends = [end for end in (low, high) if end is not None]
    if value.value is not None and ends and all(abs(value.value - end) >= value.error for end in ends):
        good = (low is None or value.value >= low) and (high is None or value.value <= high)
    return Side(value.value, show(value.value or 0.0, value.unit), good, number)


def limits(base: KnowledgeBase, facts: Facts, check: model.Check, quantity: str) -> tuple[float | None, float | None]:
    """Between which values a reading or figure tells of no fault: the band without findings; where there is none, what
    the bands with findings leave free in one piece. None where an end is open; both where nothing is known."""
    named = [(bounds(base, facts, check, band), band) for band in bands_of(check).get(quantity, [])]
    known = [(ends, band) for ends, band in named if ends is not None]
    if len(known) < len(named):
        return None, None
    quiet = [ends for ends, band in known if not band.findings]
    if quiet:
        low, high = min(ends[0] for ends in quiet), max(ends[1] for ends in quiet)
        inside = [ends for ends, band in known if band.findings and ends[0] < high and ends[1] > low]
        return (None, None) if inside else (_end(low), _end(high))
    bad = sorted(ends for ends, _ in known)
    gaps = [(one[1], other[0]) for one, other in pairwise(bad) if one[1] < other[0]]
    lowest, highest = (bad[0][0], bad[-1][1]) if bad else (0.0, 0.0)
    if lowest == -math.inf and highest == math.inf:  # faults on both sides
        return (_end(gaps[0][0]), _end(gaps[0][1])) if len(gaps) == 1 else (None, None)
    if gaps:
        return None, None
    return _end(highest) if lowest == -math.inf else None, _end(lowest) if highest == math.inf else None


def _end(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _limits_said(low: float | None, high: float | None, unit: str) -> str:
    if low is not None and high is not None:
        return f"{show(low, unit)} to {show(high, unit)}"
    if low is not None:
        return f"{show(low, unit)} or more"
    return f"{show(high, unit)} or less" if high is not None else ""
