"""Which faults of a circuit are meant by words that hold for any circuit: a part's role, a fault, a kind of stage."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from fnmatch import fnmatchcase

from .faults import Fault, single_faults
from .netlist import Circuit
from .network import compile_circuit


def matching(
    faults: Iterable[Fault], part: Collection[str], fault: Collection[str], stage: Collection[str] = ()
) -> Iterator[int]:
    """The places in `faults` of those that are meant. `*` stands for any letters; no stage named means any stage."""
    for number, one in enumerate(faults):
        if _meant(one.role, part) and _meant(one.kind, fault) and (not stage or _meant(one.stage_kind, stage)):
            yield number


def _meant(word: str, patterns: Collection[str]) -> bool:
    return any(fnmatchcase(word, pattern) for pattern in patterns)


def faults_of(circuit: Circuit) -> tuple[Fault, ...]:
    """Every single fault of a circuit."""
    return single_faults(compile_circuit(circuit))
