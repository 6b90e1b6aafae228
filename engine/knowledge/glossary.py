"""The words of the trade: which of them a text uses, and what one means."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from ..late import late
from .base import KnowledgeBase
from .entry import Strict
from .model import plain
from .term import Term

with late():
    import re

    import snowballstemmer
    from rapidfuzz import fuzz, process

NEAR = 80  # of 100: how alike a misspelled word must be to one of ours
_NAMES = frozenset(
    {"id", "where", "quiet", "shows", "repairs", "findings", "cautions", "after", "needs", "against", "see", "source"}
)

Stems = tuple[str, ...]


def terms_in(base: KnowledgeBase, text: str) -> list[Term]:
    """The terms a text uses, in the order in which they first come; of two that overlap, the longer."""
    spotted = _Spotter(base.terms).spot(stems(text))
    return [base.terms[id_] for id_ in dict.fromkeys(spotted)]


def look_up(base: KnowledgeBase, word: str) -> list[Term]:
    """The terms called so, in any inflection; else those that have all of its words in their name; maybe none."""
    wanted = stems(word)
    if not wanted:
        return []
    called = {term.id: [stems(name) for name in term.words] for term in base.terms.values()}
    exact = [id_ for id_, names in called.items() if wanted in names]
    part = [id_ for id_, names in called.items() if any(set(wanted) <= set(name) for name in names)]
    return [base.terms[id_] for id_ in exact or part]


def near(base: KnowledgeBase, word: str, most: int = 3) -> list[Term]:
    """The terms whose names are most like a misspelled word."""
    names = {name.lower(): term.id for term in base.terms.values() for name in term.words}
    found = process.extract(word.lower(), list(names), scorer=fuzz.ratio, score_cutoff=NEAR, limit=most)
    return [base.terms[id_] for id_ in dict.fromkeys(names[name] for name, _, _ in found)]


def prose(entry: Strict) -> str:
    """Everything an entry, or a whole area, says in words; not the names of other entries."""
    return " . ".join(_texts(plain(entry)))


def stems(text: str) -> Stems:
    """A text's words without their endings, so that leaks, leaking and leaked are one; hyphens separate words."""
    return tuple(_stem(word) for word in re.findall(r"[a-z0-9+#µμω]+(?:'[a-z]+)?|[.;:!?]", text.lower()))


@lru_cache(maxsize=20_000)
def _stem(word: str) -> str:
    return str(snowballstemmer.stemmer("english").stemWord(word))


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, inside in value.items():
            if key not in _NAMES:
                yield from _texts(inside)
    elif isinstance(value, list | tuple):
        for inside in value:
            yield from _texts(inside)


class _Spotter:
    """Finds terms in a text; at each word the longest that fits."""

    def __init__(self, terms: Mapping[str, Term]) -> None:
        self._by_first: dict[str, list[tuple[Stems, str]]] = {}
        for term in terms.values():
            for name in term.words:
                if called := stems(name):
                    self._by_first.setdefault(called[0], []).append((called, term.id))
        for names in self._by_first.values():
            names.sort(key=lambda one: -len(one[0]))

    def spot(self, text: Stems) -> Iterator[str]:
        at = 0
        while at < len(text):
            for called, id_ in self._by_first.get(text[at], ()):
                if text[at : at + len(called)] == called:
                    yield id_
                    at += len(called)
                    break
            else:
                at += 1
