"""The tubes and rectifiers the solver knows, read from kb/reference."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from ..late import late
from ..reference.text import read_file
from .tubes import Pentode, Triode

with late():
    from ..reference import errors

REFERENCE = Path(str(files("chopstick.kb"))) / "reference"
MODELS_FILE = REFERENCE / "tube_models.yaml"


class UnknownPart(KeyError):
    """Raised when a circuit names a tube or rectifier type that kb/reference has no model for."""

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True)
class RectifierLaw:
    """One rectifier: current of one section = perveance * (volts - threshold)^1.5 (A, V)."""

    name: str
    perveance: float
    threshold_V: float = 0.0
    heated: bool = True


@dataclass(frozen=True)
class Library:
    """Tube laws, rectifiers and the reference entries behind them, by every type name in use."""

    tubes: Mapping[str, Triode | Pentode]
    rectifiers: Mapping[str, RectifierLaw]
    tube_entries: Mapping[str, Mapping[str, Any]]
    rectifier_entries: Mapping[str, Mapping[str, Any]]

    def tube(self, name: str) -> Triode | Pentode:
        """The law of a tube type; raises UnknownPart naming the nearest ones."""
        if name not in self.tubes:
            raise UnknownPart(_unknown("tube", name, tuple(self.tubes)))
        return self.tubes[name]

    def rectifier(self, name: str) -> RectifierLaw:
        """The law of a rectifier type, or of `silicon`; raises UnknownPart."""
        if name not in self.rectifiers:
            raise UnknownPart(_unknown("rectifier", name, tuple(self.rectifiers)))
        return self.rectifiers[name]


def _unknown(what: str, name: str, known: tuple[str, ...]) -> str:
    hint = errors.did_you_mean(name, known) or f"Known: {', '.join(sorted(known))}."
    return f"no model for the {what} type '{name}'. {hint}"


#: Two silicon diodes or one: 0.6 V before they conduct, next to nothing after (common practice, no source).
SILICON = RectifierLaw("silicon", perveance=5.0, threshold_V=0.6, heated=False)
#: A selenium stack of a bias supply: about 1 V a plate, several plates (from memory).
SELENIUM = RectifierLaw("selenium", perveance=0.005, threshold_V=2.0, heated=False)


@lru_cache(maxsize=1)
def standard_library() -> Library:
    """The library of this installation. A pure reading of kb/reference, so it is read once."""
    models = _values("tube_models.yaml")["models"]
    entries = _values("tubes.yaml")["tubes"]
    tubes: dict[str, Triode | Pentode] = {}
    named: dict[str, Mapping[str, Any]] = {}
    for name, block in models.items():
        entry = entries.get(name, {"types": [name]})
        for alias in {name, *entry["types"]}:
            tubes[alias] = model_of(block, block["constants"])
            named[alias] = {"name": name, **entry}
    rectifiers = {rectifier.name: rectifier for rectifier in (SILICON, SELENIUM)}
    named_rectifiers: dict[str, Mapping[str, Any]] = {}
    for name, entry in _values("rectifiers.yaml")["rectifiers"].items():
        for alias in {name, *entry["types"]}:
            rectifiers[alias] = RectifierLaw(alias, perveance(entry["drop"]))
            named_rectifiers[alias] = entry
    return Library(tubes, rectifiers, named, named_rectifiers)


def perveance(drops: list[Mapping[str, Any]]) -> float:
    """A/V^1.5 through the printed drops (3/2-power law); those that were read count, if any was."""
    read = [row for row in drops if row["seen"]] or drops
    values = [row["at_mA"] / 1000 / row["drop_V"] ** 1.5 for row in read]
    return float(sum(values) / len(values))


def _values(name: str) -> Any:
    return read_file(REFERENCE / name, f"kb/reference/{name}").value


def model_of(block: Mapping[str, Any], constants: Mapping[str, float]) -> Triode | Pentode:
    """The law that a block of tube_models.yaml describes, with these constants."""
    farads = {f"{name}_F": value * 1e-12 for name, value in block["capacitance_pF"].items()}
    if block["kind"] == "triode":
        return Triode(**constants, **farads)
    return Pentode(**constants, **farads)
