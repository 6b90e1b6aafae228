"""What the program is made of: every part with a licence that may go along, every direct one justified."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from packaging.requirements import Requirement

from . import bill

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
DIRECT = [Requirement(text).name for text in PROJECT["dependencies"]]
OPTIONAL = [
    Requirement(text).name
    for extra, texts in PROJECT["optional-dependencies"].items()
    if extra != "tests"
    for text in texts
]
# Licences under which a part may be used and passed on with the program, as distributions name them.
FREE = re.compile(r"MIT|BSD|ISC|Apache|PSF|Python Software Foundation|MPL|Mozilla Public|LGPL|Lesser General Public|0BSD|Zlib|CC0|Unlicense|HPND")


def test_the_bill_is_a_bill_and_names_every_direct_dependency() -> None:
    text = bill.text()
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(text) is None
    named = {one.name.lower().replace("_", "-") for one in bill.bill().components}
    assert {name.lower().replace("_", "-") for name in DIRECT} <= named


@pytest.mark.parametrize("name", sorted(bill.needed()))
def test_its_licence_lets_it_go_along(name: str) -> None:
    told = bill.licence(bill.needed()[name])
    assert FREE.search(told), told
    assert not re.search(r"(?<!L)GPL|Affero", told.replace("LGPL", "L")), told


@pytest.mark.parametrize("name", [*DIRECT, *OPTIONAL])
def test_developers_are_told_why_it_is_there(name: str) -> None:
    rows = re.findall(r"^\| `([A-Za-z0-9_-]+)` \| (.+) \| (.+) \|$", (ROOT / "DEVELOPERS.md").read_text(), re.MULTILINE)
    assert name.lower().split("[")[0] in {row[0].lower() for row in rows}, "add a row to the table of dependencies"
