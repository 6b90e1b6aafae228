"""A word of the trade, explained: the format of kb/glossary."""

from __future__ import annotations

from pydantic import Field

from .entry import Entry, Id, Line, Prose, Strict

TERMS = "terms"


class Term(Entry):
    """A word of the trade, explained so that a junior understands it."""

    term: Line | None = Field(
        default=None, description="The word as it is written; left out when it is the id with spaces for the hyphens."
    )
    also: tuple[Line, ...] = Field(default=(), description="Other words for it, and forms that don't look like it.")
    text: Prose = Field(description="One to three plain sentences: what it is, how to recognize it, where to find it.")
    see: tuple[Id, ...] = Field(default=(), description="Related terms.")
    cautions: tuple[Id, ...] = Field(default=(), description="Cautions of kb/common.yaml that go with it.")
    background: bool = Field(
        default=False, description="True for a word that no area uses, kept because people at the bench say it."
    )

    @property
    def word(self) -> str:
        """The word as it is written."""
        return self.term or self.id.replace("-", " ")

    @property
    def words(self) -> tuple[str, ...]:
        """Everything it is called."""
        return (self.word, *self.also)


class GlossaryFile(Strict):
    """One file of kb/glossary: the words of one subject."""

    subject: Line
    terms: dict[Id, Term] = Field(default_factory=dict)
