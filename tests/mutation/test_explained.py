"""What the list of explained errors says of the program is still there, so that the list never goes stale."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest
import yaml

from .run import EXPLAINED, ROOT

ENTRIES = yaml.safe_load(EXPLAINED.read_text()) or []


def lines(text: str, place: str) -> Iterator[str]:
    """The lines of every function or class of that name; of the whole module for none."""
    rows = [row.strip() for row in text.splitlines()]
    if not place:
        yield from rows
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name == place:
            yield from rows[node.lineno - 1 : node.end_lineno]


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: f"{entry['in']}: {entry['line'][:40]}")
def test_an_explained_error_names_a_file_a_function_and_a_line_that_exist(entry: dict[str, object]) -> None:
    assert set(entry) == {"in", "line", "errors", "because"}
    path, _, place = str(entry["in"]).partition(": ")
    assert entry["line"] in set(lines((ROOT / path).read_text(), place))
    assert entry["errors"]
    assert len(str(entry["because"])) > 10


def test_an_entry_of_a_line_that_is_gone_is_found_out() -> None:
    text = "def one():\n    return 1\n\ndef two():\n    return 2\n"
    assert "return 2" in set(lines(text, "two"))
    assert "return 2" not in set(lines(text, "one"))
    assert "return 2" in set(lines(text, ""))
