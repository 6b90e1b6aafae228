"""The words of the trade, explained on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...engine.knowledge import glossary
from ...engine.reference.errors import KnowledgeError

if TYPE_CHECKING:
    from ...engine.knowledge.base import KnowledgeBase
    from ...engine.knowledge.entry import Entry
    from ...engine.knowledge.term import Term
    from ...engine.reasoning.steps import Step
    from .screen import Screen


def tell(screen: Screen, base: KnowledgeBase, step: Step, word: str = "") -> None:
    """What a word means; with none, the words of the trade in the step on the screen."""
    try:
        if word:
            _one(screen, base, word)
        else:
            in_text(screen, base, glossary.prose(_entry(base, step)))
    except KnowledgeError as error:
        screen.line("The glossary is broken; chopstick kb check names every place:")
        screen.bullets(error.problems[:3], indent=2)


def in_text(screen: Screen, base: KnowledgeBase, text: str) -> None:
    """The words of the trade that a text uses."""
    found = glossary.terms_in(base, text)
    if not found:
        screen.line("No word of the trade here needs explaining. ? WORD explains one.")
        return
    screen.pairs([(term.word, term.text) for term in found], indent=2)


def term(screen: Screen, base: KnowledgeBase, one: Term) -> None:
    """All there is on one term."""
    screen.line(one.word, "bold")
    screen.line(one.text, indent=2)
    for caution in one.cautions:
        screen.line(f"CAUTION: {base.cautions[caution].text}", "bold", indent=2)
    also = [("also called", ", ".join(one.also))] if one.also else []
    see = [("see", ", ".join(base.terms[id_].word for id_ in one.see if id_ in base.terms))] if one.see else []
    screen.pairs([*also, *see], indent=2)


def _one(screen: Screen, base: KnowledgeBase, word: str) -> None:
    found = glossary.look_up(base, word)
    if not found and (found := glossary.near(base, word)):
        screen.line(f"'{word}' is not in the glossary. What comes near:")
    if not found:
        screen.line(f"'{word}' is not in the glossary. All its words: chopstick kb list terms")
    for one in found:
        term(screen, base, one)


def _entry(base: KnowledgeBase, step: Step) -> Entry:
    if step.kind in ("hold", "held", "move"):
        return (
            base.holds.get(step.id)
            or base.findings.get(step.id.partition("/")[2])
            or base.checks[step.id.partition("/")[2]]
        )
    return base.repairs[step.id] if step.kind == "repair" else base.checks[step.id]
