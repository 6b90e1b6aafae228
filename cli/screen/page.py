"""What a person at the bench is shown with one question: plain values, for any kind of terminal to lay out."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

Way = Literal["text", "rows", "steps"]


@dataclass(frozen=True)
class PageBlock:
    """One labeled piece of a page. text: a paragraph; rows: table rows below the label (way rows), or steps to be
    numbered (way steps, a step a row)."""

    label: str
    text: str = ""
    rows: tuple[tuple[str, ...], ...] = ()
    way: Way = "text"


@dataclass(frozen=True)
class Strip:
    """What is constant above every question: status on the first line, then lines with a label. needed: the part of
    the status that a small screen keeps."""

    status: tuple[str, ...]
    lines: tuple[tuple[str, str], ...] = ()
    needed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Page:
    """One step with its question. cautions: each in full, its first sentence says the danger; first: blocks shown
    with the question; more: blocks that follow on request; words: what the question takes; about: the title without
    the kind of step."""

    strip: Strip
    title: str
    question: str
    cautions: tuple[str, ...] = ()
    first: tuple[PageBlock, ...] = ()
    more: tuple[PageBlock, ...] = ()
    words: tuple[str, ...] = ()
    keys: tuple[str, ...] = field(default=())
    about: str = ""

    def asking(self, question: str, words: tuple[str, ...] = ()) -> Page:
        """The same page with another question."""
        return replace(self, question=question, words=words)

    def same_but_for_the_question(self, other: Page | None) -> bool:
        return other is not None and self == other.asking(self.question, self.words)


def headline(caution: str) -> str:
    """The first sentence of a caution, which says the danger."""
    return caution.split(". ")[0].rstrip(".") + "."
