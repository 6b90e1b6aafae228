"""When another bench has worked on the same job: says what came in, and asks where that touches what was entered."""

from __future__ import annotations

from collections.abc import Sequence

from ...engine.jobs.store.errors import MovedOn, entries
from ...engine.jobs.store.job import Job
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning.log import LogEntry
from ...engine.reasoning.wording import entry_said
from ..screen.screen import Screen
from .face import Face


def keep(face: Face, base: KnowledgeBase, job: Job, added: Sequence[LogEntry]) -> bool:
    """Add entries to a job, after those that came in meanwhile. False when they were left out. Raises JobError."""
    while True:
        try:
            came = job.append(*added)
        except MovedOn as moved:
            tell(face.screen, base, moved.came)
            face.screen.line(f"{moved.why[:1].upper()}{moved.why[1:]}.")
            if face.prompt.yes("Add yours after it anyway? [yes, no]"):
                continue
            face.say("Left out; the job is as the other bench left it.")
            return False
        if came:
            said = "; ".join(entry_said(base, entry) for entry in came)
            face.say(f"The job moved on: {entries(len(came))} from another bench ({said}); yours is kept after them.")
        return True


def tell(screen: Screen, base: KnowledgeBase, came: Sequence[LogEntry]) -> None:
    """What came in from another bench."""
    screen.line(f"The job moved on: {entries(len(came))} came in meanwhile from another bench.", "bold")
    screen.bullets([entry_said(base, entry) for entry in came], indent=2)
