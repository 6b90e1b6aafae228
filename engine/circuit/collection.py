"""Every circuit a job can choose: those of a base, with the layers of one's own over them. Each is read when asked for.

A shop keeps circuits of its own as `circuits/NAME.yaml` beside its areas, or amends a shipped one in an area file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from ..knowledge.base import KnowledgeBase
from ..knowledge.folder import shipped
from ..knowledge.layers import Layer
from ..late import late
from ..reference.errors import KnowledgeError, Problem, did_you_mean
from ..reference.text import Document, read_file

if TYPE_CHECKING:  # the models of a circuit are imported when one is read: a start wants none
    from .files import CircuitFile

with late():
    from ..knowledge import load, overlay
    from . import files
    from . import lint as circuit_lint
    from . import matching as circuit_matching


class UnknownCircuit(LookupError):
    """No circuit has that name; the message names the nearest ones."""


class Circuits:
    """Circuits by name. What was read is kept."""

    def __init__(self, root: Path | None = None, layers: Sequence[Layer] = ()) -> None:
        self._root, self._layers = root or shipped(), tuple(layers)
        self._read: dict[str, CircuitFile] = {}

    @cached_property
    def _places(self) -> Mapping[str, Path | Document]:
        """Where each circuit stands: its file; or its document, once layers have been laid over it."""
        if self._layers:
            return overlay.merge_circuits(load.circuits(self._root, []), self._layers, [])
        return {path.stem: path for path in sorted((self._root / "amps").glob("*.yaml"))}

    def anew(self) -> Circuits:
        """The same places, read again."""
        return Circuits(self._root, self._layers)

    def names(self) -> tuple[str, ...]:
        return tuple(self._places)

    def find(self, name: str) -> CircuitFile:
        """A circuit by its name. Raises UnknownCircuit, and KnowledgeError for one that is broken."""
        if name not in self._read:
            if name not in self._places:
                hint = did_you_mean(name, self.names()) or f"There are: {', '.join(self.names())}."
                raise UnknownCircuit(f"there is no circuit '{name}'. {hint}")

            place = self._places[name]
            document = place if isinstance(place, Document) else read_file(place, _shown(place, self._root))
            self._read[name] = files.from_document(name, document)
        return self._read[name]

    def nearest(self, amp: Mapping[str, object], most: int = 1) -> tuple[tuple[str, float], ...]:
        """The circuits that agree best with what is known of an amp, and the share (0 to 1) that agrees."""
        left = {name: file.circuit for name in self.names() if (file := self.sound(name))}
        found: list[tuple[str, float]] = []
        while left and len(found) < most:
            name, share = files.nearest(amp, left)
            found.append((name, share))
            del left[name]
        return tuple(found)

    def sound(self, name: str) -> CircuitFile | None:
        """A circuit by its name; None for one that is not there, or broken."""
        try:
            return self.find(name)
        except (UnknownCircuit, KnowledgeError):
            return None

    def problems(self) -> Iterator[Problem]:
        """What is wrong with any of them, warnings included."""
        for name in self.names():
            try:
                yield from self.find(name).warnings
            except KnowledgeError as error:
                yield from error.problems


def unmet(base: KnowledgeBase, circuits: Circuits) -> Iterator[Problem]:
    """Causes that say which faults of a circuit they are, but no circuit has such a fault (lint no-such-fault)."""
    faults = [
        fault
        for name in circuits.names()
        if (file := circuits.sound(name))
        for fault in circuit_matching.faults_of(file.circuit)
    ]
    roles = sorted({fault.role for fault in faults})
    for cause in base.causes.values():
        for number, one in enumerate(cause.circuit):
            meant = base.parts_list.roles(one.part)
            if next(circuit_matching.matching(faults, meant, one.fault, one.stage), None) is None:
                hint = next(filter(None, (did_you_mean(word, roles) for word in meant)), "")
                message = f"no circuit has this fault: {', '.join(one.part)}: {', '.join(one.fault)}."
                entry = f"causes.{cause.id}.circuit.{number}"
                yield Problem(cause.where, entry, message, hint, "no-such-fault", "warning")


def manuals() -> dict[str, tuple[str, str]]:
    """Severity and manual of each check on circuits, by its id."""
    found = {lint.__name__.replace("_", "-"): ("error", lint.__doc__ or "") for lint in circuit_lint.LINTS}
    found |= {name: ("warning", found[name][1]) for name in ("preferred-value", "unusual-value")}
    return found | {"no-such-fault": ("warning", unmet.__doc__ or "")}


def _shown(path: Path, root: Path) -> str:
    return f"kb/amps/{path.name}" if root == shipped() else str(path)
