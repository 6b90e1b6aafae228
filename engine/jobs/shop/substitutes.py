"""What may stand in for a part, by the rules of the trade. Each rule is a line of RULES or a function below it.

The rules (common practice, no source, but for preferred values: IEC 60063 by eseries):
- a capacitor of the same kind and value may have the next higher voltage ratings, never a lower one;
- an old value that is no longer made is replaced by the nearest preferred one, if it lies within the tolerance;
- a resistor may be the next larger in watts, never smaller;
- a control keeps its law; a value within 20 per cent does;
- a tube may be another type of its family, if that stands at least as much;
- fuses, safety capacitors and transformers have no stand-in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

from ...bench import notation
from ...bench.preferred import ELECTROLYTIC_V, FILM_V, RESISTOR_W, nearest
from ...knowledge.model import Part
from ...reference.errors import UnknownName
from ...reference.tables import Reference

Kind = Literal["fuse", "safety capacitor", "transformer", "electrolytic", "film", "resistor", "control", "tube", ""]

RULES: tuple[tuple[str, Kind], ...] = (
    # the first that is found in the part's name and rating says what kind of part it is
    (r"\bfuse\b", "fuse"),
    (r"\bx capacitor\b|\by capacitor\b|\bclass [xy][12]\b|line capacitor", "safety capacitor"),
    (r"transformer|choke", "transformer"),
    (r"electrolytic|filter capacitor", "electrolytic"),
    (r"(film|mica|ceramic) (?:or \w+ )?capacitor|^capacitor", "film"),
    (r"resistor", "resistor"),
    (r"\bcontrol\b(?! clean)", "control"),
    (r"\btubes?\b(?! (shield|socket|ring|retainer))", "tube"),
)
NEVER: dict[Kind, str] = {
    "fuse": "No stand-in: a fuse is replaced by the same current, speed and voltage, and nothing else.",
    "safety capacitor": "No stand-in but one of the same or a higher safety class, approved for the mains voltage; "
    "never an ordinary capacitor.",
    "transformer": "No stand-in by rule: by its specification only.",
}
KEEP: dict[Kind, str] = {
    "electrolytic": "never a lower voltage or temperature rating",
    "film": "never a lower voltage rating",
    "resistor": "never fewer watts, and flameproof stays flameproof",
    "control": "the same law, shaft and mounting",
    "tube": "the same type, or one of its family that stands at least as much",
}
CONTROL_OHM = (1e4, 2.2e4, 2.5e4, 4.7e4, 5e4, 1e5, 2.2e5, 2.5e5, 4.7e5, 5e5, 1e6, 2.2e6, 2.5e6)
# kind: the series, and by how much the nearest value may lie below and above the one asked for
TOLERANCE: dict[Kind, tuple[str, float, float]] = {
    "electrolytic": ("E6", 0.20, 0.50),  # what such capacitors have been sold to
    "film": ("E6", 0.20, 0.20),  # stocked in E6; the tolerance of the paper capacitors they follow
    "resistor": ("E24", 0.05, 0.05),
}
MOST = 2  # higher ratings that are named


@dataclass(frozen=True)
class Instead:
    """A part that may stand in. because: the rule that says so."""

    value: str
    rating: str
    because: str


@dataclass(frozen=True)
class Substitutes:
    """What may stand in for a part. note: what must be kept, or why nothing may."""

    instead: tuple[Instead, ...] = ()
    note: str = ""


def kind_of(part: Part) -> Kind:
    """What kind of part it is, by its name and rating."""
    words = f"{part.part} {part.rating or ''}".lower()
    return next((kind for pattern, kind in RULES if re.search(pattern, words)), "")


def substitutes(part: Part, reference: Reference | None = None, fitted: str = "") -> Substitutes:
    """What may stand in for a part. fitted: the type number of the tube, where the part itself does not say it."""
    kind = kind_of(part)
    if kind in NEVER:
        return Substitutes(note=NEVER[kind])
    found: list[Instead] = []
    if kind in ("electrolytic", "film"):
        found = [*_value(part, kind, "F"), *_higher(part, "V", ELECTROLYTIC_V if kind == "electrolytic" else FILM_V)]
    elif kind == "resistor":
        found = [*_value(part, kind, "ohm"), *_higher(part, "W", RESISTOR_W)]
    elif kind == "control":
        found = list(_control(part))
    elif kind == "tube" and reference is not None:
        found = list(_names(part, reference, fitted))
    return Substitutes(tuple(found), KEEP.get(kind, ""))


def _higher(part: Part, unit: str, standard: Sequence[float]) -> Iterator[Instead]:
    """The next standard ratings above the one named; of several that are named, above the highest."""
    named = [float(number) for number in re.findall(rf"(\d+(?:\.\d+)?) ?{unit}\b", part.rating or "")]
    if named:
        for rating in [one for one in standard if one > max(named)][:MOST]:
            because = f"a higher rating than {max(named):g} {unit} does no harm"
            yield Instead(part.value or "", f"{rating:g} {unit}", because)


def _value(part: Part, kind: Kind, unit: str) -> Iterator[Instead]:
    """The nearest preferred value, where the one asked for is none."""
    asked = _parsed(part.value, unit)
    series, below, above = TOLERANCE[kind]
    if asked is None:
        return
    near = nearest(asked, series)
    off = near / asked - 1
    if abs(off) > 1e-6 and -below - 1e-9 <= off <= above + 1e-9:
        because = f"nearest value of {series}, {off:+.0%}; within {-below:+.0%} to {above:+.0%}"
        yield Instead(notation.show(near, unit), part.rating or "", because)


def _control(part: Part) -> Iterator[Instead]:
    asked = _parsed((part.value or "").split(",")[0], "ohm")
    for near in CONTROL_OHM if asked else ():
        off = near / (asked or near) - 1
        if 1e-6 < abs(off) <= 0.2:
            yield Instead(notation.show(near, "ohm"), part.rating or "", f"{off:+.0%}, with the same law")


def _names(part: Part, reference: Reference, fitted: str) -> Iterator[Instead]:
    """The other types of the tube's family."""
    for word in [*re.findall(r"[0-9A-Z][0-9A-Za-z/]{2,}", f"{part.value or ''} {part.part}"), fitted]:
        with suppress(UnknownName):
            family = reference.tube(word)
            for name in family.types:
                if name != reference.fitted(word):
                    yield Instead(name, part.rating or "", f"family of the {word}; hold its ratings against the place")
            return


def _parsed(value: str | None, unit: str) -> float | None:
    try:
        return notation.parse((value or "").strip(), unit).value or None
    except notation.NotationError:
        return None
