"""Each thing that can be wrong in a knowledge file: the words, and the exact line and column."""

from collections.abc import Callable
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.lint import lints
from chopstick.engine.reference.errors import KnowledgeError, Problem

from .conftest import AREA, at, write_area
from .test_areas import LINTS
from .test_glossary import CASES as WORDS
from .test_overlay import REFUSED
from .test_parts import CASES as PARTS
from .test_rule_lints import CASES as RULES
from .test_set_up_lints import CASES as SET_UPS

Broken = Callable[[str, str], list[Problem]]

CASES = [
    # what is changed, into what, lint, (line, column), words that must be said
    ("    ask: Does it crackle?\nfindings", "    aks: Does it crackle?\nfindings", "unknown-key", (8, 5), "Did you mean 'ask'?"),
    ("    minutes: 5\n", "", "missing-key", (52, 5), "'minutes' is missing"),
    ("stage: live", "stage: lice", "format", (26, 12), "'look', 'cold', 'first power', 'live' or 'play'"),
    ("unit: mV", "unit: furlong", "format", (32, 39), "it says 'furlong'"),
    ("plausible: [-500, 20000]", "plausible: [20000, -500]", "format", (32, 12), "upside down"),
    ("{above: 50, ", "{above: 50, below: 20, ", "format", (34, 9), "upside down: above 50 and below 20"),
    ("minutes: 15", "minutes: -15", "format", (61, 14), "greater than 0"),
    ("shows: {crackle: almost always}", "shows: {crackel: almost always}", "unknown-reference", (41, 22), "Did you mean 'crackle'?"),
    ("shows: {crackle: almost always}", "shows: {crackle: allways}", "unknown-reference", (41, 22), "Did you mean 'almost always'?"),
    ("commonness: everyday", "commonness: evryday", "unknown-reference", (40, 17), "Did you mean 'everyday'?"),
    ("repairs: [clean-it]", "repairs: [clean-up]", "unknown-reference", (42, 15), "Did you mean 'clean-it'?"),
    ("by: clearly", "by: cleary", "unknown-reference", (68, 41), "Did you mean 'clearly'?"),
    ("cautions: [loud]", "cautions: [lowd]", "unknown-reference", (19, 16), "Did you mean 'load'?"),
    ("about: One pot, its crackle and its cure.", "about: {}", "format", (3, 8), "valid string"),
    ("about: One", "titel: X\nabout: One", "unknown-key", (3, 1), "Known here: symptoms, findings"),
    ("    name: Dirty track", "    name: Dirty track\n    source: rca-rc3", "unknown-reference", (38, 13), "Did you mean 'rca-rc30'?"),
    ("    name: Dirty track", "    name: Dirty track\n    source: [rca-rc30, rca-rc3]", "unknown-reference", (38, 24), "'rca-rc3'"),
    ("repairs: [clean-it]", "repairs: [clean-it]\n    needs: {reverb: maybe}", "unknown-amp-value", (43, 21), "present, absent"),
    ("    shows: {crackle: almost always}", "    shows: {dc-on-pot: usually}", "unreachable-cause", (41, 5), "no symptom leads to this"),
    ("cautions: [live]", "cautions: []", "caution-missing", (30, 15), "needs the caution live"),
    ('"no": {}', '"no": {findings: [crackle]}', "check-tells-nothing", (21, 5), "all answers mean the same"),
    ("findings:\n  dc-on-pot:", "findings:\n  lonely:\n    text: Nothing settles this\n  dc-on-pot:", "finding-never-settled", (10, 3), "no check or rule"),
    ("proof: {check: turn-it, gone: crackle}", "proof: {check: turn-it, gone: dc-on-pot}", "proof-proves-nothing", (57, 12), "does not settle 'dc-on-pot'"),
    ("repairs: [clean-it]", "repairs: [change-it]", "unused-entry", (51, 3), "no cause asks for this repair"),
    ('"no": {}', '"no": {}\n      "No ": {}', "duplicate-answer", (21, 5), "the same key"),
    ("because: a dirty track", "because: a dirty track\n  b-then-a:\n    when: {finding: dc-on-pot}\n    then: [{conclude: dc-on-pot}]\n    because: round and round", "rule-cycle", (70, 3), "in a ring"),
    ("when: {finding: dc-on-pot}", "when: {value: measure-it/pott, above: 3}", "unknown-value", (67, 11), "It has: pot."),
    ("when: {finding: dc-on-pot}", "when: {finding: dc-on-pot, denied: crackle}", "format", (67, 11), "one form per condition"),
    (
        "    bands:",
        "    figures:\n      share: {compute: leakage.grid_leak_shar_percent, given: {grid_mV: pot}}\n    bands:",
        "unknown-calculation", (34, 24), "leakage.grid_leak_share_percent",
    ),
    (
        "    bands:",
        "    figures:\n      share: {compute: leakage.grid_leak_share_percent, given: {grid_V: pot}}\n    bands:",
        "calculation-mismatch", (34, 64), "also needs: grid_mV",
    ),
    (
        "    bands:",
        "    figures:\n      ohms: {compute: leakage.leakage_ohm, given: {grid_V: pot, source_V: 200, grid_leak_ohm: 1000000}}\n    bands:",
        "wrong-unit", (34, 60), "is in mV; grid_V wants V",
    ),
    (
        "    bands:",
        "    figures:\n      share: {compute: leakage.grid_leak_share_percent, given: {grid_mV: pott}}\n    bands:",
        "unknown-quantity", (34, 74), "Did you mean 'pot'?",
    ),
    ("dc-on-pot: almost always}", "dc-on-pot: rarely}", "not-told-apart", (41, 5), "tells it apart from 'capacitor-leaky'"),
    (
        "rules:",
        "inseparable:\n  dirt-or-dc:\n    causes: [track-dirty, capacitor-leaky]\n    because: so it is said\nrules:",
        "separable-after-all", (67, 13), "'measure-it' tells 'capacitor-leaky' and 'track-dirty' apart",
    ),
    (
        "rules:",
        "inseparable:\n  dirt-or-dc:\n    causes: [track-dirty, capacitor-leeky]\n    because: so it is said\nrules:",
        "unknown-reference", (67, 27), "Did you mean 'capacitor-leaky'?",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "lint", "place", "words"), CASES, ids=[f"{c[2]}-{n}" for n, c in enumerate(CASES)])
def test_each_problem_is_named_at_its_place(
    broken: Broken, old: str, new: str, lint: str, place: tuple[int, int], words: str
) -> None:
    problems = broken(old, new)
    ours = [problem for problem in problems if problem.lint == lint]
    assert ours, f"only found: {problems}"
    assert at(ours[0]) == ("pot.yaml", *place)
    assert words in str(ours[0])


def test_the_sound_base_has_no_problem(root: Path) -> None:
    assert load.check(root) == ()


def test_all_problems_are_told_in_one_pass(root: Path) -> None:
    """A malformed entry does not hide a dangling name elsewhere, nor one in another file."""
    text = AREA.replace("stage: live", "stage: lice").replace("repairs: [clean-it]", "repairs: [clean-up]")
    (root / "areas" / "knobs" / "pot.yaml").write_text(text)
    write_area(root, "other", other="about: Nothing much.\nsymptom: {}\n")
    said = {(problem.lint, Path(problem.where.file).name) for problem in load.check(root)}
    assert {("format", "pot.yaml"), ("unknown-reference", "pot.yaml"), ("unknown-key", "other.yaml")} <= said


def test_an_id_used_twice_is_refused(root: Path) -> None:
    write_area(root, "more", more=AREA)
    problems = [problem for problem in load.check(root) if problem.lint == "duplicate-id"]
    assert at(problems[0])[0] == "more.yaml"
    assert "pot.yaml:5:3" in str(problems[0])


def test_a_missing_source_is_named(root: Path) -> None:
    tubes = root / "reference" / "tubes.yaml"
    tubes.write_text(tubes.read_text().replace("source: rca", "source: xrca", 1))
    assert any(problem.lint == "missing-source" for problem in load.check(root))


def test_a_lint_can_be_kept_quiet_beside_the_entry(broken: Broken) -> None:
    assert broken("proof: {check: turn-it, gone: crackle}", "proof: {check: turn-it, gone: dc-on-pot}\n    quiet: [proof-proves-nothing]") == []


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("a: 1\nb: 2\na: 3\n", (3, 1), "is there twice (first on line 1)"),
        ("a: &x 1\n", (1, 4), "anchors"),
        ("a: *x\n", (1, 4), "aliases"),
        ("a: !!python/object/apply:os.system [echo]\n", (1, 4), "tags"),
        ("a: 1\n---\nb: 2\n", (2, 1), "second document"),
        ("[" * 40 + "]" * 40, (1, 25), "nested deeper than 24"),
        ("a: [1,\n", (2, 1), "not well-formed"),
        ("a: \x07\n", (1, 1), "not well-formed"),
    ],
)
def test_hostile_or_malformed_text_is_refused(root: Path, text: str, place: tuple[int, int], words: str) -> None:
    (root / "areas" / "knobs" / "hostile.yaml").write_text(text)
    problem = next(one for one in load.check(root) if at(one)[0] == "hostile.yaml")
    assert words in str(problem)
    assert at(problem)[1:] == place


def test_a_giant_file_is_refused_unread(root: Path) -> None:
    (root / "areas" / "knobs" / "giant.yaml").write_text("# " + "x" * 4_000_001)
    assert any("larger than 4,000,000" in str(problem) for problem in load.check(root))


def test_an_alias_bomb_costs_nothing(root: Path) -> None:
    levels = ["a0: &a0 [x, x]"] + [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 12)]
    (root / "areas" / "knobs" / "bomb.yaml").write_text("\n".join(levels))
    with pytest.raises(KnowledgeError, match="anchors"):
        load.load(root)


def test_every_lint_has_a_manual_and_a_failing_example() -> None:
    shown = {case[2] for case in CASES} | {case[1] for case in (*RULES, *REFUSED)} | {case[2] for case in (*WORDS, *PARTS, *SET_UPS)} | {"duplicate-id", "symptom-without-cause", "family-in-a-circle", "unknown-electrode", *LINTS}
    for lint in lints():
        assert len(lint.manual) > 60, lint.id
        assert lint.id in shown, f"{lint.id} has no failing example here, in test_areas.py, test_rule_lints.py, test_overlay.py, test_parts.py, test_set_up_lints.py or test_glossary.py"


def test_a_family_in_a_circle(broken: Broken) -> None:
    extra = (
        "symptoms:\n"
        "  round: {name: Round, says: [a, b], ask: Round?, kinds: {ask: Which?, answers: "
        "{one: {text: One, symptom: round}, two: {text: Two, symptom: knob-crackle}}}}"
    )
    problems = [problem for problem in broken("symptoms:", extra) if problem.lint == "family-in-a-circle"]
    assert [problem.message for problem in problems] == ["'round' leads back to 'round'"]


def test_a_symptom_without_a_cause(broken: Broken) -> None:
    extra = "symptoms:\n  lonely: {name: Lonely, says: [a, b], ask: Lonely?}"
    problems = [problem for problem in broken("symptoms:", extra) if problem.lint == "symptom-without-cause"]
    assert at(problems[0]) == ("pot.yaml", 5, 3)
