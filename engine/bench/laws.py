"""The law of the tube a calculation names: one place where the bench asks the devices room for it."""

from __future__ import annotations

from typing import Any

from ..reference.tables import UnknownName, load


def triode_law(tube: str) -> Any:
    """The law of a triode type. Raises ValueError for a type that is none on file."""
    from ..devices.tubes import Triode

    return _law(tube, Triode, "triode")


def pentode_law(tube: str) -> Any:
    """The law of a pentode or beam tube type. Raises ValueError for a type that is none on file."""
    from ..devices.tubes import Pentode

    return _law(tube, Pentode, "pentode or beam tube")


def _law(tube: str, kind: type, words: str) -> Any:
    from ..devices.library import standard_library

    try:
        law = standard_library().tube(load().fitted(tube))
    except (UnknownName, KeyError) as error:
        raise ValueError(str(error)) from error
    if not isinstance(law, kind):
        raise ValueError(f"the {tube} is no {words}, which this is worked out for")
    return law
