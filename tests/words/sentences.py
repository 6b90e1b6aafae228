"""Sentences as players say them, written before the matcher was tuned.

A quarter, chosen by a hash of the sentence, is never looked at while tuning: it only gives the figures.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Sentence:
    """means: the symptoms complained of, in their order; denied: those said not to be there."""

    says: str
    means: tuple[str, ...]
    denied: tuple[str, ...] = ()

    @property
    def held_out(self) -> bool:
        return hashlib.sha256(self.says.lower().encode()).digest()[0] % 4 == 0


def single() -> Iterator[Sentence]:
    """One complaint each."""
    for path in sorted((HERE / "sentences").glob("*.yaml")):
        for symptom, told in yaml.safe_load(path.read_text(encoding="utf-8")).items():
            for says in told:
                yield Sentence(says, (symptom,))


def several() -> Iterator[Sentence]:
    """Two or three complaints in a sentence, or one that is said in two ways."""
    yield from _listed("several.yaml")


def negated() -> Iterator[Sentence]:
    """What is not there, beside what is."""
    yield from _listed("negated.yaml")


def vague() -> Iterator[Sentence]:
    """Nothing that the amp does."""
    for says in yaml.safe_load((HERE / "vague.yaml").read_text(encoding="utf-8")):
        yield Sentence(says, ())


def _listed(name: str) -> Iterator[Sentence]:
    for one in yaml.safe_load((HERE / name).read_text(encoding="utf-8")):
        yield Sentence(one["says"], tuple(one.get("means", ())), tuple(one.get("not", ())))
