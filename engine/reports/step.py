"""The step that comes next, or that was taken."""

from __future__ import annotations

from ..knowledge.base import KnowledgeBase
from ..reasoning.steps import Kind, Step
from ..reasoning.wording import step_name
from ..report import Report


class StepOfJob(Report):
    """A step: what was next and why; got: what the log then got, as typed or chosen; remark: a reading questioned."""

    kind: Kind
    id: str
    name: str
    stage: str
    cause: str
    why: str
    prepared: tuple[str, ...]
    got: str
    remark: str


def step_of(base: KnowledgeBase, step: Step, got: str = "", remark: str = "") -> StepOfJob:
    """A step, with what came of it."""
    name, stage = step_name(base, step)
    return StepOfJob.made_of(step, name=name, stage=stage, got=got, remark=remark)
