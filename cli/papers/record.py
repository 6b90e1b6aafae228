"""The bench record: everything a job holds, for the shop's own files."""

from __future__ import annotations

from collections.abc import Iterator

from ...engine.bench import pot
from ...engine.bench.figure import Curve
from ...engine.bench.notation import show
from ...engine.knowledge import model
from ...engine.reasoning.explain import minutes_spent
from ...engine.reasoning.log import Log, Note, Undone, standing
from ...engine.reasoning.session import Standing
from ..screen import report, views, wording
from ..shapes import results, shapes
from . import heads
from .models import EntryRow, Pair, Record, Sum, VoltsRow
from .readings import rows

STATE = {"proposed": "to do", "done": "done, proof still to come", "proven": "done and proven", "failed": "NOT proven"}
# How the readings of a sweep end, with the place of the knob in tenths of its travel.
SWEEP = {"at-quarter": 2.5, "at-half": 5.0, "at-three-quarters": 7.5}


def record(now: Standing, log: Log, job: int) -> Record:
    """All readings, sums with their plots, findings, repairs, contradictions and entries."""
    base = now.base
    shape = results.standing_shape(now, log, job)
    undone = {entry.number for entry in log if isinstance(entry, Undone)}
    return Record(
        head=heads.head("Bench record", now, log, job),
        endings=tuple(Pair(one.says, report.verdict(now, one)) for one in now.complaints),
        ranking=tuple(Pair(base.causes[c.cause].name, views.percent(c.probability)) for c in now.leading[:15]),
        readings=tuple(rows(now, log)),
        sums=(*_sums(now), *_sweeps(now)),
        findings=tuple(
            Pair(f"{one.entry}", one.text if one.present else f"not so: {one.text}") for one in shape.findings
        ),
        works=tuple(Pair(one.name, f"{one.cause_name}: {STATE[one.state]}") for one in shape.repairs),
        conflicts=tuple(
            one.why if one.one == one.other else f"{one.one_text} / {one.other_text} {one.why}"
            for one in shape.conflicts
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
        circuit=f"{shape.circuit.circuit}: {shape.circuit.title}" if shape.circuit else "",
        volts=tuple(_volts(one) for one in shape.circuit.readings) if shape.circuit else (),
    )


def _volts(one: shapes.PointReadShape) -> VoltsRow:
    band = f"{show(one.expected, 'V')} ({show(one.low, 'V')} to {show(one.high, 'V')})"
    return VoltsRow(one.point, show(one.volts, "V"), band, one.low <= one.volts <= one.high)


def _sums(now: Standing) -> Iterator[Sum]:
    for key, value in now.facts.values.items():
        id_, _, name = key.partition("/")
        check, figure = now.base.checks[id_], value.figure
        if figure is not None:
            yield Sum(
                check.name, check.figures[name].text or figure.name, str(figure).removeprefix(f"{figure.name}: "),
                figure.steps, figure.warnings, figure.rests_on, figure.source, figure.verdict, figure.curve,
            )  # fmt: skip


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
        curve: Curve | None = figure.curve
        yield Sum(
            check.name, "taper of the control", figure.verdict, figure.steps, figure.warnings, figure.rests_on,
            figure.source, curve=curve,
        )  # fmt: skip


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
