"""A standing turned into the documented shapes. Imported where one is made: to define them all takes 15 ms, and the
first question at the bench needs none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from ...engine.bench.notation import show
from ...engine.jobs.shop.agreement import agreed
from ...engine.jobs.shop.before_after import Compared, before_after
from ...engine.jobs.shop.estimate import ahead
from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning import explain
from ...engine.reasoning.bands import Value
from ...engine.reasoning.circuit_checks import BAND
from ...engine.reasoning.facts import Said
from ...engine.reasoning.log import Answer, Complaint, Log, Note, Photo, Reading, standing
from ...engine.reasoning.rule_verdict import conclusion
from ...engine.reasoning.script import Happened
from ...engine.reasoning.session import Explaining, Standing
from ...engine.reasoning.steps import Hold, Step
from ..screen.caution import STANDING
from ..screen.wording import proof_wants, said_of, step_name
from . import shapes

if TYPE_CHECKING:
    from ...engine.reasoning.voltages import KnownCircuit


def standing_shape(
    now: Standing, log: Log, number: int | None = None, happened: Sequence[Happened] = ()
) -> shapes.StandingShape:
    """Where a job stands, with the steps of a run when there was one."""
    base, left = now.base, ahead(now)
    return shapes.StandingShape(
        number=number,
        job=now.facts.title,
        fingerprint=base.fingerprint,
        opened_with=now.facts.fingerprint,
        learned=now.learned,
        amp=dict(now.facts.amp),
        circuit=volts_shape(now),
        stage=now.facts.stage,
        next=step_shape(base, now.next),
        complaints=tuple(complaint_shape(base, one) for one in now.complaints),
        ranking=tuple(_ranked(now)),
        findings=tuple(_finding(now, log, said) for said in _settled(now)),
        values=tuple(_value(now, key, value) for key, value in now.facts.values.items()),
        holds=tuple(hold_shape(base, hold) for hold in now.holds),
        conflicts=tuple(
            shapes.ConflictShape(
                one=c.one, other=c.other, one_text=base.text(c.one), other_text=base.text(c.other), why=c.why
            )
            for c in now.conflicts
        ),
        repairs=tuple(repairs_of(now)),
        advice=tuple(shapes.AdviceShape(text=text, rule=rule) for text, rule in now.deduction.advice),
        rules=tuple(
            shapes.SpokenShape(
                rule=id_, then=tuple(conclusion(base, one) for one in spoken.rule.then), because=spoken.rule.because,
                rests_on=spoken.because,
            )
            for id_, spoken in now.deduction.spoken.items()
        ),
        compared=tuple(compared_shape(one) for one in before_after(base, log)),
        notes=tuple(entry.text for _, entry in standing(log) if isinstance(entry, Note)),
        photos=tuple(
            shapes.PhotoShape(path=entry.path, text=entry.text, check=entry.check)
            for _, entry in standing(log)
            if isinstance(entry, Photo)
        ),
        agreed=agreed_shape(log),
        minutes=shapes.MinutesShape(
            spent=explain.minutes_spent(now, log), ahead=left.likely, ahead_low=left.low, ahead_high=left.high
        ),
        steps=tuple(step_shape(base, h.step, said_of(base, h.entries), h.remark) for h in happened),
        caution=STANDING,
    )


def volts_shape(now: Standing) -> shapes.VoltsShape | None:
    """The circuit of a job and what its volts say; None when none was chosen."""
    if not now.facts.circuit:
        return None
    if now.voltages is None:
        return shapes.VoltsShape(
            circuit=now.facts.circuit, title="", trouble=now.trouble, readings=(), explained=True, suspects=()
        )
    known = now.voltages.known
    return shapes.VoltsShape(
        circuit=known.name,
        title=known.circuit.title,
        trouble="",
        readings=tuple(_point_read(known, point, volts) for point, volts in now.voltages.readings.items()),
        explained=now.voltages.explained,
        suspects=tuple(
            shapes.SuspectShape(
                fault=one.fault, text=one.text, stage=one.stage, probability=one.probability,
                predicted=dict(one.predicted), same=one.same, checks=one.checks, causes=one.causes,
            )
            for one in now.voltages.suspects
        ),
    )  # fmt: skip


def _point_read(known: KnownCircuit, point: str, volts: float) -> shapes.PointReadShape:
    mean, sigma = known.chart[point]
    return shapes.PointReadShape(
        point=point, volts=volts, expected=mean, low=mean - BAND * sigma, high=mean + BAND * sigma
    )


def _volts_reason(now: Standing, cause: str) -> shapes.VoltsReasonShape | None:
    voltages = now.voltages
    if voltages is None or cause not in voltages.known.shares:
        return None
    factor = voltages.factor(cause, now.ranking.causes)
    return shapes.VoltsReasonShape(
        silent=cause in voltages.known.silent, log_odds=math.log(factor), readings=dict(voltages.readings),
        predicted=dict(voltages.predicted(cause)),
    )  # fmt: skip


def step_shape(base: KnowledgeBase, step: Step, got: str = "", remark: str = "") -> shapes.StepShape:
    name, stage = step_name(base, step)
    return shapes.StepShape(
        kind=step.kind, id=step.id, name=name, stage=stage, cause=step.cause, why=step.why, got=got, remark=remark
    )


def _ranked(now: Standing) -> list[shapes.CauseShape]:
    prior = now.ranking.causes.network.prior.tolist()
    ranked = [
        shapes.CauseShape(cause=id_, name=now.base.causes[id_].name, probability=p, prior=prior[column])
        for column, (id_, p) in enumerate(now.ranking.probability.items())
    ]
    return sorted(ranked, key=lambda one: (-one.probability, one.cause))


def _settled(now: Standing) -> tuple[Said, ...]:
    return (*now.facts.latest().values(), *now.deduction.findings)


def _finding(now: Standing, log: Log, said: Said) -> shapes.FindingShape:
    origin, of = origin_of(now, log, said)
    return shapes.FindingShape.model_validate(
        {
            "finding": said.finding, "text": now.base.text(said.finding), "present": said.present,
            "origin": origin, "of": of, "entry": said.entry, "how": said.how,
        }
    )  # fmt: skip


def origin_of(now: Standing, log: Log, said: Said) -> tuple[str, str]:
    """Where a finding comes from: complaint, answer, reading or rule; and the words, check or rule."""
    if said in now.deduction.findings:
        for id_, spoken in now.deduction.spoken.items():
            if any(c.conclude == said.finding for c in spoken.rule.then) and said.how.endswith(spoken.rule.because):
                return "rule", id_
        return "rule", ""
    entry = log[said.entry - 1]
    if isinstance(entry, Complaint):
        return "complaint", entry.says
    if isinstance(entry, Reading):
        return "reading", entry.check
    return "answer", entry.check if isinstance(entry, Answer) else ""


def _value(now: Standing, key: str, value: Value) -> shapes.ValueShape:
    check, _, name = key.partition("/")
    doubt = next((one for one in now.facts.doubts if (one.check, one.quantity) == (check, name)), None)
    figure = value.figure
    return shapes.ValueShape(
        check=check,
        name=name,
        value=value.value,
        unit=value.unit,
        shown="" if value.value is None else show(value.value, value.unit),
        figure=None
        if figure is None
        else shapes.FigureShape(
            name=figure.name,
            value=figure.value,
            unit=figure.unit,
            steps=figure.steps,
            warnings=figure.warnings,
            rests_on=figure.rests_on,
            source=figure.source,
            verdict=figure.verdict,
        ),
        trouble=value.trouble,
        error=value.error,
        doubt=doubt.text if doubt else "",
        settle=doubt.settle if doubt else "",
    )


def hold_shape(base: KnowledgeBase, hold: Hold) -> shapes.HoldShape:
    return shapes.HoldShape(
        hold=hold.hold.id,
        text=hold.hold.text,
        ask=hold.hold.ask,
        blocks=hold.hold.blocks,
        answered=hold.answered,
        rule=hold.rule,
        because=base.rules[hold.rule].because if hold.rule else "",
    )


def complaint_shape(base: KnowledgeBase, one: Explaining) -> shapes.ComplaintShape:
    return shapes.ComplaintShape(
        symptom=one.said.finding,
        name=base.text(one.said.finding),
        says=one.words,
        verdict=one.verdict,
        candidates=tuple(candidate_shape(base, c.cause, c.probability) for c in one.candidates),
        unexplained=one.unexplained,
        checks=one.checks,
        separating=one.separating,
        repair=one.repair,
        cause=one.cause,
    )


def candidate_shape(base: KnowledgeBase, cause: str, probability: float) -> shapes.CandidateShape:
    return shapes.CandidateShape(cause=cause, name=base.causes[cause].name, probability=probability)


def repairs_of(now: Standing) -> list[shapes.RepairShape]:
    """The repairs done, in the order in which they were; then those to do now, in the order in which to do them."""
    states = {True: "proven", False: "failed", None: "done"}
    done = [repair_shape(now, one.repair, one.cause, states[one.proven]) for one in now.facts.repairs]
    return done + [repair_shape(now, step.id, step.cause, "proposed") for step in now.plan.repairs()]


def repair_shape(now: Standing, repair_id: str, cause: str, state: str) -> shapes.RepairShape:
    base = now.base
    repair = base.repairs[repair_id]
    proof = repair.proof_for(base.causes.get(cause))
    return shapes.RepairShape.model_validate(
        {
            "repair": repair.id, "name": repair.name, "cause": cause,
            "cause_name": base.causes[cause].name if cause in base.causes else cause,
            "probability": now.ranking.probability.get(cause, 0.0), "state": state,
            "minutes": now.deduction.repair_minutes(repair),
            "skill": repair.skill, "hazard": base.causes[cause].hazard if cause in base.causes else "none",
            "steps": repair.steps, "parts": [part_of(base, part) for part in repair.parts],
            "cautions": [base.cautions[id_].text for id_ in repair.cautions], "keeps": repair.keeps,
            "proof": {
                "check": proof.check, "name": base.checks[proof.check].name,
                "gone": proof.gone or "", "found": proof.found or "", "wants": proof_wants(base, proof),
            },
        }
    )  # fmt: skip


def compared_shape(one: Compared) -> shapes.ComparedShape:
    """A reading or answer before and after the repairs."""
    before, after = (
        shapes.SideShape(value=side.value, said=side.said, good=side.good, entry=side.entry)
        for side in (one.before, one.after)
    )
    return shapes.ComparedShape(
        check=one.check, quantity=one.quantity, name=one.name, unit=one.unit, before=before, after=after, low=one.low,
        high=one.high, limits=one.limits, repairs=one.repairs,
    )  # fmt: skip


def agreed_shape(log: Log) -> shapes.AgreedShape:
    """What was agreed, ordered and approved."""
    told = agreed(log)
    closed = told.closed
    return shapes.AgreedShape(
        serial=told.serial, work_before=told.work_before, accessories=told.accessories, priority=told.priority,
        budget=told.budget, currency=told.currency, promised=_day(told.promised),
        approvals=tuple(
            shapes.ApprovalShape(
                approved=one.approved, low=one.low, high=one.high, currency=one.currency, by=one.by,
                at=one.at.isoformat(),
            )
            for one in told.approvals
        ),
        awaited=tuple(shapes.AwaitedShape(entry=one.number, part=one.part, due=_day(one.due)) for one in told.awaited),
        closed=None if closed is None else shapes.ClosedShape(
            at=closed.at.isoformat(), was=closed.was, other=closed.other, left=closed.left, minutes=closed.minutes,
            charged=closed.charged, currency=closed.currency, warranty_until=_day(closed.warranty_until),
        ),
    )  # fmt: skip


def _day(day: date | None) -> str:
    return "" if day is None else day.isoformat()


def part_of(base: KnowledgeBase, part: model.Part) -> dict[str, object]:
    called = base.parts_list.words(part)
    return {"part": called, "value": part.value or "", "rating": part.rating or "", "quantity": part.quantity}


def reasons_shape(now: Standing, why: explain.Reasons) -> shapes.ReasonsShape:
    base = now.base
    return shapes.ReasonsShape(
        cause=why.cause,
        name=base.causes[why.cause].name,
        probability=why.probability,
        prior=why.prior,
        weights=tuple(
            shapes.WeightShape(
                finding=w.said.finding, text=w.text, present=w.said.present, how=w.said.how, entry=w.said.entry,
                log_odds=w.log_odds,
            )
            for w in why.weights
        ),
        rules=tuple(
            shapes.RuleWeightShape(
                rule=r.rule, because=r.because, log_odds=None if math.isinf(r.log_odds) else r.log_odds
            )
            for r in why.rules
        ),
        turns=tuple(
            shapes.TurnShape(check=t.check, name=base.checks[t.check].name, lowest=t.lowest, highest=t.highest)
            for t in why.turns
        ),
        repairs=base.causes[why.cause].repairs,
        volts=_volts_reason(now, why.cause),
    )  # fmt: skip
