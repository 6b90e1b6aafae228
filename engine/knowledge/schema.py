"""The JSON Schema of the knowledge files, for editors: generated from the models, committed in kb/schema/."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from . import model

FILES: dict[str, type[BaseModel]] = {"area.schema.json": model.AreaFile, "common.schema.json": model.CommonFile}


def schemas() -> dict[str, str]:
    """The text of every schema file, by name."""
    return {name: json.dumps(_plain(kind.model_json_schema()), indent=1) + "\n" for name, kind in FILES.items()}


def write(folder: Path) -> None:
    """Write the schema files of `kb/schema`."""
    for name, text in schemas().items():
        (folder / name).write_text(text, encoding="utf-8")


def _plain(node: Any) -> Any:
    """Drop the titles that the generator makes out of field names; they only clutter an editor's hover."""
    if isinstance(node, dict):
        return {key: _plain(value) for key, value in node.items() if not (key == "title" and isinstance(value, str))}
    return [_plain(part) for part in node] if isinstance(node, list) else node


if __name__ == "__main__":
    write(Path(__file__).parents[2] / "kb" / "schema")
