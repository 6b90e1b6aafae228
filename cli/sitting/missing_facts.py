"""What a check just read can't be judged without: the amp facts that are missing, asked at once."""

from __future__ import annotations

from collections.abc import Collection

from ...engine.knowledge.model import AmpValue
from ...engine.reasoning import amp_answers
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.bands import Doubt
from ...engine.reasoning.log import CANT_TELL, NOT_KNOWN, NOT_THIS_AMP, AmpFactsTold
from ...engine.reasoning.session import Standing
from ...engine.reasoning.steps import Step
from .. import desk
from ..screen.page import Page, PageBlock
from . import step_page
from .at_the_bench import AtTheBench


def ask(sitting: AtTheBench, step: Step, checks: Collection[str]) -> None:
    """Ask each amp fact that these checks wait for, once per sitting. Raises Stopped or Changed."""
    while True:
        now = sitting.read()
        waiting = [
            (doubt, fact) for doubt in now.facts.doubts if doubt.check in checks
            for fact in doubt.facts if fact not in sitting.not_known
        ]  # fmt: skip
        if not waiting:
            return
        doubt, fact = waiting[0]
        value = _asked(sitting, now, step, doubt, fact)
        if value is None:
            sitting.not_known.add(fact)
        else:
            sitting.keep(AmpFactsTold(at=desk.now(), amp={fact: value}))


def _asked(sitting: AtTheBench, now: Standing, step: Step, doubt: Doubt, name: str) -> AmpValue | None:
    """The value of an amp fact; None when it is not known."""
    fact = now.base.amp_facts[name]
    known = amp_answers.choices(now.base, fact)
    said = ", ".join(f"{key} ({text})" if text else key for key, text in known.items())
    blocks = [PageBlock("why now", doubt.text), *([PageBlock("one of", said)] if said else [])]
    above = step_page.strip(now, sitting.job.log, sitting.job.number)
    page = Page(above, "ABOUT THE AMP", f"{fact.ask} (skip: not known)", (), tuple(blocks), words=tuple(known))
    while True:
        typed = sitting.ask(now, step, page)
        if typed in (CANT_TELL, NOT_THIS_AMP):
            return None
        try:
            value = amp_answers.amp_value(now.base, name, typed)
            return None if value == NOT_KNOWN else value
        except AnswerError as error:
            sitting.face.say(str(error))
