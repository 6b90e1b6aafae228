"""The same rules in the chainer, in CLIPS (clipspy) and in experta: made once, then told fact after fact, with all
conclusions asked for after each. They must conclude the same.

CLIPS is compiled C and keeps nothing but what it concludes; the chainer is also held to say why, and checks every
firing. What a technician waits for is the time a fact, and that is what is bounded.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from itertools import chain
from pathlib import Path

import clips
import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.reasoning.deduce import compiled
from chopstick.engine.reasoning.rules import ChainedRule, Chainer

from . import large
from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed
HERE = Path(__file__).parent


@pytest.fixture(scope="module", params=["296 rules", "2,000 rules"])
def rules(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[ChainedRule]:
    """The rules of a made-up base as large as the shipped one, and of one as large as a trade's."""
    root = tmp_path_factory.mktemp("rules") / "kb"
    large.write(root, large.SHIPPED if request.param == "296 rules" else large.LARGE)
    made = [compiled(rule) for rule in load.load(root).rules.values()]
    # CLIPS' own `not` looks at the facts of the moment; the comparison is fair only without any.
    assert not [way for way in chain.from_iterable(rule.when for rule in made) if way.absent]
    return made


def test_rules_against_clips_and_experta(rules: list[ChainedRule], tmp_path: Path, row: Row) -> None:
    told = sorted({atom for rule in rules[:: len(rules) // 25] for atom in rule.when[0].present})
    begun = time.process_time()
    chainer = Chainer(rules)
    chainer.run(told[:1])  # the rules are compiled when the first fact is told
    made = time.process_time() - begun
    begun = time.process_time()
    for count in range(2, len(told) + 1):
        outcome = chainer.run(told[:count])
    ours = time.process_time() - begun
    assert len(outcome.firings) > 20, "the facts must set rules off"

    ways = [(sorted(way.present), list(rule.gives)) for rule in rules for way in rule.when]
    clips_made, clips_told, found = in_clips(ways, told)
    assert found == outcome.facts
    experta_made, experta_told, found = in_experta(ways, told, tmp_path)
    assert found == outcome.facts
    size = f"{len(rules):,} rules"
    row(
        f"{size}, a fact told and all conclusions read: against CLIPS and experta",
        f"{ours / len(told) * 1e3:.1f} ms: {ours / clips_told:.0f} times as long as CLIPS, "
        f"{ours / experta_told:.2f} times as long as experta",
        "10 ms a fact",
    )
    row(
        f"{size} made ready: against CLIPS and experta",
        f"{made:.2f} s: {made / clips_made:.1f} times as long as CLIPS, {made / experta_made:.2f} times as long as experta",
        "",
    )
    assert ours / len(told) < within(0.010)


def in_clips(ways: list[tuple[list[str], list[str]]], told: list[str]) -> tuple[float, float, set[str]]:
    """Seconds to make the rules, seconds to tell all facts, and what is known at the end."""

    atoms = {name(atom): atom for present, gives in ways for atom in (*present, *gives)}
    begun = time.process_time()
    environment = clips.Environment()
    for number, (present, gives) in enumerate(ways):
        when, then = (" ".join(f"(atom {name(atom)})" for atom in atoms) for atoms in (present, gives))
        environment.build(f"(defrule way-{number} {when} => (assert {then}))")
    environment.reset()
    made = time.process_time()
    for fact in told:
        environment.assert_string(f"(atom {name(fact)})")
        environment.run()
        found = {str(one[0]) for one in environment.facts() if one.template.name == "atom"}
    return made - begun, time.process_time() - made, {atoms[one] for one in found}


def name(atom: str) -> str:
    return atom.replace(":", "-")  # CLIPS reads a colon as something else


def in_experta(ways: list[tuple[list[str], list[str]]], told: list[str], folder: Path) -> tuple[float, float, set[str]]:
    """The same in experta."""
    (folder / "work.json").write_text(json.dumps({"ways": ways, "facts": told}))
    command = [sys.executable, str(HERE / "experta_rules.py"), str(folder / "work.json")]
    ran = subprocess.run(command, capture_output=True, text=True, check=True)
    answer = json.loads(ran.stdout)
    return answer["made"], answer["told"], set(answer["found"])
