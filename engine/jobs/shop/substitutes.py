"""What may stand in for a part: what its kind says under `stand_in` in kb/parts, worked out for the part asked for.

What a part must withstand is a figure (see parts.stands); a rating rule in words has no higher rating to name.
Preferred values are those of IEC 60063, by eseries.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass

from ...bench import notation
from ...bench.preferred import nearest
from ...knowledge.model import Part
from ...knowledge.part_model import HigherRating, OtherValue
from ...knowledge.parts import PartsList, stands
from ...reference.errors import UnknownName
from ...reference.tables import Reference

MOST = 2  # higher ratings that are named


@dataclass(frozen=True)
class Instead:
    """A part that may stand in. because: the rule that says so."""

    value: str
    rating: str
    because: str


@dataclass(frozen=True)
class Substitutes:
    """What may stand in for a part. note: what must be kept or, with `never`, why nothing may."""

    instead: tuple[Instead, ...] = ()
    note: str = ""
    never: bool = False


def substitutes(part: Part, parts: PartsList, reference: Reference, fitted: str = "") -> Substitutes:
    """What may stand in for a part. fitted: the type number of the tube, where the part itself does not say it."""
    rules = list(dict.fromkeys(rule for kind in parts.of(part) if (rule := parts.stand_in(kind)) is not None))
    for rule in rules:
        if rule.never is not None:  # of several parts that it may be, the one that has no stand-in decides
            return Substitutes(note=rule.never, never=True)
    found: list[Instead] = []
    for rule in rules:
        if rule.value is not None:
            found += _values(part, rule.value)
        if rule.rating is not None:
            found += _higher(part, rule.rating)
        if rule.family is not None:
            found += _family(part, rule.family, reference, fitted)
    return Substitutes(tuple(found), "; ".join(dict.fromkeys(rule.keep for rule in rules if rule.keep)))


def _values(part: Part, rule: OtherValue) -> Iterator[Instead]:
    """The other values that are near enough to the one asked for."""
    asked = _figure((part.value or "").split(",")[0], rule.unit)
    if asked is None:
        return
    for near in rule.stock or (nearest(asked, rule.series or ""),):
        off = near / asked - 1
        if abs(off) > 1e-6 and -rule.below / 100 - 1e-9 <= off <= rule.above / 100 + 1e-9:
            because = rule.because.format(
                off=f"{off:+.0%}", series=rule.series, below=f"{-rule.below:+g}%", above=f"{rule.above:+g}%"
            )
            yield Instead(notation.show(near, rule.unit), part.rating or "", because)


def _higher(part: Part, rule: HigherRating) -> Iterator[Instead]:
    """The next ratings that are sold above what the part must withstand."""
    asked = _figure(stands(part), rule.unit)
    if asked is not None:
        for rating in [one for one in sorted(rule.stock) if one > asked][:MOST]:
            because = rule.because.format(asked=f"{asked:g} {rule.unit}")
            yield Instead(part.value or "", f"{rating:g} {rule.unit}", because)


def _family(part: Part, because: str, reference: Reference, fitted: str) -> Iterator[Instead]:
    """The other types of the tube's family."""
    for word in [*re.findall(r"[0-9A-Z][0-9A-Za-z/]{2,}", f"{part.value or ''} {part.which or ''}"), fitted]:
        with suppress(UnknownName):
            for name in reference.tube(word).types:
                if name != reference.fitted(word):
                    yield Instead(name, part.rating or "", because.format(type=word))
            return


def _figure(text: str | None, unit: str) -> float | None:
    try:
        return notation.parse((text or "").strip(), unit).value or None
    except notation.NotationError:
        return None
