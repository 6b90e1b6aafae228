"""The bench record: everything a job holds, for the shop's own files."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ...engine.bench import pot
from ...engine.bench.notation import give_or_take
from ...engine.knowledge import model
from ...engine.reasoning import wording
from ...engine.reasoning.log import Log, Note, standing, taken_back
from ...engine.reasoning.minutes_spent import minutes_spent
from ...engine.reasoning.session import Standing
from ...engine.reports.repairs import repairs_of
from ...engine.reports.standing import findings_of
from ...engine.reports.verdict import verdict
from ...engine.reports.volts import volts_of
from ..screen import views
from . import heads
from .models import EntryRow, Pair, Record, Sum
from .readings import rows

STATE = {"proposed": "to do", "done": "done, proof still to come", "proven": "done and proven", "failed": "NOT proven"}
# How the readings of a sweep end, with the place of the knob in tenths of its travel.
SWEEP = {"at-quarter": 2.5, "at-half": 5.0, "at-three-quarters": 7.5}


def record(now: Standing, log: Log, job: int) -> Record:
    """All readings, sums with their plots, findings, repairs, contradictions and entries."""
    base = now.base
    undone = taken_back(enumerate(log, start=1))
    return Record(
        head=heads.head("Bench record", now, log, job),
        endings=tuple(Pair(one.says, verdict(now, one)) for one in now.complaints),
        ranking=tuple(Pair(one.name, wording.percent(one.probability)) for one in now.leading[:15]),
        readings=tuple(rows(now, log)),
        sums=(*_sums(now), *_sweeps(now)),
        findings=tuple(
            Pair(f"{one.entry}", one.text if one.present else f"not so: {one.text}") for one in findings_of(now, log)
        ),
        works=tuple(Pair(one.name, f"{one.cause_name}: {STATE[one.state]}") for one in repairs_of(now)),
        conflicts=tuple(
            one.why if one.one == one.other else f"{one.one_text} / {one.other_text} {one.why}" for one in now.conflicts
        ),
        doubts=tuple(f"{one.text}. {one.settle}" for one in now.facts.doubts),
        notes=tuple(entry.text for _, entry in standing(log) if isinstance(entry, Note)),
        entries=tuple(
            EntryRow(number, f"{entry.at:%Y-%m-%d %H:%M}", wording.entry_said(base, entry), number in undone)
            for number, entry in enumerate(log, start=1)
        ),
        minutes=(
            Pair("spent", f"{minutes_spent(now, log):.0f} min"),
            Pair("left", views.minutes_left(now)),
        ),
        volts=volts_of(now),
    )


def _sums(now: Standing) -> Iterator[Sum]:
    for key, value in now.facts.values.items():
        id_, _, name = key.partition("/")
        check, figure = now.base.checks[id_], value.figure
        if figure is not None:
            shown = give_or_take(figure.value, figure.error, figure.unit)
            yield Sum(check.name, check.figures[name].text or figure.name, shown, figure)


def _sweeps(now: Standing) -> Iterator[Sum]:
    """The taper of every control of which readings along its travel were taken."""
    for check in now.base.checks.values():
        found = _sweep(now, check)
        if found is None:
            continue
        try:
            figure = pot.taper_mid_percent(readings=found)
        except ValueError:  # readings that are no sweep: the table of readings has them all the same
            continue
        yield Sum(check.name, "taper of the control", figure.verdict, replace(figure, verdict=""))


def _sweep(now: Standing, check: model.Check) -> str | None:
    """A check's readings along a control's travel, as pot.read_sweep takes them; None when it has no such readings."""
    points = {0.0: 0.0}
    for name in check.readings:
        value = now.facts.values.get(f"{check.id}/{name}")
        if value is None or value.value is None:
            continue
        end = next((end for end in SWEEP if name.endswith(f"-{end}")), None)
        if end:
            points[SWEEP[end]] = value.value
        elif name.endswith("-total"):
            points[10.0] = value.value
    if len(points) < 4:
        return None
    return " ".join(f"{place:g}={ohm:.0f}" for place, ohm in sorted(points.items()))
