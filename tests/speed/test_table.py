"""The table of speeds names tests that are there, and every test that tells a figure stands in it."""

import re

from .table import HERE, README, TABLE


def test_each_row_has_its_test_and_each_test_its_row() -> None:
    found = TABLE.search(README.read_text())
    assert found
    named = set(re.findall(r"^\|.*\| `(test_\w+\.py::test_\w+)` \|$", found[2], re.MULTILINE))
    telling = set()
    for path in HERE.glob("test_*.py"):
        for part in re.split(r"^(?=def |@)", path.read_text(), flags=re.MULTILINE):
            if (test := re.match(r"def (test_\w+)", part)) and re.search(r"^    row\(", part, re.MULTILINE):
                telling.add(f"{path.name}::{test[1]}")
    assert named == telling, "run, on a quiet machine: bash tests/run speed"
