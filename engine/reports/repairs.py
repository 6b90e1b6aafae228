"""The repairs of a job, done and to do, with what each takes and what proves it."""

from __future__ import annotations

from typing import Literal

from ..knowledge.model import Stage
from ..reasoning.parts_needed import PartNeeded
from ..reasoning.session import Standing
from ..reasoning.wording import cause_name, proof_wants
from ..report import Report

State = Literal["proposed", "done", "proven", "failed"]
STATES: dict[bool | None, State] = {True: "proven", False: "failed", None: "done"}


class ProofOfRepair(Report):
    """The check that proves a repair: after it, finding `gone` must be answered no, or `found` must be so; wants says
    it in words. stage: of work at which it is done."""

    check: str
    name: str
    stage: Stage
    gone: str
    found: str
    wants: str


class RepairOfJob(Report):
    """A repair. state: proposed, done (proof still to come), proven, or failed (the proof did not hold). caution_ids:
    of the repair and of the check that proves it."""

    repair: str
    name: str
    cause: str
    cause_name: str
    probability: float
    state: State
    minutes: float
    skill: str
    hazard: str
    steps: tuple[str, ...]
    parts: tuple[PartNeeded, ...]
    cautions: tuple[str, ...]
    caution_ids: tuple[str, ...]
    keeps: str
    proof: ProofOfRepair


def repairs_of(now: Standing) -> tuple[RepairOfJob, ...]:
    """The repairs done, in the order in which they were; then those to do now, in the order in which to do them."""
    done = [repair_of(now, one.repair, one.cause, STATES[one.proven]) for one in now.facts.repairs]
    return (*done, *(repair_of(now, step.id, step.cause, "proposed") for step in now.plan.repairs()))


def repair_of(now: Standing, repair_id: str, cause: str, state: State) -> RepairOfJob:
    """A repair for a cause."""
    base = now.base
    repair, known = base.repairs[repair_id], base.causes.get(cause)
    proof = repair.proof_for(known)
    check = base.checks[proof.check]
    return RepairOfJob.made_of(
        repair,
        repair=repair.id,
        cause=cause,
        cause_name=cause_name(base, cause),
        probability=now.ranking.probability.get(cause, 0.0),
        state=state,
        minutes=now.deduction.repair_minutes(repair),
        hazard=known.hazard if known else "none",
        parts=tuple(PartNeeded.needed(base, part) for part in repair.parts),
        cautions=tuple(base.cautions[id_].text for id_ in repair.cautions),
        caution_ids=tuple(id_ for id_ in base.cautions if id_ in (*repair.cautions, *check.cautions)),
        proof=ProofOfRepair(
            check=check.id, name=check.name, stage=check.stage, gone=proof.gone or "", found=proof.found or "",
            wants=proof_wants(base, proof),
        ),
    )  # fmt: skip
