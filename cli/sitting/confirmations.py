"""What is asked before a step for safety's sake: at the level of a junior the cautions, once for each stage of work;
the safety checks before the first power of a sitting; holds that an earlier sitting cleared. At any level, cautions
that a small screen can't show beside the question come first on a page of their own."""

from __future__ import annotations

from dataclasses import replace

from ...engine.knowledge import model
from ...engine.reasoning import wording
from ...engine.reasoning.log import CANT_TELL, NOT_THIS_AMP
from ...engine.reasoning.session import Standing
from ...engine.reasoning.steps import Step
from ..screen.page import Page, PageBlock
from . import steering_words
from .at_the_bench import AtTheBench

READ = "Have you read this, and is it so? [yes, no]"
STILL = "Is each of these still so? [yes, no]"


def holds_again(sitting: AtTheBench, now: Standing) -> None:
    """Ask once more each hold that an earlier sitting cleared: the plug may be in again, the capacitors charged."""
    for hold in now.holds:
        within = hold.blocks == "look" and now.facts.set_up.stage == "cold"  # bled and measured says unplugged too
        if hold.answered and hold.kind == "standing" and not within:
            step = Step("hold", hold.hold, why="it was so in an earlier sitting; is it still so?")
            if hold.hold in now.base.moves:
                sitting.move(now, replace(step, kind="move", prepared=tuple(now.facts.set_up.prepared)))
            else:
                sitting.hold(now, step)


def before(sitting: AtTheBench, now: Standing, step: Step, page: Page) -> str:
    """Ask what must be confirmed before a check or repair. '' to go on; else what was said instead: CANT_TELL or
    NOT_THIS_AMP."""
    done = sitting.confirmed
    stage = now.plan.work(step).stage
    if stage != done.stage:
        done.stage, done.cautions = stage, set()
    if sitting.level == "junior":
        if stage in model.POWERED and not done.reviewed:
            if said := _review(sitting, now, step, page):
                return said
            done.reviewed = True
        fresh = tuple(text for text in page.cautions if text not in done.cautions)
        if fresh and stage != "look":
            alone = replace(page, title=_title(page), cautions=fresh, first=(), more=())
            said = _confirm(sitting, now, step, alone, READ)
            done.cautions.update(() if said else fresh)
            return said
    if not sitting.face.caution_fits(page) and not done.cautions.issuperset(page.cautions):
        cautions = replace(page, title=_title(page), first=(), more=()).asking("Enter when you have read it.")
        typed = sitting.face.ask(cautions)
        done.cautions.update(page.cautions)
        if (key := steering_words.key_of(typed)) is not None and key.word in ("stop", "back", "note", "photo"):
            sitting.steer(now, step, page, key)
    return ""


def _title(page: Page) -> str:
    return f"BEFORE YOU BEGIN: {page.about}"


def _review(sitting: AtTheBench, now: Standing, step: Step, page: Page) -> str:
    """The safety checks that were answered, shown before anything goes under power."""
    base = now.base
    answered = [
        check for check in base.checks.values()
        if check.safety and check.stage not in model.POWERED and check.id in now.facts.done
    ]  # fmt: skip
    if not answered:
        return ""
    rows = tuple((base.checks[one.id].name, _said(sitting, one.id)) for one in answered)
    shown = replace(
        page, title="BEFORE POWER: the safety checks so far",
        first=(PageBlock("what was found", rows=rows, way="rows"),), more=(), cautions=(),
    )  # fmt: skip
    return _confirm(sitting, now, step, shown, STILL)


def _said(sitting: AtTheBench, check: str) -> str:
    last = next(one for one in reversed(sitting.job.log) if getattr(one, "check", "") == check)
    return wording.said_of(sitting.base, [last])


def _confirm(sitting: AtTheBench, now: Standing, step: Step, page: Page, question: str) -> str:
    page = page.asking(question, ("yes", "no"))
    while True:
        typed = sitting.ask(now, step, page)
        if typed in (CANT_TELL, NOT_THIS_AMP):
            return typed
        if typed.lower() in ("yes", "y"):
            return ""
        sitting.face.say("Take care of it first, then type yes. To do a check once more: again CHECK. To leave this "
                         "step out: skip.")  # fmt: skip
