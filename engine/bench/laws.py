"""The law that a tube or rectifier follows, by its name: one place where the bench asks the devices room for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from ..late import late
from ..reference.errors import UnknownName
from ..reference.model import Rectifier
from ..reference.tables import load
from .error import banded
from .figure import Figure

with late():
    from ..devices import library as devices_library
    from ..devices import tubes

SOLID_STATE = ("silicon", "solid state", "diode", "diodes")


def triode_law(tube: str) -> Any:
    """The law of a triode type. Raises ValueError for a type that is not on file."""
    return _law(tube, tubes.Triode, "triode")


def pentode_law(tube: str) -> Any:
    """The law of a pentode or beam tube type. Raises ValueError for a type that is not on file."""
    return _law(tube, tubes.Pentode, "pentode or beam tube")


def _law(tube: str, kind: type, words: str) -> Any:
    try:
        law = devices_library.standard_library().tube(load().fitted(tube))
    except UnknownName as error:
        raise ValueError(str(error)) from error
    if not isinstance(law, kind):
        raise ValueError(f"the {tube} is not a {words}, which this is worked out for")
    return law


def rectifier_sheet(name: str) -> Rectifier | None:
    """What is on file of the rectifier tube of that name; None for silicon. Raises ValueError."""
    if name.strip().lower().replace("-", " ") in SOLID_STATE:
        return None
    try:
        return load().rectifier(name)
    except UnknownName as error:
        raise ValueError(str(error)) from error


def rectifier_law(name: str) -> Any:
    """The law of one section of a rectifier, fitted to its printed drops; silicon by any of its names."""
    sheet = rectifier_sheet(name)
    return devices_library.SILICON if sheet is None else devices_library.standard_library().rectifier(sheet.name)


def spread(law: Any, worked: Callable[[Any], Figure]) -> Figure:
    """A figure worked from a tube's law, with the band that one tube's difference from the average brings."""
    share = load().spreads["plate_current"].percent / 100

    def at(shares: Any) -> Figure:
        more = 1 + share * shares[0]
        screen = {"kg2": law.kg2 / more} if hasattr(law, "kg2") else {}
        return worked(replace(law, kg1=law.kg1 / more, **screen))

    return banded(worked(law), at, ("the tube itself",))
