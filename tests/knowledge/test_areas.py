"""An area is a folder: its head, and files that are one area together, each entry at its own line."""

import shutil
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.reference.errors import Problem

from .conftest import AREA, at, write_area

LINTS = ("modeline", "long-file", "house-style")
SECTIONS = AREA.partition("causes:")


@pytest.fixture
def parted(root: Path) -> Path:
    """The one area in two files: what is noticed and checked, and what it comes from."""
    shutil.rmtree(root / "areas" / "knobs")
    write_area(root, "knobs", noticed=SECTIONS[0], pot=f"about: A pot.\ncauses:{SECTIONS[2]}")
    return root


def problems(root: Path, lint: str) -> list[Problem]:
    return [one for one in load.check(root) if one.lint == lint]


def test_an_area_in_two_files_is_the_area_in_one(root: Path) -> None:
    one = load.load(root)
    shutil.rmtree(root / "areas" / "knobs")
    write_area(root, "knobs", noticed=SECTIONS[0], pot=f"about: A pot.\ncauses:{SECTIONS[2]}")
    two = load.load(root)
    alone = {"where": True}
    assert [(s, e.model_dump(exclude=alone)) for s, e in one.entries()] == [
        (s, e.model_dump(exclude=alone)) for s, e in two.entries()
    ]
    assert two.areas["knobs"].title == "Knobs"


def test_each_entry_knows_its_own_file_and_line(parted: Path) -> None:
    base = load.load(parted)
    for entry in (base.symptoms["crackle"], base.causes["track-dirty"]):
        line = Path(entry.where.file).read_text().splitlines()[entry.where.line - 1]
        assert line == f"  {entry.id}:"
    assert Path(base.symptoms["crackle"].where.file).name == "noticed.yaml"
    assert Path(base.causes["track-dirty"].where.file).name == "pot.yaml"


def test_a_slip_is_told_in_the_file_it_stands_in(parted: Path) -> None:
    pot = parted / "areas" / "knobs" / "pot.yaml"
    pot.write_text(pot.read_text().replace("shows: {crackle: almost always}", "shows: {crackel: almost always}"))
    line = next(n for n, text in enumerate(pot.read_text().splitlines(), 1) if "crackel" in text)
    (problem,) = problems(parted, "unknown-reference")
    assert at(problem) == ("pot.yaml", line, 22)


def test_areas_files_and_entries_come_in_the_order_of_their_names(root: Path) -> None:
    write_area(root, "knobs-and-more", b="about: B.\nfindings: {z: {text: Z}, y: {text: Y}}\n", a="about: A.\nfindings: {x: {text: X}}\n")
    found = load._assemble(root)[0]
    assert found is not None
    assert list(found.areas) == ["knobs", "knobs-and-more"]
    assert list(found.findings) == ["dc-on-pot", "x", "z", "y"]


def test_an_id_in_two_files_of_an_area_is_told_with_both_places(parted: Path) -> None:
    again = parted / "areas" / "knobs" / "z-again.yaml"
    again.write_text("about: Once more.\nfindings:\n  dc-on-pot:\n    text: Said again\n")
    (problem,) = problems(parted, "duplicate-id")
    assert at(problem) == ("z-again.yaml", 3, 3)
    assert "noticed.yaml:10:3" in str(problem)


@pytest.mark.parametrize(
    ("file", "text", "place", "words"),
    [
        ("areas/knobs/area.yaml", "title: Knobs\n", ("area.yaml", 1, 1), "'about' is missing"),
        ("areas/knobs/area.yaml", "title: K\nabout: A.\nsymptoms: {}\n", ("area.yaml", 3, 1), "Known here: title, about, source"),
        ("areas/knobs/area.yaml", "title: K\nabout: A.\nsource: comon-practice\n", ("area.yaml", 3, 9), "Did you mean 'common-practice'?"),
        ("areas/knobs/pots.yaml", "findings: {}\n", ("pots.yaml", 1, 1), "'about' is missing"),
        ("areas/knobs/pots.yaml", "about: A.\ncauses: []\n", ("pots.yaml", 2, 9), "causes"),
        ("areas/knobs/pots.yaml", "- a\n", ("pots.yaml", 1, 1), "dictionary"),
        ("areas/old.yaml", "area: old\ntitle: Old\nabout: A.\n", ("old.yaml", 1, 1), "kb/areas/AREA/SUBJECT.yaml"),
        ("areas/knobs/pots/old.yaml", "about: A.\n", ("old.yaml", 1, 1), "kb/areas/AREA/SUBJECT.yaml"),
        ("areas/Knobs/area.yaml", "title: K\nabout: A.\n", ("area.yaml", 1, 1), "area: "),
        ("areas/lone/pots.yaml", "about: A.\n", ("area.yaml", 1, 1), "the area 'lone' has no area.yaml"),
    ],
)
def test_what_does_not_fit_is_told_at_its_place(
    root: Path, file: str, text: str, place: tuple[str, int, int], words: str
) -> None:
    (root / file).parent.mkdir(exist_ok=True)
    (root / file).write_text(text)
    (problem,) = load.check(root)
    assert at(problem) == place
    assert words in str(problem)


def test_a_layer_amends_adds_and_retires_in_any_file(parted: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    ours = tmp_path_factory.mktemp("shop") / "ours.yaml"
    ours.write_text(
        "area: knobs\namend:\n  repairs: {clean-it: {minutes: 9}}\n  checks: {turn-it: {minutes: 2}}\n"
        "retire: {rules: [dc-says-capacitor]}\nfindings:\n  worn: {text: The track is worn}\n"
    )
    base = load._assemble(parted, [Layer("shop", "shop", ours)])[0]
    assert base is not None
    assert (base.repairs["clean-it"].minutes, base.checks["turn-it"].minutes) == (9, 2)
    assert not base.rules
    assert (base.findings["worn"].where.file, base.findings["worn"].where.line) == (str(ours), 7)
    assert Path(base.repairs["clean-it"].where.file).name == "pot.yaml"
    (unsettled,) = load.check(parted, [Layer("shop", "shop", ours)])
    assert (unsettled.lint, unsettled.where.file, unsettled.where.line) == ("finding-never-settled", str(ours), 7)


def test_a_first_line_that_names_no_schema_or_another_is_told(root: Path) -> None:
    shutil.copytree(load.shipped() / "schema", root / "schema")
    wanted = "# yaml-language-server: $schema=../../schema/{}.schema.json"
    told = {Path(one.where.file).name: one for one in problems(root, "modeline")}
    assert set(told) == {"area.yaml", "pot.yaml"}, "those copied from kb/ have theirs"
    assert wanted.format("subject") in str(told["pot.yaml"])
    assert told["pot.yaml"].severity == "warning"
    head = root / "areas" / "knobs" / "area.yaml"
    head.write_text(f"{wanted.format('subject')}\n{head.read_text()}")
    (root / "areas" / "knobs" / "pot.yaml").write_text(f"{wanted.format('subject')}\n{AREA}")
    (still,) = problems(root, "modeline")
    assert at(still) == ("area.yaml", 1, 1)
    assert wanted.format("area") in str(still)


def test_a_file_of_more_than_300_lines_is_told(root: Path) -> None:
    pot = root / "areas" / "knobs" / "pot.yaml"
    pot.write_text(AREA + "\n" * (300 - AREA.count("\n")))
    assert problems(root, "long-file") == []
    pot.write_text(AREA + "\n" * (301 - AREA.count("\n")))
    (problem,) = problems(root, "long-file")
    assert at(problem)[:2] == ("pot.yaml", 301)
    assert (problem.severity, "301 lines" in str(problem)) == ("warning", True)


def test_a_word_that_the_house_does_not_use_is_told_at_its_text(root: Path) -> None:
    """In a text, not in the player's words nor within a longer word."""
    (root / "style.yaml").write_text("instead: {kitchen lamp: flashlight}\n")
    path = root / "areas" / "knobs" / "pot.yaml"
    text = path.read_text()
    path.write_text(text.replace("says: [", "says: [it wants a kitchen lamp, ", 1))
    assert problems(root, "house-style") == []
    path.write_text(text.replace("because: a dirty track", "because: by kitchen lamp a dirty track"))
    (problem,) = problems(root, "house-style")
    line = next(n for n, one in enumerate(path.read_text().splitlines(), start=1) if "kitchen lamp" in one)
    assert (problem.where.line, problem.where.column, problem.severity) == (line, 14, "warning")
    assert "Say: flashlight." in str(problem)
    path.write_text(text.replace("because: a dirty track", "because: by kitchen lamps a dirty track"))
    assert problems(root, "house-style") == []
