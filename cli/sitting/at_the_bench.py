"""What steering, typing and confirming may ask of a sitting: its job, its questions, and the way to keep an entry."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning.log import LogEntry
from ...engine.reasoning.session import Session, Standing
from ...engine.reasoning.steps import Step
from ..screen.page import Page
from .face import Face
from .steering_words import Key


@dataclass
class Confirmed:
    """What was confirmed in this sitting."""

    stage: str = ""
    cautions: set[str] = field(default_factory=set)
    reviewed: bool = False


class Logged(Protocol):
    """A job, or a practice: what was entered so far."""

    log: list[LogEntry]
    number: int


class AtTheBench(Protocol):
    """A sitting, as bench_sitting.py runs it. later: causes whose repair was put off; not_known: amp facts that the
    technician does not know; level: junior or senior."""

    @property
    def job(self) -> Logged: ...

    session: Session
    base: KnowledgeBase
    face: Face
    level: str
    later: set[str]
    not_known: set[str]
    confirmed: Confirmed

    def read(self) -> Standing:
        """Where the job stands now."""

    def keep(self, *entries: LogEntry) -> None:
        """Add entries to the job. Raises Stopped when they can't be kept, Changed when others came in first."""

    def ask(self, now: Standing, step: Step, page: Page) -> str:
        """What was typed, with the steering words dealt with. Raises Stopped or Changed."""

    def steer(self, now: Standing, step: Step, page: Page, key: Key) -> None:
        """Do what a steering word says. Raises Stopped, or Changed when the log was added to."""

    def hold(self, now: Standing, step: Step) -> None:
        """Ask a hold."""

    def move(self, now: Standing, step: Step) -> None:
        """Take the amp to another set-up."""

    def check(self, now: Standing, step: Step) -> None:
        """Ask a check and keep what it yields."""

    def repair(self, now: Standing, step: Step) -> None:
        """Propose a repair and keep that it was done."""
