"""What causes say of circuits must be there in at least one of them."""

from __future__ import annotations

from collections.abc import Iterator

from ..errors import Problem, did_you_mean
from .frame import Look, lint


@lint("warning")
def no_such_fault(look: Look) -> Iterator[Problem]:
    """A cause's `circuit` that matches no fault of any shipped circuit: a role, a fault or a kind of stage that no
    circuit file has. No reading could then speak for the cause."""
    wanted = [cause for cause in look.base.causes.values() if cause.circuit]
    if not wanted:
        return
    from ...circuit.matching import matching, shipped_faults

    faults = shipped_faults()
    for cause in wanted:
        for number, one in enumerate(cause.circuit):
            if next(matching(faults, one.part, one.fault, one.stage), None) is None:
                roles = sorted({fault.role for fault in faults})
                hint = next((said for said in (did_you_mean(word, roles) for word in one.part) if said), "")
                message = "no shipped circuit has such a fault"
                yield look.problem("causes", cause, ("circuit", number), message, hint)
