"""The bill of materials: what the installed program is made of, with versions and licences, as CycloneDX JSON.

`python tests/packaging/bill.py FILE` writes it for the environment it runs in: the program and what it needs at run
time, not what the tests need.
"""

from __future__ import annotations

import sys
from importlib.metadata import Distribution, distribution
from pathlib import Path

from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.model.license import DisjunctiveLicense
from cyclonedx.output import make_outputter
from cyclonedx.schema import OutputFormat, SchemaVersion
from packageurl import PackageURL
from packaging.requirements import Requirement

PROGRAM = "chopstick"


def needed(name: str = PROGRAM, extras: tuple[str, ...] = ("",)) -> dict[str, Distribution]:
    """What a distribution needs at run time, itself included, by name; found through what is installed."""
    found: dict[str, Distribution] = {}
    waiting = [(name, extras)]
    while waiting:
        name, extras = waiting.pop()
        key = name.lower().replace("_", "-")
        if key in found:
            continue
        found[key] = distribution(name)
        for text in found[key].requires or ():
            requirement = Requirement(text)
            marker = requirement.marker
            if marker is None or any(marker.evaluate({"extra": extra}) for extra in extras):
                waiting.append((requirement.name, ("", *requirement.extras)))
    return found


def licence(of: Distribution) -> str:
    """What a distribution says its licence is: an SPDX expression where it has one, else its own words."""
    told = of.metadata
    classifiers = [one.rpartition("::")[2].strip() for one in told.get_all("Classifier", []) if one.startswith("License")]
    named = [one for one in classifiers if one != "OSI Approved"]
    words = (told.get("License") or "").splitlines()
    return str(told.get("License-Expression") or next(iter(named), "") or next(iter(words), "") or "not told")


def bill() -> Bom:
    """The program and what it needs, each on what it needs itself."""
    parts = needed()
    components = {
        name: Component(
            name=one.metadata["Name"], version=one.version, type=ComponentType.LIBRARY, bom_ref=name,
            purl=PackageURL("pypi", name=name, version=one.version), licenses=[DisjunctiveLicense(name=licence(one))],
        )
        for name, one in sorted(parts.items())
    }  # fmt: skip
    made = Bom(components=[one for name, one in components.items() if name != PROGRAM])
    made.metadata.component = components[PROGRAM]
    for name, one in parts.items():
        asked = {Requirement(text).name.lower().replace("_", "-") for text in one.requires or ()}
        made.register_dependency(components[name], [components[other] for other in sorted(asked & parts.keys())])
    return made


def text() -> str:
    outputter = make_outputter(bill(), OutputFormat.JSON, SchemaVersion.V1_6)
    return outputter.output_as_string(indent=1)


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(text() + "\n", encoding="utf-8")
