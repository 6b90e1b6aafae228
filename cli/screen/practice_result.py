"""How a practice went, on the screen."""

from __future__ import annotations

from ...engine.knowledge.base import KnowledgeBase
from ...engine.practice.amps import Amp
from ...engine.practice.score import FEW, FOUND, NEEDLESS, QUICK, UNSAFE, Score
from ...engine.reasoning.wording import said_of
from .screen import Screen
from .views import minutes


def show(screen: Screen, base: KnowledgeBase, amp: Amp, seed: int, score: Score) -> None:
    """What was found and missed, what it cost, what was unsafe, and the plan's own order."""
    screen.heading(f"Practice {seed}: {score.points:.0f} of 100 points")
    screen.line(f"It was: {amp.file.job}.")
    screen.heading("What was wrong with it")
    missed = {one.cause: one.checks for one in score.missed}
    for cause in amp.file.truth:
        screen.line(f"{base.causes[cause].name}: {'MISSED' if cause in missed else 'found and fixed'}", indent=2)
        if why := base.causes[cause].why:
            screen.line(why, indent=4)
        if missed.get(cause):
            screen.line(f"it shows at: {'; '.join(base.checks[id_].name for id_ in missed[cause])}", indent=4)
    if not amp.file.truth:
        screen.line("Nothing.", indent=2)
    if score.unsafe:
        screen.heading("Unsafe moves: each could have killed")
        for one in score.unsafe:
            screen.line(f"{one.what}: {one.why}", indent=2)
    if score.needless:
        screen.heading("Repairs of what was not at fault")
        screen.bullets([base.repairs[id_].name for id_ in score.needless], indent=2)
    screen.heading("What it took")
    screen.pairs(
        [
            ("you", f"{_checks(score.checks)}, {minutes(score.minutes)}"),
            ("the plan", f"{_checks(score.plan_checks)}, {minutes(score.plan_minutes)}"),
        ],
        indent=2,
    )
    screen.heading("The order the plan would have gone")
    screen.numbered([f"{one.name} ({one.stage}): {said_of(base, one.got)}" for one in score.order], indent=2)
    screen.line()
    screen.line(
        f"Points: {FOUND:.0f} for the faults found, and as far as they were, {QUICK:.0f} for minutes and {FEW:.0f} for "
        f"checks, against the plan's own; {UNSAFE:.0f} off for an unsafe move, {NEEDLESS:.0f} for a needless repair."
    )
    screen.line(f"The same amp again: chopstick practice --seed {seed}")


def _checks(count: int) -> str:
    return f"{count} check{'' if count == 1 else 's'}"
