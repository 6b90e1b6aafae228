"""What the volts read on a job say, by the circuit that was chosen for it."""

from __future__ import annotations

from ..reasoning.session import Standing
from ..report import Report


class PointRead(Report):
    """Volts read at a test point, and what a sound amp gives there; low to high with sound parts."""

    point: str
    volts: float
    expected: float
    low: float
    high: float

    @property
    def fits(self) -> bool:
        """Whether sound parts can give it."""
        return self.low <= self.volts <= self.high


class SuspectedFault(Report):
    """A fault of the circuit that the volts point to. predicted: volts with it at the points read; same: faults that no
    reading at any test point tells from it, itself first; checks: what would; causes: those it may be."""

    fault: str
    text: str
    stage: str
    probability: float
    predicted: dict[str, float]
    same: tuple[str, ...]
    checks: tuple[str, ...]
    causes: tuple[str, ...]


class VoltsOfJob(Report):
    """The circuit that was chosen for a job, and what the volts read on it say.

    trouble: why it can't be used, '' when it can. readings: since the last repair that could change them. explained:
    whether some faults account for them.
    """

    circuit: str
    title: str = ""
    trouble: str = ""
    readings: tuple[PointRead, ...] = ()
    explained: bool = True
    suspects: tuple[SuspectedFault, ...] = ()


def volts_of(now: Standing) -> VoltsOfJob | None:
    """The circuit of a job and what its volts say; None when none was chosen."""
    if not now.facts.circuit:
        return None
    if now.voltages is None:
        return VoltsOfJob(circuit=now.facts.circuit, trouble=now.trouble)
    known = now.voltages.known
    readings = [(point, volts, *known.band(point)) for point, volts in now.voltages.readings.items()]
    return VoltsOfJob.made_of(
        now.voltages,
        circuit=known.name,
        title=known.circuit.title,
        readings=tuple(
            PointRead(point=point, volts=volts, expected=expected, low=low, high=high)
            for point, volts, expected, low, high in readings
        ),
    )
