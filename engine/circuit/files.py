"""Circuit files from text to frozen model, with every problem at its line; the shipped archetypes; the nearest one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

from ..knowledge.validate import validate
from ..late import late
from ..reference.errors import KnowledgeError, Problem
from ..reference.text import Document, Place, read_file
from .netlist import PART_KINDS, SUPPLY_KINDS, Circuit

with late():
    from ..reference import errors as reference_errors
    from . import lint

#: How much an amp fact that agrees counts toward the nearest archetype; facts not named here count 1.
FACT_WEIGHTS = {"output-class": 6, "power-tube": 4, "power-tube-count": 4, "bias": 4, "inverter": 3, "rectifier": 2}


@dataclass(frozen=True)
class CircuitFile:
    """A circuit with its name (the file's stem), its document (places) and the warnings its lints gave."""

    name: str
    circuit: Circuit
    document: Document
    warnings: tuple[Problem, ...]


def load_circuit(path: Path, name: str | None = None) -> CircuitFile:
    """Read and lint one circuit file. Raises KnowledgeError with every error of the file."""
    return from_document(path.stem, read_file(path, name))


def from_document(name: str, document: Document) -> CircuitFile:
    """A circuit from its document, linted. Raises KnowledgeError with every error, each at its place."""
    problems: list[Problem] = []
    circuit = validate(document, Circuit, problems)
    if circuit is None:
        raise KnowledgeError(_untagged(problem, document) for problem in problems)

    problems += lint.run(circuit, document)
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors:
        raise KnowledgeError(errors)
    return CircuitFile(name, circuit, document, tuple(problems))


def _untagged(problem: Problem, document: Document) -> Problem:
    """A part's or supply's kind is no level of the file: `parts.R3.resistor.ohm` is `parts.R3.ohm`, with the place of
    its value."""
    section, *rest = problem.entry.split(".")
    kinds = {"parts": PART_KINDS, "supplies": SUPPLY_KINDS}.get(section, ())
    if len(rest) < 3 or rest[1] not in kinds:
        return problem
    place: Place = (section, rest[0], *rest[2:])
    return replace(problem, where=document.where(place), entry=".".join(map(str, place)))


def archetypes() -> dict[str, Path]:
    """The shipped circuit files by name."""
    folder = Path(str(files("chopstick.kb"))) / "amps"
    return {path.stem: path for path in sorted(folder.glob("*.yaml"))}


def find(name: str) -> Path:
    """A circuit file by path, or by the name of a shipped archetype. (A shop's own: see collection.)

    Raises FileNotFoundError with the nearest names.
    """
    given = Path(name)
    if given.suffix in (".yaml", ".yml") or given.exists():
        return given
    known = archetypes()
    if name in known:
        return known[name]

    hint = reference_errors.did_you_mean(name, tuple(known)) or f"There are: {', '.join(known)}."
    raise FileNotFoundError(f"no circuit file '{name}'. {hint}")


def load_archetype(name: str) -> CircuitFile:
    """A shipped archetype by name. Raises FileNotFoundError, KnowledgeError."""
    path = find(name)
    return load_circuit(path, f"kb/amps/{path.name}")


def nearest(facts: Mapping[str, object], choices: Mapping[str, Circuit]) -> tuple[str, float]:
    """The circuit whose `fits` agree best with the amp's facts, and the share of the weight that agrees (0 to 1).

    A share under 1 means wide bands: the caller says so. Facts that a circuit does not name are left out.
    """
    if not choices:
        raise ValueError("there is no circuit to choose from")

    def share(circuit: Circuit) -> float:
        known = {k: v for k, v in facts.items() if k in circuit.fits and v not in (None, "unknown")}
        total = sum(FACT_WEIGHTS.get(k, 1) for k in known)
        agree = sum(FACT_WEIGHTS.get(k, 1) for k, v in known.items() if str(v) == str(circuit.fits[k]))
        return agree / total if total else 0.0

    shares = {name: share(circuit) for name, circuit in choices.items()}
    best = max(shares, key=lambda name: shares[name])
    return best, shares[best]
