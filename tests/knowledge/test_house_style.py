"""What the program says, and what its authors say in it, keeps the house style that `kb check` holds the knowledge to."""

from __future__ import annotations

import ast
import io
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest
from chopstick.engine.knowledge.folder import shipped
from chopstick.engine.knowledge.style import read

ROOT = Path(__file__).parents[2]
PROGRAM = sorted(path for room in ("cli", "engine") for path in (ROOT / room).rglob("*.py"))
TYPED = {"per cent"}  # what a person may type
PROSE = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "cli").rglob("*.md"), *(ROOT / "cli").rglob("*.j2")])


def texts(source: str) -> Iterator[tuple[int, str]]:
    """Each text of a module with its line: strings of more than a word, docstrings among them, and comments. A key or an
    id is a word by itself and free, and so is what stands between the braces of an f-string."""
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            yield token.start[0], token.string
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value.strip() and node.value not in TYPED:
            yield node.lineno, node.value


def slips(path: Path) -> list[str]:
    source = path.read_text()
    said = texts(source) if path.suffix == ".py" else enumerate(source.splitlines(), start=1)
    style = read(shipped())
    return [
        f"{path.relative_to(ROOT)}:{line}: '{word}': say: {instead}"
        for line, text in said
        for word, instead in style.slips(" ".join(text.split()))
    ]


@pytest.mark.parametrize("files", [PROGRAM, PROSE], ids=["program", "prose"])
def test_no_word_that_the_house_style_does_not_have(files: list[Path]) -> None:
    assert len(files) > 10
    assert [slip for path in files for slip in slips(path)] == []


@pytest.mark.parametrize(
    "source",
    ['"""The colour of it."""', "x = 1  # colour and all", 'print("no colour here")', 'print(f"no colour, {1}")'],
)
def test_a_slip_is_seen_wherever_it_is(source: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(__import__(__name__, fromlist=["ROOT"]), "ROOT", tmp_path)
    (tmp_path / "one.py").write_text(source + "\n")
    assert slips(tmp_path / "one.py") == ["one.py:1: 'colour': say: color"]


def test_a_key_is_free(tmp_path: Path) -> None:
    assert list(texts('{"colour": colour}')) == []
