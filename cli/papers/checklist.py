"""Checklists: from a job's ranked plan, and a check-over for an amp with no complaint."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from ...engine.bench.notation import show
from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from ...engine.late import late
from ...engine.reasoning.bands import bands_of
from ...engine.reasoning.check_over import round_of_checks
from ...engine.reasoning.expected_readings import Expectation
from ...engine.reasoning.holds import HoldState, reach
from ...engine.reasoning.log import Log
from ...engine.reasoning.pins import how
from ...engine.reasoning.plan import worthwhile
from ...engine.reasoning.session import Standing
from ...engine.reasoning.set_up import prepared_first
from ..screen import views
from . import heads
from .heads import written
from .models import Checklist, Head, Item, Line, Option, StageOfWork

with late():
    from ...engine.bench import catalogue

MOST = 16  # checks on a sheet beside those for safety: what the first answers bring makes many of the rest needless
MINUTES = 60.0  # of a check-over, beside the checks for safety
DIGITS = 4  # of a sheet's code: enough to notice that a sheet is another than the one printed


def checklist(now: Standing, log: Log, job: int) -> Checklist:
    """What is worth checking on a job now: proofs, checks for safety, those a rule puts first, and the best others."""
    base, plan = now.base, now.plan
    why: dict[str, str] = {}
    for done in now.facts.repairs:
        if done.proven is None:
            proof = base.repairs[done.repair].proof_for(base.causes.get(done.cause)).check
            why.setdefault(proof, f"proves the repair of: {base.causes[done.cause].name}")
    for check in plan.safety_checks():
        why.setdefault(check.id, "bears on safety")
    for check in plan.open_checks():
        if check.id in now.deduction.check_first:
            why.setdefault(check.id, base.rules[now.deduction.check_first[check.id]].because)
    worth = [one for one in worthwhile(now.worths) if one.check not in why]
    for one in worth[:MOST]:
        why[one.check] = ""
    checks = sorted((base.checks[id_] for id_ in why), key=lambda check: reach(check.stage))
    sheet = _laid_out(heads.head("Checklist", now, log, job), now, checks, now.holds, why, max(0, len(worth) - MOST))
    return _coded(sheet, f"{job}-{len(log)}")


def check_over(now: Standing, log: Log = (), job: int | None = None, minutes: float = MINUTES) -> Checklist:
    """Every check for safety and a sensible round of others for an amp of this kind, whatever was done before. Only
    one of the usual length has a code, by which it can be typed back."""
    checks = round_of_checks(now, minutes)
    holds = [hold for hold in now.holds if not hold.rule or hold.answered is not True]
    why = {check.id: "bears on safety" for check in checks if check.safety}
    if job is None:
        head = Head("Check-over", amp=heads.amp(now.base, now.facts.amp))
        return _laid_out(head, now, checks, holds, why)
    sheet = _laid_out(heads.head("Check-over", now, log, job), now, checks, holds, why)
    return _coded(sheet, f"{job}-{len(log)}") if minutes == MINUTES else sheet  # a code says nothing of the minutes


def _coded(sheet: Checklist, stem: str) -> Checklist:
    """The sheet with its code: the job, after which entry, and a few digits of what its lines ask."""
    asked = "\n".join(f"{line.number} {line.kind} {line.of} {line.reading}" for line in sheet.lines)
    digits = hashlib.sha256(asked.encode()).hexdigest()[:DIGITS]
    return replace(sheet, head=replace(sheet.head, sheet=f"{stem}-{digits}"))


def _laid_out(
    head: Head,
    now: Standing,
    checks: Sequence[model.Check],
    holds: Iterable[HoldState],
    why: Mapping[str, str],
    left_out: int = 0,
) -> Checklist:
    base = now.base
    numbers = iter(range(1, 10_000))
    farthest = max((reach(check.stage) for check in checks), default=-1)
    open_ = [hold for hold in holds if (hold.answered is not True or not hold.rule)]
    stages = []
    for stage in model.STAGES:
        mine = [check for check in checks if check.stage == stage]
        # a move stands before its own stage; every other hold bars all that comes after it
        barred = [
            hold
            for hold in open_
            if hold.blocks == stage
            and reach(stage) <= farthest
            and (
                mine
                or hold.kind != "standing"
                or (stage in model.POWERED and hold.hold not in base.moves)
                or (stage == "live" and any(check.stage == "play" for check in checks))
                or (stage == "cold" and any(prepared_first(check) for check in checks))
            )
        ]
        if not mine and not barred:
            continue
        ids = [id_ for check in mine for id_ in check.cautions]
        stages.append(
            StageOfWork(
                stage=stage,
                title=views.STAGE[stage],
                cautions=heads.cautions(base, ids),
                holds=tuple(
                    _hold(base, hold, next(numbers), checks)
                    for hold in barred
                ),
                items=tuple(_item(now, check, why.get(check.id, ""), numbers) for check in mine),
            )
        )  # fmt: skip
    minutes = sum(now.deduction.check_minutes(check) for check in checks) + sum(
        base.scale.change_of_stage_minutes.get(stage.stage, 0.0) for stage in stages
    )
    return Checklist(head, tuple(stages), minutes, left_out)


def _hold(base: KnowledgeBase, hold: HoldState, number: int, checks: Sequence[model.Check]) -> Line:
    """A hold or a move. One that asks for volts has room for them; one to power says what is clipped on before."""
    move = base.moves.get(hold.hold)
    inside = [one for one in checks if prepared_first(one)] if move is not None and hold.blocks in model.POWERED else []
    text = " ".join((hold.text, *(f"Before it: {one.prepare}" for one in inside if one.prepare)))
    if move is not None and move.volts is not None:
        return Line(number, "hold", hold.hold, move.volts.ask, unit="V", text=text)
    return Line(number, "hold", hold.hold, hold.ask, text=text, options=(Option("yes"), Option("no")), ok="yes",
                prepared=tuple(one.id for one in inside))  # fmt: skip


def _item(now: Standing, check: model.Check, why: str, numbers: Iterator[int]) -> Item:
    return Item(
        check=check.id,
        name=check.name,
        minutes=now.deduction.check_minutes(check),
        do=how(now.base, check, now.facts.amp),
        normal=check.normal,
        why=why,
        tools=check.tools,
        cautions=tuple(heads.named(id_) for id_ in check.cautions),
        lines=tuple(_lines(now, check, numbers)),
        worked_out=tuple(_worked_out(check)),
    )


def _lines(now: Standing, check: model.Check, numbers: Iterator[int]) -> Iterator[Line]:
    if check.answers:
        options = tuple(Option(key, answer.text or "") for key, answer in check.answers.items())
        healthy = [key for key, answer in check.answers.items() if not answer.findings]
        yield Line(next(numbers), "answer", check.id, check.ask or check.name, options=options,
                   ok=healthy[0] if len(healthy) == 1 else "")  # fmt: skip
        return
    bands, sound = bands_of(check), now.expected(check)
    for name, reading in check.readings.items():
        yield Line(
            next(numbers), "reading", check.id, reading.ask, name, reading.point or "", written(reading.unit),
            expected=_expected(sound, name), bands=tuple(_band(band, reading.unit) for band in bands.get(name, ())),
        )  # fmt: skip


def _expected(sound: Expectation, name: str) -> str:
    """What a good amp gives at the test points that a reading may be of, by the circuit chosen or the nearest one."""
    ours = [one for one in sound.points if one.reading == name]
    named = len(ours) > 1
    said = "; ".join(
        f"{f'{one.point} ' if named else ''}{show(one.volts, 'V')} ({show(one.low, 'V')} to {show(one.high, 'V')})"
        for one in ours
    )
    return said if sound.sure or not said else f"{said}, widely, by the nearest circuit: {sound.circuit}"


def _worked_out(check: model.Check) -> Iterator[str]:
    """What will be worked out from the readings, and what its ranges mean."""
    bands = bands_of(check)
    for name, figure in check.figures.items():
        said = "; ".join(_band(band, figure.unit or _unit(figure)) for band in bands.get(name, ()))
        yield f"{figure.text or heads.named(name)}{f': {said}' if said else ''}"


def _unit(figure: model.FigureOf) -> str:
    return catalogue.unit(catalogue.find(figure.compute))


def _band(band: model.Band, unit: str) -> str:
    """A range and what it means. A bound that is a word (an amp fact, a rating) is told by the text alone."""
    above, below = (show(bound, unit) if isinstance(bound, float) else "" for bound in (band.above, band.below))
    if above and below:
        return f"{above} to {below}: {band.text}"
    return f"over {above}: {band.text}" if above else f"under {below}: {band.text}" if below else band.text
