"""What the volts read on a job say, by the circuit that was chosen for it."""

from __future__ import annotations

from ..reasoning.session import Standing
from ..reasoning.suspects import Suspect
from ..report import Report


class PointRead(Report):
    """Volts read at a test point, and what a good amp gives there; low to high with good parts."""

    point: str
    volts: float
    expected: float
    low: float
    high: float

    @property
    def fits(self) -> bool:
        """Whether good parts can give it."""
        return self.low <= self.volts <= self.high


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
    suspects: tuple[Suspect, ...] = ()


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
