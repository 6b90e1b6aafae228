"""The checks that a known circuit gives by itself: one reading for each of its test points; and a finding for each of
its stages, true when the volts read there are not those of a good one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from ..bench.notation import show
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..late import late

if TYPE_CHECKING:
    from ..circuit.netlist import Circuit

with late():
    import dataclasses

AREA = "voltages"
READING = "volts"
FITS_NOT = "circuit-fits-not"
MINUTES = 2.0
SIGNAL_MINUTES = 3.0
GRID_MINUTES = 3.0  # a grid is read twice: a probe on it may disturb the stage
BAND = 2.0  # standard deviations on either side of what is expected
Chart = Mapping[str, tuple[float, float]]
Signals = Mapping[str, tuple[float, float, float]]


def point_check(point: str) -> str:
    """The id of the check that reads a test point."""
    return "volts-at-" + point.replace(".", "-").replace("_", "-").replace(" ", "-").lower()


def check_named(base: KnowledgeBase, name: str) -> str:
    """The id of a check that was named, perhaps by its test point, as in v1a.plate."""
    return name if name in base.checks or point_check(name) not in base.checks else point_check(name)


def stage_finding(stage: str) -> str:
    """The id of the finding that a stage's volts are off."""
    return stage.replace("_", "-").lower() + "-volts-off"


def with_circuit(
    base: KnowledgeBase,
    name: str,
    circuit: Circuit,
    chart: Chart,
    signals: Signals | None = None,
    driven_V: float = 0.0,
) -> KnowledgeBase:
    """The knowledge base with the checks and findings of a circuit in an area of their own.

    chart: what each test point reads when all is healthy, and its standard deviation. A point that a check of the base
    reads, and nothing else, gets none. signals: what AC readings give when all is healthy, and the lowest and highest
    with good parts; driven_V: what the generator at the input is set to.
    """
    read = {
        reading.point
        for check in base.checks.values()
        for reading in check.readings.values()
        if reading.dc and len(check.readings) == 1
    }
    checks = {
        point_check(point): _check(base, circuit, chart, point) for point in circuit.test_points if point not in read
    }
    for one, band in (signals or {}).items():
        checks[point_check(one)] = _signal_check(base, circuit, one, band, driven_V)
    often = next(iter(base.scale.how_often))
    findings = {
        stage_finding(stage): model.Finding(
            id=stage_finding(stage), text=f"{entry.title}: the volts are not those of a good one", otherwise=often
        )
        for stage, entry in circuit.stages.items()
    }
    findings[FITS_NOT] = model.Finding(
        id=FITS_NOT, text=f"The volts read fit no fault of the circuit {name}", otherwise=often
    )
    area = model.Area(
        area=AREA,
        title="Voltages of the chosen circuit",
        about=f"Made from the circuit '{name}': {circuit.title}.",
        checks=checks,
        findings=findings,
    )
    return dataclasses.replace(base, areas={**base.areas, AREA: area})


def _check(base: KnowledgeBase, circuit: Circuit, chart: Chart, point: str) -> model.Check:
    volts, sigma = chart[point]
    low, high = volts - BAND * sigma, volts + BAND * sigma
    most = max(abs(mean) for mean, _ in chart.values())
    ends = list(_ends(circuit, point))
    electrodes = [text for text, is_tube in ends if is_tube]
    where = " and ".join(electrodes) or point
    others = ", ".join(text for text, is_tube in ends if not is_tube)
    grid = " Read quickly: a probe on a grid may set the stage crackling or oscillating." if ".grid" in point else ""
    return model.Check(
        id=point_check(point),
        name=f"Measure {where} to chassis" if electrodes else f"Measure {point} to chassis",
        stage="live",
        hands="outside",
        minutes=GRID_MINUTES if grid else MINUTES,
        do=(
            f"DC volts: begin on the highest range, go down no further than one that holds {show(most, 'V')} while the "
            "fault is not known. Black lead clipped to bare metal of the chassis before power; speaker or dummy load "
            f"on, no signal, warm for two minutes. Red probe to {where}"
            f"{f', where it meets {others}' if electrodes and others else f': {others}' if others else ''}.{grid}"
        ),
        normal=f"{show(volts, 'V')}; good parts give {show(low, 'V')} to {show(high, 'V')} on a 10 megohm meter.",
        cautions=tuple(id_ for id_ in ("live", "load") if id_ in base.cautions),
        tools=("meter of 10 megohms input, insulated probe",),
        readings={
            READING: model.ReadingAsked(
                ask=f"{point} to chassis", unit="V", point=point, dc="plus",
                plausible=(-max(most * 0.5, 100.0), most * 1.5 + 50.0),
            )
        },
        bands=(
            model.Band(above=high, text="above what good parts give"),
            model.Band(above=low, below=high, text="as good parts give it"),
            model.Band(below=low, text="below what good parts give"),
        ),
    )  # fmt: skip


def _signal_check(
    base: KnowledgeBase, circuit: Circuit, name: str, band: tuple[float, float, float], driven_V: float
) -> model.Check:
    """The check that reads a signal, ripple or hum."""
    node, _, what = name.partition(" ")
    driven = what.startswith("at ")
    where = " and ".join(text for text, is_tube in _ends(circuit, node) if is_tube) or node
    volts, low, high = (show(float(f"{value:.2g}"), "V") for value in band)
    signal = (
        f"Generator at the input, {show(driven_V, 'V')} RMS at {what[3:]}, sine, its ground to the chassis; controls "
        "as they stand in the circuit file, reverb and tremolo off, dummy load on."
        if driven else "No signal, the input shorted, the controls as in the circuit file, dummy load on."
    )  # fmt: skip
    return model.Check(
        id=point_check(name),
        name=f"Measure the signal at {where}, {what[3:]}" if driven else f"Measure the {what} at {where}",
        stage="live",
        hands="clip-on",
        minutes=SIGNAL_MINUTES,
        prepare=(
            f"Unplugged, bled and measured: clip the meter's or scope's lead to {where} through a blocking capacitor "
            "of 100 nF rated 630 V, its far end to the chassis through 1 megohm, so that the plate's DC never "
            "reaches meter or generator."
        ),
        do=(
            f"{signal} AC volts: power on, hands out, warm for two minutes, read. Undo it with the amp unplugged "
            "and bled."
        ),
        normal=f"{volts} RMS; good parts give {low} to {high}.",
        cautions=tuple(id_ for id_ in ("discharge", "live", "load") if id_ in base.cautions),
        tools=("AC voltmeter or scope, 1 megohm or more", *(("signal generator",) if driven else ())),
        readings={
            READING: model.ReadingAsked(
                ask=f"{name}, AC volts RMS", unit="V", quantity=name, plausible=(-0.001, max(20.0, 30 * band[2]))
            )
        },
        bands=(
            model.Band(above=band[2], text="above what good parts give"),
            model.Band(above=band[1], below=band[2], text="as good parts give it"),
            model.Band(below=band[1], text="below what good parts give"),
        ),
    )


def _ends(circuit: Circuit, node: str) -> Iterator[tuple[str, bool]]:
    """What is at a node, and whether it is a tube's electrode."""
    roles = {part: role for stage in circuit.stages.values() for part, role in stage.parts.items()}
    for name, tube in circuit.tubes.items():
        for electrode in ("plate", "screen", "cathode", "grid"):
            if getattr(tube, electrode) == node:
                yield f"the {electrode} of {name} ({tube.type})", True
    for name, part in circuit.parts.items():
        if node in part.nodes:
            yield f"{name} ({roles.get(name, part.kind)})", False
    if circuit.output and node in circuit.output.primary:
        yield "the output transformer", False
