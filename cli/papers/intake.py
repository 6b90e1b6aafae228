"""The blank sheet for a newly arrived amp."""

from __future__ import annotations

from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from .heads import written
from .models import Blank, Head, Intake, Ticks

YES_NO = ("yes", "no")
SAFETY = (
    Blank("Is the mains cord in one piece, with its plug, and does it have a ground wire?", YES_NO),
    Blank("Has anybody felt a shock or a tingle from it, from the guitar or from a microphone?", YES_NO),
    Blank("Smoke, a burnt smell, a bang, or fuses that blow?", YES_NO),
    Blank("Has it been wet, dropped, or stored for years?", YES_NO),
    Blank("Is the speaker or cabinet here, and is anything wrong with its cable?", YES_NO),
)
OWNER = (
    Blank("Owner's name and how to reach them"),
    Blank("Amp: what it is called, serial number"),
    Blank("What came with it: cabinet, footswitch, cover, cables, tubes"),
    Blank("Previous work: what, when, by whom"),
    Blank("What matters most to the owner"),
    Blank("Budget; ask before going beyond it"),
    Blank("Promised for"),
    Blank("Mains voltage where it is used", ("100 V", "120 V", "230 V", "240 V", "other")),
)


def _choices(fact: model.AmpFact) -> tuple[str, ...]:
    """What can be ticked: the value or its text, whichever is the shorter word."""
    return tuple(min(key, text, key=len) for key, text in fact.choices.items())


def intake(base: KnowledgeBase) -> Intake:
    """Hazards first, then the owner's side, the amp, and every complaint the knowledge base has, by area."""
    asked = tuple(
        Blank(fact.ask, _choices(fact), written(fact.unit or "count")) if not fact.from_reference else Blank(fact.ask)
        for fact in base.amp_facts.values()
    )
    ticks = tuple(
        Ticks(area.title, tuple(symptom.name for symptom in area.symptoms.values()))
        for area in base.areas.values()
        if area.symptoms
    )
    return Intake(Head("Intake"), SAFETY, OWNER, asked, ticks)
