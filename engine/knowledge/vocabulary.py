"""How players talk (kb/vocabulary.yaml): words that mean the same idea, and words that say nothing."""

from __future__ import annotations

from pathlib import Path

from pydantic import Field

from ..reference.errors import KnowledgeError, Problem
from ..reference.text import read_file
from .entry import Id, Line, Strict
from .folder import called
from .validate import validate

FILE = "vocabulary.yaml"


class Idea(Strict):
    """One idea, in the words that players have for it."""

    words: tuple[Line, ...] = Field(min_length=1, description="Words and phrases for it; endings do not matter.")
    unwanted: bool = Field(
        default=False,
        description="True for a fault by itself, as a hum is: 'no hum' then denies it, where 'no sound' complains.",
    )


class Vocabulary(Strict):
    """kb/vocabulary.yaml."""

    same: dict[Id, Idea] = Field(description="The ideas, by name.")
    filler: tuple[Line, ...] = Field(default=(), description="Words that tell no complaint from another.")


def read(root: Path) -> Vocabulary:
    """The vocabulary of a base; one without the file has none. Raises KnowledgeError."""
    path = root / FILE
    if not path.exists():
        return Vocabulary(same={})
    problems: list[Problem] = []
    file = validate(read_file(path, called(path, root)), Vocabulary, problems)
    if file is None:
        raise KnowledgeError(problems)
    return file
