"""A player's sentence on one screen: each part with what it may mean, and which of it is taken."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import NamedTuple

from ...engine.knowledge.base import KnowledgeBase
from ...engine.late import late
from ..screen.screen import Screen

with late():
    from ...engine.reasoning import words as reasoning_words

Ask = Callable[[str], str]  # a question; what was typed
Show = Callable[[Callable[[Screen], None]], None]
NONE = ("none", "no", "n", "0")
OFFERED, BESIDE = 5, 3  # for a sentence of one part; for each of several


class Offer(NamedTuple):
    """words: the part of the sentence; first: whether it is what the part most likely means."""

    words: str
    symptom: str
    first: bool


def asked(base: KnowledgeBase, said: str, known: Collection[str], show: Show, ask: Ask) -> list[tuple[str, str]]:
    """The complaints in a sentence, as (words, symptom), confirmed by whoever typed it; [] for what was left open.

    known: the symptoms that are on file. What is said in general words is narrowed down by its question.
    """
    parts = reasoning_words.understood(base, said)
    offers = _offers(parts)
    show(lambda screen: _tell(screen, base, parts, offers))
    if not offers:
        return []
    taken: list[tuple[str, str]] = []
    for offer in _chosen(offers, show, ask):
        for symptom in _kinds(base, offer.symptom, offer.words, show, ask):
            if symptom in known or symptom in [one for _, one in taken]:
                _say(show, f"{base.text(symptom)}: that is on file already.")
            else:
                taken.append((offer.words, symptom))
    return taken


def _offers(parts: Sequence[reasoning_words.Part]) -> list[Offer]:
    there = [part for part in parts if part.offers]
    most = OFFERED if len(there) == 1 else BESIDE
    return [
        Offer(part.words, match.symptom, number == 0)
        for part in there
        for number, match in enumerate(part.offers[:most])
    ]


def _tell(screen: Screen, base: KnowledgeBase, parts: Sequence[reasoning_words.Part], offers: Sequence[Offer]) -> None:
    """The parts in their order, the offers numbered through."""
    number = 0
    for part in parts:
        if part.not_there:
            screen.line(f'"{part.words}": not there, so left out')
        elif not part.offers:
            screen.line(f'"{part.words}": not understood; try other words')
        else:
            screen.line(f'"{part.words}"' + (":" if part.symptom else ": which of these?"))
            mine = [offer for offer in offers if offer.words == part.words]
            rows = [(f"{number + n}.", _said(base, offer.symptom)) for n, offer in enumerate(mine, start=1)]
            screen.pairs(rows, indent=2)
            number += len(mine)
    if not offers:
        screen.line("No known symptom comes near. Try other words; all of them: chopstick kb list symptoms")


def _said(base: KnowledgeBase, symptom: str) -> str:
    return f"{base.text(symptom)}. {base.symptoms[symptom].ask}"


def _chosen(offers: Sequence[Offer], show: Show, ask: Ask) -> list[Offer]:
    """Which offers are meant: their numbers, yes for the first of each part, none for none, Enter for left open."""
    several = sum(offer.first for offer in offers) > 1
    question = (
        "Which are meant? [numbers, as in 1 4; yes takes the first of each; none; Enter leaves it open]"
        if several
        else "Which is meant? [1, 2 ... or none; yes is 1; Enter leaves it open]"
    )
    while True:
        typed = ask(question).lower().replace(",", " ")
        if not typed or typed in NONE:
            _say(show, "Left out. Say it in other words if you like.")
            return []
        if typed in ("yes", "y"):
            return [offer for offer in offers if offer.first]
        named = [_named(offers, word) for word in typed.split()]
        if all(named):
            return [offer for offer in named if offer]
        _say(show, f"Type numbers from 1 to {len(offers)}, yes or none.")


def _named(offers: Sequence[Offer], word: str) -> Offer | None:
    if word.isdecimal() and 1 <= int(word) <= len(offers):
        return offers[int(word) - 1]
    return next((offer for offer in offers if offer.symptom == word), None)


def _kinds(base: KnowledgeBase, symptom: str, words: str, show: Show, ask: Ask) -> list[str]:
    """The kinds of a family that are meant; itself, when that is left open or there are none."""
    kinds = base.symptoms[symptom].kinds
    if kinds is None:
        return [symptom]
    keys = list(kinds.answers)
    rows = [(f"{number}.", kind.text) for number, kind in enumerate(kinds.answers.values(), start=1)]

    def tell(screen: Screen) -> None:
        screen.line(f'"{words}": {kinds.ask}')
        screen.pairs(rows, indent=2)

    show(tell)
    while True:
        typed = ask(f"{kinds.ask} [numbers; none of these; Enter leaves it open]").lower().replace(",", " ")
        if not typed or typed in NONE or typed.startswith(("none", "other")):
            return [symptom]
        named = [keys[int(word) - 1] if word.isdecimal() and 0 < int(word) <= len(keys) else word
                 for word in typed.split()]  # fmt: skip
        if all(key in kinds.answers for key in named):
            found = (kinds.answers[key].symptom for key in named)
            return list(dict.fromkeys(one for kind in found for one in _kinds(base, kind, words, show, ask)))
        _say(show, f"Type numbers from 1 to {len(keys)}, or just Enter.")


def _say(show: Show, text: str) -> None:
    show(lambda screen: screen.line(text))
