"""Words: those of the glossary, each once, leading somewhere and of use; and those that the house does not use."""

from __future__ import annotations

from collections.abc import Iterator

from ...reference.errors import Place, Problem, did_you_mean
from ...reference.text import Document
from ..base import KnowledgeBase
from ..glossary import Stems, prose, stems, terms_in
from ..style import read
from ..term import TERMS, Term
from .frame import Look, lint


@lint("error")
def unknown_term(look: Look) -> Iterator[Problem]:
    """A term of the glossary sends the reader on to a term, or names a caution, that is not there. Correct the
    spelling, or write the one it means.
    """
    for term in _terms(look):
        for field, known in (("see", list(look.base.terms)), ("cautions", list(look.base.cautions))):
            for number, name in enumerate(getattr(term, field)):
                kind = "term" if field == "see" else "caution"
                if name not in known:
                    hint = did_you_mean(name, known)
                    yield look.problem(TERMS, term, (field, number), f"there is no {kind} '{name}'.", hint)
                elif field == "see" and name == term.id:
                    yield look.problem(TERMS, term, (field, number), "sends the reader to itself")


@lint("error")
def term_twice(look: Look) -> Iterator[Problem]:
    """Two terms are called the same, even if in another form or as another word for it (`also`): whoever looks it
    up would get two explanations. Make them one, or name them apart.
    """
    seen: dict[Stems, Term] = {}
    for term in _terms(look):
        for number, name in enumerate(term.words):
            first = seen.setdefault(stems(name), term)
            if first is not term or stems(name) in [stems(other) for other in term.words[:number]]:
                inside = ("also", number - 1) if number else ()
                message = f"'{name}' is explained already: see {first.where}"
                yield look.problem(TERMS, term, inside, message, key=not number)


@lint("warning", orphans=True)
def unused_term(look: Look) -> Iterator[Problem]:
    """No area uses this word, so nobody at the bench is led to it. Take it out, or say `background: true` when people
    say it all the same. And the other way round: a word marked as background is used; take the mark away.
    """
    used = _used(look.base) if look.glossary else set()
    for term in _terms(look):
        if term.id not in used and not term.background:
            yield look.problem(TERMS, term, (), "no area uses this word", key=True)
        elif term.id in used and term.background:
            yield look.problem(TERMS, term, ("background",), "is not background: an area uses it", key=True)


@lint("warning", orphans=True)
def lonely_term(look: Look) -> Iterator[Problem]:
    """A term that names no other and that no other names: a reader comes to it by no path. Say under `see` what it
    has to do with.
    """
    named = {id_ for term in _terms(look) for id_ in term.see}
    for term in _terms(look):
        if not term.see and term.id not in named:
            yield look.problem(TERMS, term, (), "leads to no other term, and none leads to it", key=True)


@lint("warning")
def house_style(look: Look) -> Iterator[Problem]:
    """A text uses a word that the house style (kb/style.yaml) does not: one that is not American bench English, or a
    second word for a thing that has one. Say what the hint says. What players say, and other names (`also`), are free.
    """
    if look.over is not None:
        return
    style = read(look.root)
    glossary = look.glossary.areas.values() if look.glossary else ()
    for document in (*look.documents.values(), *glossary):
        for place, text in _texts(document):
            for word, instead in style.slips(text):
                entry = ".".join(map(str, place))
                message = f"'{word}' is not a word of the house style."
                yield Problem(document.where(place), entry, message, f"Say: {instead}.")


# what players say and search words are free; the others name things by their ids
FREE = frozenset({"says", "also", "quiet", "source", "needs", "amp", "when", "see", "part", "faults"})


def _texts(document: Document) -> Iterator[tuple[Place, str]]:
    """Every text of a document with its place, but for what players say and other names."""
    for place in document.values:
        if FREE.isdisjoint(place) and isinstance(text := _at(document, place), str):
            yield place, text


def _at(document: Document, place: Place) -> object:
    value = document.value
    for step in place:
        value = value[step]
    return value


def _terms(look: Look) -> tuple[Term, ...]:
    return tuple(look.base.terms.values()) if look.glossary else ()


def _used(base: KnowledgeBase) -> set[str]:
    """Ids of the terms that the areas, cautions or amp facts use in words."""
    parts = [*base.areas.values(), *base.cautions.values(), *base.amp_facts.values()]
    return {term.id for part in parts for term in terms_in(base, prose(part))}
