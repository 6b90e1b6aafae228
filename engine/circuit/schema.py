"""The JSON Schema of circuit files, for editors: generated from the models, committed as kb/schema/circuit.schema.json.

Run as a module to renew it: python -m chopstick.engine.circuit.schema
"""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

from .netlist import Circuit

FILE = Path(str(files("chopstick.kb"))) / "schema" / "circuit.schema.json"


def schema_text() -> str:
    """The schema as it is committed."""
    return json.dumps(_plain(Circuit.model_json_schema()), indent=1) + "\n"


def _plain(node: Any) -> Any:
    """Drop the titles that the generator makes out of field names; they only clutter an editor's hover."""
    if isinstance(node, dict):
        return {key: _plain(value) for key, value in node.items() if not (key == "title" and isinstance(value, str))}
    return [_plain(part) for part in node] if isinstance(node, list) else node


if __name__ == "__main__":
    FILE.write_text(schema_text(), encoding="utf-8")
