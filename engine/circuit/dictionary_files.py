"""Fault dictionaries kept on the disk: solving one takes a second, reading it a few hundredths.

What is kept are numbers alone (numpy's own format, no objects), in the user's cache folder, under a hash of everything
they come from: the circuit, the meter, the tubes' figures and the modules that solve. Safe to delete at any time.
"""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from dataclasses import fields
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np

from ..devices.supply import SupplyCurve
from ..knowledge.cache import ours
from ..knowledge.folder import shipped
from ..late import late
from .dictionary import Dictionary, build_dictionary
from .expected import Expected, Meter
from .netlist import Circuit
from .pairs import Pairs

with late():
    import platformdirs

MOST_KEPT = 24


def default_folder() -> Path:
    return Path(platformdirs.user_cache_dir("chopstick", appauthor=False)) / "circuits"


def dictionary(
    circuit: Circuit, meter: Meter | None = None, folder: Path | None = None, pairs: bool = True
) -> Dictionary:
    """The fault dictionary of a circuit, from `folder` if it is kept there. A folder that can't be used costs time and
    nothing else. pairs: with what two faults give, which takes longer than all the rest and which a single ranking of
    few readings can do without. Raises ArithmeticError when the healthy circuit has no operating point."""
    meter = meter or Meter()
    path = (folder or default_folder()) / f"{key(circuit, meter)}.npz"
    kept = _read(path)
    found = build_dictionary(circuit, meter, *kept)
    if found.known_pairs is None and (pairs or kept[0] is None):
        with suppress(OSError):
            _write(path, found, pairs)
    return found


def key(circuit: Circuit, meter: Meter) -> str:
    """The name under which a dictionary is kept."""
    digest = hashlib.sha256(f"{circuit.model_dump_json()}\0{meter}\0".encode())
    here = Path(__file__).parent
    for source in sorted([*here.glob("*.py"), *(here.parent / "devices").glob("*.py")]):
        digest.update(source.read_bytes())
    for table in sorted((shipped() / "reference").glob("*.yaml")):
        digest.update(table.read_bytes())
    return digest.hexdigest()


def _read(path: Path) -> tuple[Expected | None, Pairs | None, list[SupplyCurve]]:
    try:
        if not (ours(path.lstat()) and ours(path.parent.stat())):
            return None, None, []
        with np.load(path, allow_pickle=False) as kept:
            expected = Expected(**{field.name: kept[field.name] for field in fields(Expected)})
            tables = [kept[f"curve_{field.name}"] for field in fields(SupplyCurve)]
            curves = [SupplyCurve(*one) for one in zip(*tables, strict=True)]
            if "pair_rows" not in kept:
                return expected, None, curves
            return expected, Pairs(**{field.name: kept[f"pair_{field.name}"] for field in fields(Pairs)}), curves
    except (OSError, ValueError, KeyError, EOFError, BadZipFile):
        return None, None, []


def _write(path: Path, found: Dictionary, pairs: bool) -> None:
    """Keep it, whole or not at all; readable by its owner only."""
    tables: dict[str, Any] = {f"pair_{name}": table for name, table in vars(found.pairs).items()} if pairs else {}
    for field in fields(SupplyCurve):
        tables[f"curve_{field.name}"] = np.array([getattr(one, field.name) for one in found.curves])
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    new = path.with_name(f".{path.stem}.{os.getpid()}")
    handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with open(handle, "wb") as stream:
            np.savez(stream, **vars(found.expected), **tables)
        os.replace(new, path)
    finally:
        with suppress(OSError):
            new.unlink()
    older = sorted(path.parent.glob("*.npz"), key=lambda one: one.stat().st_mtime_ns, reverse=True)
    for one in older[MOST_KEPT:]:
        with suppress(OSError):
            one.unlink()
