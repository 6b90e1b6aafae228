"""What can be wrong with a knowledge file, said to a person: where, what, and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from ..late import late

with late():
    from rapidfuzz import fuzz, process

Place = tuple[str | int, ...]  # the keys and indices that lead to a value, as in ("causes", "dry-joint", "shows")
Mark = tuple[str, int, int]  # file, line, column: a Where in the making; a large file has a hundred thousand


@dataclass(frozen=True, order=True)
class Where:
    """A place in a file; line and column count from 1."""

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong (or doubtful) in one place.

    entry: the path of the entry, as in ``causes.pot-track-dirty.shows``; may be empty.
    hint: what to do about it; may be empty.
    lint: the id of the check that found it, by which its manual is found.
    severity: ``error`` stops the file from being used, ``warning`` does not.
    """

    where: Where
    entry: str
    message: str
    hint: str = ""
    lint: str = "format"
    severity: str = field(default="error", compare=False)

    def __str__(self) -> str:
        on = f"{self.entry}: " if self.entry else ""
        hint = f" {self.hint}" if self.hint else ""
        return f"{self.where}: {self.severity}: {on}{self.message}{hint} [{self.lint}]"


class KnowledgeError(Exception):
    """Raised when knowledge can't be used; carries every problem found in the pass."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(sorted(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class UnknownName(LookupError):
    """A tube, rectifier, lamp or figure that the reference files do not have; the text is for people."""


def did_you_mean(word: str, choices: Sequence[str]) -> str:
    """A hint naming the nearest valid name, or '' when nothing is near."""
    match = process.extractOne(word, choices, scorer=fuzz.ratio, score_cutoff=55)
    return f"Did you mean '{match[0]}'?" if match else ""
