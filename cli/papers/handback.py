"""The hand-back report: what the owner is told, in plain words."""

from __future__ import annotations

from ...engine.jobs.shop.agreement import agreed
from ...engine.jobs.shop.before_after import settling
from ...engine.reasoning.log import Log
from ...engine.reasoning.session import Standing
from ...engine.reports.repairs import RepairOfJob, repairs_of
from ...engine.reports.verdict import outcome
from . import heads
from .models import HandBack, HowItEnded
from .readings import compared, last_tests


def hand_back(now: Standing, log: Log, job: int) -> HandBack:
    """What was found, done, left and advised."""
    done = [one for one in repairs_of(now) if one.state != "proposed"]
    found = dict.fromkeys([*(one.cause for one in done), *(one.cause for one in now.found)])
    return HandBack(
        head=heads.owners_head("Hand-back report", now, log, job),
        endings=tuple(HowItEnded(one.says, outcome(now, one), one.verdict == "proven") for one in now.complaints),
        compared=tuple(compared(now, log)),
        tested=tuple(last_tests(now, log)),
        found=tuple(_found(now, id_) for id_ in found),
        done=tuple(f"{one.name}{_parts(one)}: {_DONE[one.state]}" for one in done),
        left=tuple(_left(now)),
        advised=(*settling(now), *(text for text, _ in now.deduction.advice)),
        warranty=_warranty(now, log),
    )


_DONE = {
    "proven": "done, tried, and found right.",
    "done": "done; the last trial is still to come.",
    "failed": "done, but the fault was still there when it was tried.",
}


def _warranty(now: Standing, log: Log) -> str:
    closed, days = agreed(log).closed, now.base.shop.warranty_days
    if closed is not None and closed.warranty_until:
        return f"The shop warrants this work until {closed.warranty_until:%Y-%m-%d}."
    return f"The shop warrants this work for {days} days from the day it is handed back." if days else ""


def _found(now: Standing, cause: str) -> str:
    found = now.base.causes[cause]
    return f"{found.name}. {found.why or ''}".strip()


def _parts(repair: RepairOfJob) -> str:
    fitted = [part.counted(part.name) for part in repair.parts]
    return f" ({'; '.join(fitted)})" if fitted else ""


def _left(now: Standing) -> list[str]:
    """What stays undone: complaints not cured, faults known and not repaired, safety stops still open."""
    left = [f'"{one.says}": {outcome(now, one)}' for one in now.complaints if one.verdict != "proven"]
    told = {one.cause for one in now.complaints if one.verdict == "repair"}
    left += [
        f"Not done: {one.name}, for: {one.cause_name}."
        for one in repairs_of(now)
        if one.state == "proposed" and one.cause not in told
    ]
    left += [f"Not safe to use until this is taken care of: {hold.text}" for hold in now.holds if hold.open]
    return left
