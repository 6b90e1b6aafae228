"""What `chopstick practice --json` prints."""

from __future__ import annotations

from .shapes import Shape


class MissedShape(Shape):
    """A fault that was not mended. checks: those of the plan's order that could have shown it."""

    cause: str
    checks: tuple[str, ...]


class UnsafeShape(Shape):
    """A move that could have killed, and why."""

    what: str
    why: str


class OrderShape(Shape):
    """One step of the plan's own order. kind: hold, check, proof or repair; got: what came of it."""

    kind: str
    id: str
    name: str
    stage: str
    got: str


class PracticeShape(Shape):
    """How a practice went. amp: what the job was; points: 0 to 100; faults: what was wrong, by cause; minutes and
    checks: the learner's, and the plan's own on the same amp."""

    seed: int
    amp: str
    points: float
    faults: tuple[str, ...]
    found: tuple[str, ...]
    missed: tuple[MissedShape, ...]
    needless_repairs: tuple[str, ...]
    unsafe: tuple[UnsafeShape, ...]
    checks: int
    minutes: float
    plan_checks: int
    plan_minutes: float
    plan_order: tuple[OrderShape, ...]
