"""The words of the trade: found in a text in whatever form they stand, looked up, added to by a shop, linted."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from chopstick.engine.knowledge import cache, load
from chopstick.engine.knowledge.glossary import look_up, near, prose, terms_in
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.knowledge.overlay import origins
from chopstick.engine.reference.errors import KnowledgeError, Problem

from ..shipped import shipped_knowledge
from .conftest import at

WORDS = """\
subject: Pots
terms:
  pot:
    also: [potentiometer]
    text: A variable resistor behind a knob.
    see: [dirty-track]
  dirty-track:
    text: Dirt on the carbon that crackles.
    see: [pot]
    cautions: [unplugged]
  coupling-capacitor:
    also: [coupling cap]
    text: It passes the signal and holds the DC back.
    see: [capacitor]
  capacitor:
    text: A part that stores charge.
    see: [coupling-capacitor]
  noise-floor:
    text: What is left when nobody plays.
    see: [pot]
    background: true
"""

# What is changed, into what; the lint, (line, column), words that must be said
CASES = [
    ("see: [dirty-track]", "see: [dirty-trak]", "unknown-term", (6, 11), "Did you mean 'dirty-track'?"),
    ("see: [dirty-track]", "see: [pot]", "unknown-term", (6, 11), "to itself"),
    ("cautions: [unplugged]", "cautions: [unpluged]", "unknown-term", (10, 16), "Did you mean 'unplugged'?"),
    ("also: [potentiometer]", "also: [dirty tracks]", "term-twice", (7, 3), "words.yaml:3:3"),
    ("also: [potentiometer]", "also: [pots]", "term-twice", (4, 12), "explained already"),
    ("    background: true\n", "", "unused-term", (18, 3), "no area uses this word"),
    ("see: [capacitor]", "see: [capacitor]\n    background: true", "unused-term", (15, 5), "an area uses it"),
    ("    see: [pot]\n    background", "    background", "lonely-term", (18, 3), "leads to no other"),
    ("    text: A variable", "    txt: A variable", "unknown-key", (5, 5), "Did you mean 'text'?"),
]  # fmt: skip


@pytest.fixture
def words(root: Path) -> Path:
    """The small base, with a small glossary."""
    (root / "glossary").mkdir()
    (root / "glossary" / "words.yaml").write_text(WORDS)
    return root


@pytest.fixture
def layer(tmp_path: Path) -> Callable[[str], Layer]:
    def lay(text: str) -> Layer:
        folder = tmp_path / "shop" / "areas"
        folder.mkdir(parents=True)
        (folder / "ours.yaml").write_text(text)
        return Layer("shop", "shop", tmp_path / "shop")

    return lay


@pytest.mark.parametrize(("old", "new", "lint", "place", "said"), CASES)
def test_each_problem_is_named_at_its_place(
    words: Path, old: str, new: str, lint: str, place: tuple[int, int], said: str
) -> None:
    assert WORDS.count(old) == 1
    (words / "glossary" / "words.yaml").write_text(WORDS.replace(old, new))
    ours = [problem for problem in load.check(words) if problem.lint == lint]
    assert ours
    assert at(ours[0]) == ("words.yaml", *place)
    assert said in str(ours[0])


def test_the_sound_glossary_has_no_problem(words: Path) -> None:
    assert load.check(words) == ()


def test_words_are_found_in_any_form_and_the_longer_of_two(words: Path) -> None:
    base = load.load(words)
    text = "Dirty tracks on both pots; lift one leg of the COUPLING-CAPACITOR, then the other capacitors."
    assert [term.id for term in terms_in(base, text)] == ["dirty-track", "pot", "coupling-capacitor", "capacitor"]
    assert terms_in(base, "The potential is on the spot.") == []
    assert terms_in(base, "A track that is dirty; Dirty. Track it.") == []


def test_a_word_is_looked_up_by_any_name_then_by_part_then_by_likeness(words: Path) -> None:
    base = load.load(words)
    assert [term.id for term in look_up(base, "Potentiometers")] == ["pot"]
    assert [term.id for term in look_up(base, "capacitor")] == ["capacitor"]
    assert [term.id for term in look_up(base, "coupling")] == ["coupling-capacitor"]
    assert look_up(base, "potentiometr") == look_up(base, " ?! ") == []
    assert [term.id for term in near(base, "potentiometr")] == ["pot"]
    assert near(base, "xylophone") == []


def test_the_prose_of_a_check_is_what_is_read_not_its_ids(words: Path) -> None:
    base = load.load(words)
    said = prose(base.checks["measure-it"])
    assert "DC volts" in said
    assert "dc-on-pot" not in said
    assert [term.id for term in terms_in(base, said)] == ["pot"]


def test_the_glossary_is_read_only_when_a_word_is_asked_for(words: Path, tmp_path: Path) -> None:
    """A broken glossary stops no job: it is told where it is used, and by `kb check`."""
    (words / "glossary" / "words.yaml").write_text("subject: Pots\nterms: {pot: {txt: x}}\n")
    for base in (load.load(words), cache.load(words, folder=tmp_path / "cache")):
        assert base.checks
        with pytest.raises(KnowledgeError, match="unknown key 'txt'"):
            _ = base.terms
    assert any(problem.lint == "unknown-key" for problem in load.check(words))


def test_a_shop_adds_amends_and_retires_terms(words: Path, layer: Callable[[str], Layer]) -> None:
    shop = layer(
        "area: shop-words\n"
        "terms: {wiper: {text: The sliding contact of a pot., see: [pot], background: true}}\n"
        "amend: {terms: {pot: {text: Our word for it.}}}\n"
        "retire: {terms: [noise-floor]}\n"
    )
    base = load.load(words, [shop])
    assert base.terms["pot"].text == "Our word for it."
    assert base.terms["pot"].also == ("potentiometer",)
    assert "wiper" in base.terms
    assert "noise-floor" not in base.terms
    assert load.check(words, [shop]) == ()
    places = {one.field: one.layer for one in origins(load.merged_terms(words, [shop], []), "terms", "pot", [shop])}
    assert places == {"also": "", "text": "shop", "see": ""}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("area: a\nterms: {pot: {text: x}}\n", "'pot' exists already"),
        ("area: a\namend: {terms: {pott: {text: x}}}\n", "Did you mean 'pot'?"),
        ("area: a\nretire: {terms: [pott]}\n", "there is no 'pott' among the terms"),
    ],
)
def test_a_shop_s_slip_is_told(words: Path, layer: Callable[[str], Layer], text: str, said: str) -> None:
    shop = layer(text)
    problems: list[Problem] = [one for one in load.check(words, [shop]) if one.severity == "error"]
    assert len(problems) == 1
    assert said in str(problems[0])
    with pytest.raises(KnowledgeError, match="pot"):
        load.terms(words, [shop])


@pytest.mark.parametrize(
    "text",
    ["area: a\namend: {terms: {dirty-track: {cautions: []}}}\n", "area: a\nretire: {terms: [dirty-track]}\n"],
)
def test_a_layer_may_not_hide_a_term_s_caution(words: Path, layer: Callable[[str], Layer], text: str) -> None:
    shop = layer(text)
    (told,) = [one for one in load.check(words, [shop]) if one.lint == "safety-lowered"]
    assert "would hide a caution of the term 'dirty-track'" in str(told)
    assert Path(told.where.file).name == "ours.yaml"
    with pytest.raises(KnowledgeError, match="hide a caution"):
        load.terms(words, [shop])


def test_a_layer_may_add_a_caution_to_a_term(words: Path, layer: Callable[[str], Layer]) -> None:
    shop = layer("area: a\namend: {terms: {dirty-track: {cautions: [unplugged, discharge]}}}\n")
    assert load.terms(words, [shop])["dirty-track"].cautions == ("unplugged", "discharge")


def test_the_shipped_glossary_explains_what_a_bench_says() -> None:
    """Common practice, no source: what every one of these means is taught on the first day."""
    base = shipped_knowledge()
    for said in ("plate load", "grid leak", "split-load inverter", "bled down", "dead spot", "flubby", "red plate",
                 "farting attack", "motorboats", "ghost notes", "cold"):  # fmt: skip
        assert len(look_up(base, said)) == 1, said
    for term in base.terms.values():
        assert len(re.findall(r"[.!?](?:\s|$)", term.text)) <= 3, f"{term.id} says more than a junior wants to read"
        assert len(term.text) < 400, term.id
    assert len(base.terms) >= 250
    assert "discharge" in base.terms["filter-capacitor"].cautions
    assert "load" in base.terms["output-transformer"].cautions
