"""The words of the trade on the command line and at the bench."""

from __future__ import annotations

from pathlib import Path

import pytest
from chopstick.engine.reports.knowledge import WholeEntry

from .conftest import Run


@pytest.mark.parametrize(
    ("typed", "explained"),
    [
        (("plate", "load"), "plate load"),
        (("anode resistors",), "plate load"),
        (("grid-leak",), "grid leak"),
        (("motorboatign",), "motorboating"),
        (("Red-plated",), "red-plating"),
    ],
)
def test_a_word_is_explained_however_it_is_written(run: Run, typed: tuple[str, ...], explained: str) -> None:
    ran = run("kb", "show", *typed, kb=None)
    assert ran.code == 0, ran.err
    assert ran.out.split("\n")[1].replace("-", " ") == explained.replace("-", " ")


def test_what_bears_on_safety_says_its_caution(run: Run) -> None:
    assert "CAUTION: The filter capacitors hold a lethal charge" in run("kb", "show", "filter caps", kb=None).out


def test_an_entry_and_a_word_of_one_name_are_both_shown(run: Run, tmp_path: Path) -> None:
    """The small base has a symptom `crackle`; the glossary beside it has the word."""
    import shutil

    from .conftest import SMALL

    root = shutil.copytree(SMALL, tmp_path / "kb")
    (root / "glossary").mkdir()
    (root / "glossary" / "words.yaml").write_text(
        "subject: Sounds\nterms:\n"
        "  crackle: {text: Irregular ticks., see: [pop]}\n  pop: {text: One tick., see: [crackle]}\n"
    )
    ran = run("kb", "show", "crackle", kb=root)
    assert "symptoms: crackle" in ran.out
    assert "Irregular ticks." in ran.out
    shape = WholeEntry.model_validate(run("kb", "show", "crackle", "--json", kb=root).json)
    assert (shape.section, [one.section for one in shape.more]) == ("symptoms", ["terms"])
    assert shape.more[0].used_by == ("pop",)
    listed = run("kb", "list", "terms", "--json", kb=root).json["entries"]
    assert [(one["section"], one["id"]) for one in listed] == [("terms", "crackle"), ("terms", "pop")]


def test_an_unknown_word_is_no_entry(run: Run) -> None:
    ran = run("kb", "show", "xylophone", kb=None)
    assert ran.code == 2
    assert "there is no entry 'xylophone'" in ran.err


def test_the_bench_explains_the_words_on_the_screen_or_one(run: Run) -> None:
    run("intake", "--title", "Combo", "--complaint", "knob-crackle=scratchy volume knob", kb=None)
    ran = run("bench", "1", typed="?\nyes\n?\n? red plates\n? motrboating\n? xylophone\nstop\n", kb=None)
    told = " ".join(ran.out.split())
    assert "Those in the supply store enough to kill" in told  # of the move, unplug
    assert "A power resistor of the speaker's impedance" in told  # of the first look, at the load
    assert "A power tube draws so much" in ran.out
    assert "'motrboating' is not in the glossary. What comes near:" in ran.out
    assert "'xylophone' is not in the glossary." in ran.out
    assert "Stopped." in ran.out


def test_an_entry_says_what_it_rests_on(run: Run) -> None:
    """A figure of its own rests on a text that was read; the rest on what the area names for all."""
    ran = run("kb", "show", "measure-mains-insulation", kb=None)
    assert "UK in-service testing notes" in ran.out
    shape = WholeEntry.model_validate(run("kb", "show", "pot-track-dirty", "--json", kb=None).json)
    assert [(one.source, one.own, one.seen) for one in shape.rests_on] == [("common-practice", False, False)]
