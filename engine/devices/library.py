"""The tubes and rectifiers the solver knows, read from kb/reference."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from ..reference.text import read_file
from . import fit
from .tubes import Pentode, Triode

REFERENCE = Path(str(files("chopstick.kb"))) / "reference"
MODELS_FILE = REFERENCE / "tube_models.yaml"
_HEADER = """\
# Constants of the tube laws (engine/devices/tubes.py), fitted to the operating points of tubes.yaml and to the
# extra points below. `left` is the table of what the fit misses at each point, in per cent of the printed figure.
# `start` holds the fit weakly where the points do not settle a constant: sets of the 1996 article for the types it
# treats, a similar type's set for the others. Capacitances are the tube alone, without socket and wiring.
# Written by `python -m chopstick.engine.devices.fit`; edit only `start`, `capacitance_pF` and `extra_points`.
# Extra points: the printed supply less the drop in the printed shared screen and cathode resistors.
sources: {start: glass-audio-1996, capacitance_pF: tube-capacitances, capacitances_seen: false}
"""


class UnknownPart(KeyError):
    """Raised when a circuit names a tube or rectifier type that kb/reference has no model for."""

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True)
class Rectifier:
    """One rectifier: current of one section = perveance * (volts - threshold)^1.5 (A, V)."""

    name: str
    perveance: float
    threshold_V: float = 0.0
    heated: bool = True


@dataclass(frozen=True)
class Library:
    """Tube laws, rectifiers and the reference entries behind them, by every type name in use."""

    tubes: Mapping[str, Triode | Pentode]
    rectifiers: Mapping[str, Rectifier]
    tube_entries: Mapping[str, Mapping[str, Any]]
    rectifier_entries: Mapping[str, Mapping[str, Any]]

    def tube(self, name: str) -> Triode | Pentode:
        """The law of a tube type; raises UnknownPart naming the nearest ones."""
        if name not in self.tubes:
            raise UnknownPart(_unknown("tube", name, tuple(self.tubes)))
        return self.tubes[name]

    def rectifier(self, name: str) -> Rectifier:
        """The law of a rectifier type, or of `silicon`; raises UnknownPart."""
        if name not in self.rectifiers:
            raise UnknownPart(_unknown("rectifier", name, tuple(self.rectifiers)))
        return self.rectifiers[name]


def _unknown(what: str, name: str, known: tuple[str, ...]) -> str:
    from ..reference.errors import did_you_mean

    hint = did_you_mean(name, known) or f"Known: {', '.join(sorted(known))}."
    return f"no model for the {what} type '{name}'. {hint}"


#: Two silicon diodes or one: 0.6 V before they conduct, next to nothing after (common practice, no source).
SILICON = Rectifier("silicon", perveance=5.0, threshold_V=0.6, heated=False)
#: A selenium stack of a bias supply: about 1 V a plate, several plates (from memory).
SELENIUM = Rectifier("selenium", perveance=0.005, threshold_V=2.0, heated=False)


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
            tubes[alias] = _model(block, block["constants"])
            named[alias] = {"name": name, **entry}
    rectifiers = {rectifier.name: rectifier for rectifier in (SILICON, SELENIUM)}
    named_rectifiers: dict[str, Mapping[str, Any]] = {}
    for name, entry in _values("rectifiers.yaml")["rectifiers"].items():
        for alias in {name, *entry["types"]}:
            rectifiers[alias] = Rectifier(alias, perveance(entry["drop"]))
            named_rectifiers[alias] = entry
    return Library(tubes, rectifiers, named, named_rectifiers)


def perveance(drops: list[Mapping[str, Any]]) -> float:
    """A/V^1.5 through the printed drops (3/2-power law); those that were read count, if any was."""
    read = [row for row in drops if row["seen"]] or drops
    values = [row["at_mA"] / 1000 / row["drop_V"] ** 1.5 for row in read]
    return float(sum(values) / len(values))


def _values(name: str) -> Any:
    return read_file(REFERENCE / name, f"kb/reference/{name}").value


def _model(block: Mapping[str, Any], constants: Mapping[str, float]) -> Triode | Pentode:
    farads = {f"{name}_F": value * 1e-12 for name, value in block["capacitance_pF"].items()}
    if block["kind"] == "triode":
        return Triode(**constants, **farads)
    return Pentode(**constants, **farads)


def model_points(name: str, block: Mapping[str, Any], entries: Mapping[str, Any]) -> list[fit.Point]:
    """The points that settle one tube's constants."""
    extra = {"kind": block["kind"], "operating_points": block.get("extra_points", [])}
    return [*fit.points_of(entries[name]), *fit.points_of(extra)]


def render_models() -> str:
    """The text of tube_models.yaml with every tube fitted again and its table of what is left."""
    entries = _values("tubes.yaml")["tubes"]
    lines = [_HEADER, "models:"]
    for name, block in _values("tube_models.yaml")["models"].items():
        points = model_points(name, block, entries)
        fitted = fit.fit(_model(block, block["start"]), points)
        names = fit.TRIODE_NAMES if block["kind"] == "triode" else fit.PENTODE_NAMES
        constants = {key: float(f"{getattr(fitted, key):.6g}") for key in names}
        rounded = _model(block, constants)
        lines += [
            "",
            f"  '{name}':" if name.isdigit() else f"  {name}:",
            f"    kind: {block['kind']}",
            f"    start: {_flow(block['start'])}",
            f"    constants: {_flow(constants)}",
            f"    capacitance_pF: {_flow(block['capacitance_pF'])}",
        ]
        if "extra_points" in block:
            lines += ["    extra_points:", *(f"    - {_flow(row)}" for row in block["extra_points"])]
        lines.append("    left:")
        for point in points:
            at = {"plate_V": point.plate_V, "screen_V": point.screen_V, "grid_V": round(point.grid_V, 3)}
            if isinstance(rounded, Triode):
                del at["screen_V"]
            left = {item.quantity: f"{item.percent:+.1f}" for item in fit.leftovers(rounded, point)}
            tail = {"source": point.source, "seen": str(point.seen).lower()}
            lines.append(f"    - {_flow({**at, 'percent': _flow(left), **tail})}")
    return "\n".join(lines) + "\n"


def _flow(block: Mapping[str, Any]) -> str:
    shown = (f"{key}: {str(value).lower() if isinstance(value, bool) else value}" for key, value in block.items())
    return "{" + ", ".join(shown) + "}"
