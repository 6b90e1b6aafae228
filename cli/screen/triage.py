"""What a job looks like before the first check: holds, likely areas, what to have ready, and how long it may take."""

from __future__ import annotations

from ...engine.reasoning.session import Standing
from ...engine.reasoning.wording import cause_name
from ...engine.reports.triage import Triage
from . import report, views
from .screen import Screen


def tell(screen: Screen, now: Standing, told: Triage) -> None:
    """The triage for people."""
    screen.heading(f"Job {told.number}: {told.job}")
    screen.bullets([f'"{one.says}" ({one.name})' for one in told.complaints], indent=2)
    if told.amp:
        views.amp(screen, now)
    screen.heading("Holds: each must be answered before the work it bars")
    views.holds(screen, told.holds)
    screen.heading("Likely areas")
    screen.bullets([one.title for one in told.areas], indent=2)
    screen.heading("Likely causes so far")
    report.ranking(screen, now, 8)
    screen.heading("To have ready")
    screen.pairs([("tools", ", ".join(told.tools))] if told.tools else [], indent=2)
    parts = [f"{one.counted(one.specification)} (if it is: {cause_name(now.base, one.cause)})" for one in told.parts]
    screen.pairs([("part", text) for text in parts], indent=2)
    screen.line()
    screen.line(
        f"Bench time: about {told.minutes_likely:.0f} min, checks and repairs; from {told.minutes_low:.0f} to "
        f"{told.minutes_high:.0f} in 80 of 100 jobs like this one."
    )
    screen.line()
    views.caution(screen)
    screen.line()
    screen.line(f"Go on with: chopstick bench {told.number}")
