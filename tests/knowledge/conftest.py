"""A small sound knowledge base to break on purpose."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.reference.errors import Problem

AREA = """\
# One file of the area.

about: One pot, its crackle and its cure.
symptoms:
  crackle:
    name: Crackle when the knob turns
    says: [it crackles, scratchy pot]
    ask: Does it crackle?
findings:
  dc-on-pot:
    text: There is DC on the pot
checks:
  turn-it:
    name: Turn the knob
    stage: play
    minutes: 1
    do: Turn it slowly.
    normal: Silence.
    cautions: [loud]
    ask: Does it crackle?
    answers:
      "yes": {findings: [crackle]}
      "no": {}
  measure-it:
    name: Measure DC on the pot
    stage: live
    minutes: 3
    do: Black lead to chassis, red to the hot lug, DC volts.
    normal: Under 5 mV.
    cautions: [live]
    readings:
      pot: {ask: DC on the pot, unit: mV, point: v1a.grid, plausible: [-500, 20000]}
    bands:
      - {above: 50, findings: [dc-on-pot], text: DC on the pot}
causes:
  track-dirty:
    name: Dirty track
    part: pot
    fault: dirty track
    commonness: everyday
    shows: {crackle: almost always}
    repairs: [clean-it]
  capacitor-leaky:
    name: Leaky coupling capacitor
    part: coupling capacitor
    fault: leaky
    commonness: common
    shows: {crackle: usually, dc-on-pot: almost always}
    repairs: [change-it]
repairs:
  clean-it:
    name: Clean the track
    steps: [Unplugged and discharged, clean and work the track.]
    minutes: 5
    skill: junior
    keeps: the pot and its taper
    proof: {check: turn-it, gone: crackle}
  change-it:
    name: Change the capacitor
    steps: [Unplugged and discharged, fit the same value at the same or a higher voltage rating.]
    minutes: 15
    skill: technician
    keeps: the value, and so the voice
    proof: {check: measure-it, gone: dc-on-pot}
rules:
  dc-says-capacitor:
    when: {finding: dc-on-pot}
    then: [{raise: capacitor-leaky, by: clearly}]
    because: a dirty track puts no DC on itself
"""


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A folder shaped as kb/, with the shipped common file and references and one area of our own."""
    return write_base(tmp_path)


def write_base(root: Path) -> Path:
    shipped = load.shipped()
    for name in ("common.yaml", "sources.yaml"):
        shutil.copy(shipped / name, root / name)
    shutil.copytree(shipped / "reference", root / "reference")
    write_area(root, "knobs", pot=AREA)
    return root


def write_area(root: Path, area: str, **files: str) -> None:
    """An area of a base: its head, and its other files by name, each the text of one."""
    folder = root / "areas" / area
    folder.mkdir(parents=True)
    (folder / "area.yaml").write_text(f"title: {area.capitalize()}\nabout: What there is to it.\n")
    for name, text in files.items():
        (folder / f"{name}.yaml").write_text(text)


def as_file(text: str) -> str:
    """The text of a layer's file, which begins a new area, as a file of an area of the base."""
    return "about: One file.\nsymptoms:" + text.partition("symptoms:")[2]


@pytest.fixture
def broken(root: Path) -> Callable[[str, str], list[Problem]]:
    """Change one text in the area for another, and have the base checked."""

    def change(old: str, new: str) -> list[Problem]:
        assert AREA.count(old) >= 1, f"'{old}' does not stand in the area"
        (root / "areas" / "knobs" / "pot.yaml").write_text(AREA.replace(old, new, 1))
        return list(load.check(root))

    return change


def at(problem: Problem) -> tuple[str, int, int]:
    """The file's name, the line and the column of a problem."""
    return Path(problem.where.file).name, problem.where.line, problem.where.column
