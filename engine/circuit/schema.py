"""The JSON Schema of circuit files, for editors: generated from the models, committed as kb/schema/circuit.schema.json.

Run as a module to renew it: python -m chopstick.engine.circuit.schema
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from ..knowledge.schema import text
from .netlist import Circuit

FILE = Path(str(files("chopstick.kb"))) / "schema" / "circuit.schema.json"


def schema_text() -> str:
    """The schema as it is committed."""
    return text(Circuit)


if __name__ == "__main__":
    FILE.write_text(schema_text(), encoding="utf-8")
