"""The chainer concludes what CLIPS concludes, on random rules with absence, whatever the order of the facts.

CLIPS (through clipspy) is a forward chainer of its own, by other hands and in other code. Its `not` looks at the
facts of the moment, so each rule gets the salience of its layer: lower layers are done before a higher one looks
for an absence. The layers come from how the rules are made here, not from the chainer's own strata.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

import clips
import pytest
from chopstick.engine.reasoning.rules import Alternative, ChainedRule, Chainer

from ..amount import amount

pytestmark = pytest.mark.long
LAYERS = 4
SMALL = list(enumerate([*range(5, 25)] * amount(1, 20)))
LARGE = list(enumerate([60, 61, 62, 80, 100, 120, 150, 180, 200, 300, 400, 1200], start=len(SMALL)))


@dataclass(frozen=True)
class Trial:
    """Rules whose absences lie in lower layers only, the layer of each rule, and the facts told."""

    rules: tuple[ChainedRule, ...]
    layers: tuple[int, ...]
    facts: tuple[str, ...]


def trial(number: int, size: int) -> Trial:
    random = Random(f"{number} {size}")
    layer_of = {f"a{i}": random.randrange(LAYERS) for i in range(max(6, size * 2 // 3))}
    atoms = list(layer_of)
    rules, layers = [], []
    for i in range(size):
        gives = random.sample(atoms, random.randint(1, 2))
        layer = min(layer_of[atom] for atom in gives)
        below = [atom for atom in atoms if layer_of[atom] < layer]
        here = [atom for atom in atoms if layer_of[atom] <= layer]
        when = []
        for _ in range(random.choice((1, 1, 1, 2, 3))):
            present = frozenset(random.sample(here, min(len(here), random.randint(1, 3))))
            absent = frozenset(random.sample(below, min(len(below), random.choice((0, 1, 1, 2)))))
            when.append(Alternative(present, absent - present))
        rules.append(ChainedRule(f"r{i}", tuple(when), tuple(gives)))
        layers.append(layer)
    facts = random.sample(atoms, len(atoms) // 4 + 1)
    return Trial(tuple(rules), tuple(layers), tuple(facts))


def clips_outcome(trial: Trial) -> tuple[set[str], set[str]]:
    """The atoms that hold and the names of the rules that fired, according to CLIPS."""
    environment = clips.Environment()
    for rule, layer in zip(trial.rules, trial.layers, strict=True):
        asserts = " ".join(f"(atom {atom})" for atom in rule.gives)
        for way, when in enumerate(rule.when):
            present = " ".join(f"(atom {atom})" for atom in sorted(when.present))
            absent = " ".join(f"(not (atom {atom}))" for atom in sorted(when.absent))
            environment.build(
                f"(defrule {rule.name}-{way} (declare (salience {-layer})) {present} {absent}"
                f" => (assert {asserts} (fired {rule.name})))"
            )
    environment.reset()
    for fact in trial.facts:
        environment.assert_string(f"(atom {fact})")
    environment.run()
    found: dict[str, set[str]] = {"atom": set(), "fired": set()}
    for fact in environment.facts():
        if fact.template.name in found:
            found[fact.template.name].add(str(fact[0]))
    return found["atom"], found["fired"]


@pytest.mark.parametrize(("number", "size"), [*SMALL, *LARGE])
def test_conclusions_equal_those_of_clips(number: int, size: int) -> None:
    """Facts are told in two portions, as a job goes on."""
    work = trial(number, size)
    atoms, fired = clips_outcome(work)
    chainer = Chainer(work.rules)
    chainer.run(work.facts[::2])
    outcome = chainer.run(work.facts)
    assert outcome.facts == atoms
    assert {firing.rule for firing in outcome.firings} == fired


@pytest.mark.parametrize(("number", "size"), SMALL)
def test_facts_told_one_by_one_in_any_order_lead_to_the_same(number: int, size: int) -> None:
    work = trial(number, size)
    one_by_one = Chainer(work.rules)
    shuffled = Random(number).sample(work.facts, len(work.facts))
    for known in range(len(shuffled) + 1):
        outcome = one_by_one.run(shuffled[:known])
    assert outcome == Chainer(work.rules).run(work.facts)


@pytest.mark.parametrize(("number", "size"), [*SMALL, *LARGE[:6]])
def test_facts_taken_back_and_told_again_leave_nothing_behind(number: int, size: int) -> None:
    """As with undo after undo: each time the chainer concludes what CLIPS concludes from the same facts."""
    work = trial(number, size)
    atoms = sorted({atom for rule in work.rules for when in rule.when for atom in when.present})
    random, chainer = Random(number), Chainer(work.rules)
    for _ in range(12):
        now = Trial(work.rules, work.layers, tuple(random.sample(atoms, random.randint(0, len(atoms) // 2))))
        outcome = chainer.run(now.facts)
        assert (outcome.facts, {firing.rule for firing in outcome.firings}) == clips_outcome(now)


def test_the_trials_put_the_chainer_to_work() -> None:
    """Most of the small trials conclude something, and at least half do so through an absence."""
    concluding = through_absence = 0
    for number, size in SMALL:
        work = trial(number, size)
        atoms, _ = clips_outcome(work)
        concluding += len(atoms) > len(work.facts)
        through_absence += any(
            when.absent and when.present <= atoms and not when.absent & atoms
            for rule in work.rules
            for when in rule.when
        )
    assert concluding >= len(SMALL) * 2 / 3
    assert through_absence >= len(SMALL) / 2
