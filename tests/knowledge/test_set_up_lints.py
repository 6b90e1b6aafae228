"""What can be wrong with how the amp must stand: hands, what they do before power, and dangers that nothing would betray."""

import shutil
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.reference.errors import Problem

from .conftest import AREA, at

SAID = (
    ("    stage: play\n", "    stage: play\n    hands: outside\n"),
    (
        "    stage: live\n",
        "    stage: live\n    hands: clip-on\n    prepare: Clip the black lead to the chassis, unplugged and bled.\n",
    ),
    ("    steps: [Unplugged and discharged, clean", "    hands: inside\n    steps: [Unplugged and discharged, clean"),
    ("    steps: [Unplugged and discharged, fit", "    hands: iron\n    steps: [Unplugged and discharged, fit"),
)
LEAKY = "    commonness: common\n"
DANGER = "    commonness: common\n    hazard: damage\n"

# What is changed, into what, lint, (line, column), words that must be said
CASES = [
    ("    hands: iron\n", "", "hands-unsaid", (62, 3), "does not say where the hands go"),
    ("    stage: play\n    hands: outside\n", "    stage: look\n    hands: inside\n", "hands-where-they-kill", (16, 12), "still charged"),
    ("    prepare: Clip the black lead to the chassis, unplugged and bled.\n", "", "hands-where-they-kill", (28, 12), "`prepare` must say"),
    ("    hands: outside\n", "    hands: outside\n    prepare: Clip a lead on.\n", "hands-where-they-kill", (17, 14), "hands in first"),
    ("    do: Turn it slowly.", "    do: Turn it slowly and tug at it.", "words-of-hands-under-power", (13, 3), "tells of 'tug' under power"),
    (LEAKY, DANGER, "danger-unsaid", (51, 13), "does not say what that bars"),
    (
        f"{LEAKY}    shows: {{crackle: usually, dc-on-pot: almost always}}",
        f"{DANGER}    bars: power tubes\n    shows: {{crackle: usually, dc-on-pot: often}}",
        "danger-not-barred", (46, 3), "no finding that it usually shows bars power tubes",
    ),
]  # fmt: skip


def said() -> str:
    """The sound area, with hands and all."""
    text = AREA
    for old, new in SAID:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def problems(root: Path, text: str) -> list[Problem]:
    shutil.copy(load.shipped() / "moves.yaml", root / "moves.yaml")
    (root / "areas" / "knobs" / "pot.yaml").write_text(text)
    return list(load.check(root))


def test_a_base_that_says_all_of_it_has_no_problem(root: Path) -> None:
    assert problems(root, said()) == []


@pytest.mark.parametrize(
    ("old", "new", "lint", "place", "words"), CASES, ids=[f"{c[2]}-{n}" for n, c in enumerate(CASES)]
)
def test_each_problem_is_named_at_its_place(
    root: Path, old: str, new: str, lint: str, place: tuple[int, int], words: str
) -> None:
    assert said().count(old) == 1
    found = problems(root, said().replace(old, new))
    assert [one.lint for one in found] == [lint]
    assert at(found[0]) == ("pot.yaml", *place)
    assert words in str(found[0])


def test_a_danger_that_a_finding_betrays_is_no_problem(root: Path) -> None:
    text = said().replace(LEAKY, f"{DANGER}    bars: power tubes\n")
    assert problems(root, text) == []
    text = text.replace("    text: There is DC on the pot\n", "    text: There is DC on the pot\n    bars: false\n")
    assert [one.lint for one in problems(root, text)] == ["danger-not-barred"]


def test_a_base_without_moves_need_not_say_where_hands_go(root: Path) -> None:
    assert load.check(root) == ()
