"""The JSON Schema of answer files (a whole job to be run) and sample jobs, committed as kb/schema/job.schema.json.

Run as a module to renew it: python -m chopstick.engine.reasoning.schema
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from ..knowledge.schema import text
from .script import AnswerFile

FILE = Path(str(files("chopstick.kb"))) / "schema" / "job.schema.json"


def schema() -> str:
    """The text of the schema file."""
    return text(AnswerFile)


if __name__ == "__main__":
    FILE.write_text(schema(), encoding="utf-8")
