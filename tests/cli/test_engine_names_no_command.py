"""The engine serves every face, so none of its words is a command or an option of the command line."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from chopstick.cli.main import COMMANDS

ENGINE = Path(__file__).parents[2] / "engine"
SHAPE = re.compile(r"chopstick [a-z ]+ \d+")
NAMES = re.compile(rf"\bchopstick ({'|'.join(COMMANDS)})\b|(?<![\w-])--[a-z]|`({'|'.join(COMMANDS)}) ")


def texts(path: Path) -> Iterator[tuple[str, str]]:
    for one in ast.walk(ast.parse(path.read_text())):
        if isinstance(one, ast.Constant) and isinstance(one.value, str):
            yield f"{path.name}:{one.lineno}", one.value


def test_no_text_of_the_engine_names_a_command() -> None:
    said = [text for path in sorted(ENGINE.rglob("*.py")) for text in texts(path)]
    assert len(said) > 1000
    assert [one for one in said if not SHAPE.fullmatch(one[1]) and NAMES.search(one[1])] == []
    assert NAMES.search("see: chopstick jobs check")
    assert NAMES.search("name it with --store URL")
