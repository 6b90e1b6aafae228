"""What can be wrong with rules: said in words, at the line and column where it stands."""

from collections.abc import Callable
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.reference.errors import Problem

from .conftest import AREA, at

RULE = """\
  ours:
    when: {finding: dc-on-pot}
    then: [{advice: Look at the coupling capacitor.}]
    because: DC has no business there
"""
WHEN, THEN = "{finding: dc-on-pot}", "[{advice: Look at the coupling capacitor.}]"
TWIN = RULE + RULE.replace("ours", "zwei")
MANY = ", ".join(["{finding: dc-on-pot}"] * 12)
EXAMPLES = "{speaks: [{findings: [dc-on-pot]}], silent: [{denied: [dc-on-pot]}]}"

# Rules that are added to the sound area from line 70 on: text, lint, (line, column), words that must be said
CASES = [
    (RULE.replace(WHEN, f"{{at_least: 6, of: [{MANY}]}}"), "rule-too-wide", (71, 11), "more than 64 ways"),
    (RULE.replace(WHEN, "{answer: turn-it, is: yess}"), "unknown-answer", (71, 11), "Did you mean 'yes'?"),
    (
        RULE.replace(WHEN, "{all: [{finding: dc-on-pot}, {denied: dc-on-pot}]}"),
        "rule-never-speaks", (71, 11), "can't be true and answered no at once",
    ),
    (
        RULE.replace(WHEN, "{all: [{value: measure-it/pot, above: 50}, {value: measure-it/pot, below: 40}]}"),
        "rule-never-speaks", (71, 11), "'measure-it/pot' can't be in two ranges",
    ),
    (
        RULE.replace(WHEN, "{all: [{amp: {reverb: present}}, {amp: {reverb: absent}}]}"),
        "rule-never-speaks", (71, 11), "'reverb' can't have two values",
    ),
    (RULE + f"    examples: {EXAMPLES.replace('denied', 'findings')}\n", "rule-example", (74, 60), "must be silent in"),
    (RULE + f"    examples: {EXAMPLES.replace('[dc-on-pot]', '[dc-pot]', 1)}\n", "rule-example", (74, 25), "'dc-pot'"),
    (
        RULE.replace(THEN, "[{forbid: change-it}, {forbid: clean-it}]"),
        "no-repair-left", (72, 12), "no repair of 'capacitor-leaky' is left",
    ),
    (TWIN, "rule-shadowed", (74, 3), "'ours'"),
    (
        TWIN.replace(WHEN, "{value: measure-it/pot, above: 500}", 1)
        .replace(WHEN, "{value: measure-it/pot, above: 50}"),
        "rule-shadowed", (70, 3), "'zwei'",
    ),
    (RULE.replace(THEN, "[{rule_out: capacitor-leaky}]"), "rule-contradiction", (68, 12), "while the rule 'ours'"),
    (
        RULE.replace(WHEN, "{denied: dc-on-pot}").replace(THEN, "[{conclude: dc-on-pot}]"),
        "rule-contradiction", (72, 12), "answered no",
    ),
    (RULE.replace(WHEN, "{spoken: ours}"), "rule-cycle", (70, 3), "ours <- ours"),
    (RULE.replace(WHEN, "{spoken: hours}"), "unknown-reference", (71, 20), "no rule 'hours'. Did you mean 'ours'?"),
    (RULE.replace(WHEN, "{since: check/turn-in, above: 5}"), "unknown-reference", (71, 19), "Did you mean 'turn-it'?"),
    (
        RULE.replace(WHEN, "{value: measure-it/pot, above: {value: measure-it/pod, times: 2}}"),
        "unknown-value", (71, 11), "has no value 'pod'",
    ),
    (RULE.replace(WHEN, "{at_most: 1, of: [{finding: dc-on-pot}]}"), "format", (71, 11), "counts past"),
    (RULE.replace(THEN, "[{check_minutes: turn-it}]"), "format", (72, 12), "one of 'times' and 'add'"),
    (RULE.replace(THEN, "[{skip: turn-it, prefer: clean-it}]"), "format", (72, 12), "one form per conclusion"),
    (RULE.replace("    because: DC has no business there\n", ""), "missing-key", (71, 5), "'because' is missing"),
]  # fmt: skip


@pytest.mark.parametrize(("added", "lint", "place", "words"), CASES, ids=[f"{c[1]}-{n}" for n, c in enumerate(CASES)])
def test_each_problem_of_a_rule_is_named_at_its_place(
    root: Path, added: str, lint: str, place: tuple[int, int], words: str
) -> None:
    (root / "areas" / "knobs" / "pot.yaml").write_text(AREA + added)
    problems = [problem for problem in load.check(root) if problem.lint == lint]
    assert problems, f"only found: {load.check(root)}"
    assert at(problems[0]) == ("pot.yaml", *place)
    assert words in str(problems[0])


@pytest.mark.parametrize(
    "rule",
    [
        RULE,
        RULE + f"    examples: {EXAMPLES}\n",
        RULE.replace(WHEN, "{value: measure-it/pot, above: 500}"),
        RULE.replace(WHEN, "{answer: turn-it, is: 'yes'}"),
        RULE.replace(WHEN, "{complaint: crackle}"),
        RULE.replace(WHEN, "{since: check/turn-it, above: 30}"),
        RULE.replace(THEN, "[{check_minutes: turn-it, times: 2}, {repair_minutes: clean-it, add: 5}]"),
    ],
)
def test_a_sound_rule_has_no_problem(root: Path, rule: str) -> None:
    (root / "areas" / "knobs" / "pot.yaml").write_text(AREA + rule)
    assert load.check(root) == ()


def test_a_contradiction_is_told_only_of_rules_that_speak_together(broken: Callable[[str, str], list[Problem]]) -> None:
    """The same two conclusions are no contradiction when the second rule can speak without the first."""
    other = "\n  ours:\n    when: {finding: crackle}\n    then: [{rule_out: capacitor-leaky}]\n    because: it says so"
    assert broken("on itself", f"on itself{other}") == []
