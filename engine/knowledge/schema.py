"""The JSON Schema of the knowledge files, for editors: generated from the models, committed in kb/schema/.

Run as a module to renew it: python -m chopstick.engine.knowledge.schema
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import BaseModel, create_model

from ..reference.tables import FILES as REFERENCE_FILES
from ..reference.tables import Reference
from . import model
from .layers import Manifest
from .overlay import OverlayFile
from .style import StyleFile
from .term import TERMS, GlossaryFile
from .vocabulary import Vocabulary

FILES: dict[str, type[BaseModel]] = {
    "area.schema.json": model.AreaHead,
    "common.schema.json": model.CommonFile,
    "glossary.schema.json": GlossaryFile,
    "moves.schema.json": model.MovesFile,
    "overlay.schema.json": OverlayFile,
    "pack.schema.json": Manifest,
    "style.schema.json": StyleFile,
    "subject.schema.json": model.SubjectFile,
    "vocabulary.schema.json": Vocabulary,
}


def text(kind: type[BaseModel]) -> str:
    """A model's schema as the text of its file."""
    return _written(kind.model_json_schema())


def schemas() -> dict[str, str]:
    """The text of every schema file, by name."""
    made = {name: _plain(kind.model_json_schema()) for name, kind in FILES.items()}
    made["overlay.schema.json"] = _layered(
        made["overlay.schema.json"], made["subject.schema.json"], made["glossary.schema.json"]
    )
    return {
        **{name: _written(schema) for name, schema in made.items()},
        **{f"{name}.schema.json": _reference_schema(name, keys) for name, keys in REFERENCE_FILES.items()},
    }


def write(folder: Path) -> None:
    """Write the schema files of `kb/schema`."""
    for name, content in schemas().items():
        (folder / name).write_text(content, encoding="utf-8")


def _reference_schema(name: str, keys: tuple[str, ...]) -> str:
    """One file of kb/reference: the part of Reference that stands in it. Tubes and rectifiers get their `name` from
    the key they stand under, so it is not written."""
    fields: dict[str, Any] = {key: (Reference.model_fields[key].annotation, ...) for key in keys}
    schema = create_model(name, __config__=Reference.model_config, **fields).model_json_schema()
    for kind in ("Tube", "Rectifier"):
        if kind in schema["$defs"]:
            del schema["$defs"][kind]["properties"]["name"]
            schema["$defs"][kind]["required"].remove("name")
    return _written(schema)


def _written(schema: dict[str, Any]) -> str:
    return json.dumps(_plain(schema), indent=1) + "\n"


def _layered(overlay: dict[str, Any], subject: dict[str, Any], glossary: dict[str, Any]) -> dict[str, Any]:
    """The schema of a layer's file: its entries are those of a subject and of the glossary; in an amendment no field is
    required and any may be null."""
    overlay["$defs"] = {**subject["$defs"], **glossary["$defs"], **overlay.get("$defs", {})}
    amended: dict[str, Any] = {}
    for section in (*model.SECTIONS, TERMS):
        entries = (glossary if section == TERMS else subject)["properties"][section]
        overlay["properties"][section] = entries
        (named,) = entries["patternProperties"].values()
        kind = named["$ref"].rpartition("/")[2]
        fields = overlay["$defs"][kind]["properties"]
        loose = {name: {"anyOf": [_optional(field), {"type": "null"}]} for name, field in fields.items()}
        entry = {"type": "object", "properties": loose, "additionalProperties": False}
        amended[section] = {"type": "object", "additionalProperties": entry}
    amended["circuits"] = {"type": "object", "additionalProperties": {"type": "object"}}
    about = overlay["properties"]["amend"]["description"]
    overlay["properties"]["amend"] = {
        "type": "object", "properties": amended, "additionalProperties": False, "description": about
    }  # fmt: skip
    return overlay


def _optional(field: Any) -> Any:
    """A field of an amendment: in a mapping of names, null takes one away; and it need not be complete."""
    if not isinstance(field, dict):
        return field
    loose = {key: value for key, value in field.items() if key != "minProperties"}
    if isinstance(inside := field.get("additionalProperties"), dict):
        loose["additionalProperties"] = {"anyOf": [inside, {"type": "null"}]}
    if isinstance(patterns := field.get("patternProperties"), dict):
        loose["patternProperties"] = {key: {"anyOf": [inside, {"type": "null"}]} for key, inside in patterns.items()}
    return loose


def _plain(node: Any) -> Any:
    """Drop the titles that the generator makes out of field names; they only clutter an editor's hover."""
    if isinstance(node, dict):
        return {key: _plain(value) for key, value in node.items() if not (key == "title" and isinstance(value, str))}
    return [_plain(part) for part in node] if isinstance(node, list) else node


if __name__ == "__main__":
    write(Path(__file__).parents[2] / "kb" / "schema")
