"""From facts to conclusions: the knowledge base's rules, put to the chainer as named yes/no facts.

A comparison on a reading or an amp fact is decided here and becomes a named atom; numbers never go in.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from ..knowledge import model
from ..knowledge.base import KnowledgeBase, holds_true
from .facts import Facts, Said
from .rules import Alternative, Chainer, Rule

MOST_ALTERNATIVES = 64


@dataclass(frozen=True)
class Spoken:
    """A rule that has spoken: what it concluded, and the sentences it rests on."""

    rule: model.Rule
    because: tuple[str, ...]


@dataclass(frozen=True)
class Deduction:
    """What the rules made of the facts.

    findings: concluded ones, as statements beside those of the log. factors: odds of causes, with the rules that
    set them. clashes: a finding a rule concludes though it was answered no.
    """

    findings: tuple[Said, ...] = ()
    factors: Mapping[str, float] = field(default_factory=dict)
    ruled_out: Mapping[str, str] = field(default_factory=dict)  # cause -> rule
    check_first: Mapping[str, str] = field(default_factory=dict)  # check -> rule
    holds: Mapping[str, str] = field(default_factory=dict)  # hold -> rule
    advice: tuple[tuple[str, str], ...] = ()  # sentence, rule
    clashes: tuple[tuple[str, str], ...] = ()  # finding, rule
    spoken: Mapping[str, Spoken] = field(default_factory=dict)  # by rule id


class Deducer:
    """The rules of one knowledge base. Keeps the chainer, which is costly to make, between calls."""

    def __init__(self, base: KnowledgeBase) -> None:
        self._base = base
        self._chainer = Chainer([compiled(rule) for rule in base.rules.values()])
        self._tests = {atom: test for rule in base.rules.values() for atom, test in _tests(rule.when)}

    def deduce(self, facts: Facts) -> Deduction:
        """Every conclusion the rules draw from the facts."""
        latest = facts.latest()
        atoms = {f"{'finding' if said.present else 'denied'}:{finding}" for finding, said in latest.items()}
        atoms |= {atom for atom, test in self._tests.items() if _passes(test, facts)}
        outcome = self._chainer.run(atoms)
        spoken = {
            firing.rule: Spoken(self._base.rules[firing.rule], tuple(map(self._sentence, firing.because)))
            for firing in outcome.firings
        }
        return self._conclusions(latest, spoken, {f.rule: f.because for f in outcome.firings})

    def _conclusions(
        self,
        latest: Mapping[str, Said],
        spoken: Mapping[str, Spoken],
        because: Mapping[str, tuple[str, ...]],
    ) -> Deduction:
        findings: dict[str, Said] = {}
        factors: dict[str, float] = {}
        clashes: list[tuple[str, str]] = []
        scale = self._base.scale.factor
        for id_, said in spoken.items():
            for conclusion in said.rule.then:
                if conclusion.conclude is not None and conclusion.conclude not in latest:
                    basis = [latest[a.partition(":")[2]] for a in because[id_] if a.partition(":")[2] in latest]
                    repaired = frozenset().union(*(b.repaired for b in basis))
                    entry = max((b.entry for b in basis), default=0)
                    concluded = Said(conclusion.conclude, True, entry, said.rule.because, repaired, id_)
                    findings.setdefault(conclusion.conclude, concluded)
                elif conclusion.conclude is not None and not latest[conclusion.conclude].present:
                    clashes.append((conclusion.conclude, id_))
                if conclusion.raises is not None and conclusion.by is not None:
                    factors[conclusion.raises] = factors.get(conclusion.raises, 1.0) * scale[conclusion.by]
                if conclusion.lowers is not None and conclusion.by is not None:
                    factors[conclusion.lowers] = factors.get(conclusion.lowers, 1.0) / scale[conclusion.by]
        return Deduction(
            findings=tuple(findings.values()),
            factors=factors,
            ruled_out=_first(spoken, "rule_out"),
            check_first=_first(spoken, "check_first"),
            holds=_first(spoken, "hold"),
            advice=tuple((c.advice, id_) for id_, said in spoken.items() for c in said.rule.then if c.advice),
            clashes=tuple(clashes),
            spoken=spoken,
        )

    def _sentence(self, atom: str) -> str:
        """An atom as a sentence for a person."""
        kind, _, rest = atom.partition(":")
        if kind == "absent":
            return f"not known yet: {self._base.text(rest.partition(':')[2])}"
        if kind == "finding":
            return self._base.text(rest)
        if kind == "denied":
            return f"not so: {self._base.text(rest)}"
        return rest


def _first(spoken: Mapping[str, Spoken], name: str) -> dict[str, str]:
    """What the rules conclude of one form, each with the first rule that did."""
    found: dict[str, str] = {}
    for id_, said in spoken.items():
        for conclusion in said.rule.then:
            if (concluded := getattr(conclusion, name)) is not None:
                found.setdefault(concluded, id_)
    return found


def compiled(rule: model.Rule) -> Rule:
    """A rule as the chainer takes it. Raises ValueError when its condition has too many alternatives."""
    alternatives = list(itertools.islice(_alternatives(rule.when, True), MOST_ALTERNATIVES + 1))
    if len(alternatives) > MOST_ALTERNATIVES:
        raise ValueError(f"the rule '{rule.id}' has more than {MOST_ALTERNATIVES} alternatives; split it")
    gives = tuple(f"finding:{c.conclude}" for c in rule.then if c.conclude)
    return Rule(rule.id, tuple(dict.fromkeys(alternatives)), (*gives, f"spoke:{rule.id}"))


def _alternatives(condition: model.Condition, wanted: bool) -> Iterator[Alternative]:
    """The ways a condition can be met (or, with wanted false, can be known not to be)."""
    if condition.negated is not None:
        yield from _alternatives(condition.negated, not wanted)
    elif condition.all is not None or condition.any is not None:
        parts = condition.all or condition.any or ()
        if (condition.all is not None) == wanted:
            for chosen in itertools.product(*(list(_alternatives(part, wanted)) for part in parts)):
                present = frozenset().union(*(one.present for one in chosen))
                absent = frozenset().union(*(one.absent for one in chosen))
                yield Alternative(present, absent)
        else:
            for part in parts:
                yield from _alternatives(part, wanted)
    elif condition.unknown is not None:
        known = frozenset({f"finding:{condition.unknown}", f"denied:{condition.unknown}"})
        if wanted:
            yield Alternative(frozenset(), known)
        else:
            yield from (Alternative(frozenset({atom})) for atom in sorted(known))
    elif condition.finding is not None or condition.denied is not None:
        positive = (condition.finding is not None) == wanted
        yield Alternative(frozenset({f"{'finding' if positive else 'denied'}:{condition.finding or condition.denied}"}))
    else:
        yield Alternative(frozenset({_atom(condition, wanted)}))


_Test = tuple[model.Condition, bool]


def _tests(condition: model.Condition, wanted: bool = True) -> Iterator[tuple[str, _Test]]:
    """Every comparison in a condition: the atom that stands for it, and what must be tested."""
    if condition.negated is not None:
        yield from _tests(condition.negated, not wanted)
    elif condition.amp is not None or condition.value is not None:
        yield _atom(condition, wanted), (condition, wanted)
    for part in (*(condition.all or ()), *(condition.any or ())):
        yield from _tests(part, wanted)


def _passes(test: _Test, facts: Facts) -> bool:
    """A comparison that can't be made yet passes neither way."""
    condition, wanted = test
    if condition.amp is not None:
        return holds_true(condition.amp, facts.amp) is wanted
    value = facts.values.get(condition.value or "")
    if value is None or value.value is None:
        return False
    above = condition.above is None or value.value > condition.above
    below = condition.below is None or value.value < condition.below
    return (above and below) is wanted


def _atom(condition: model.Condition, wanted: bool) -> str:
    if condition.amp is not None:
        text = ", ".join(f"{fact} {_values(value)}" for fact, value in condition.amp.items())
        return f"amp:{text if wanted else 'not ' + text}"
    bounds = [f"above {condition.above:g}"] if condition.above is not None else []
    bounds += [f"below {condition.below:g}"] if condition.below is not None else []
    return f"value:{condition.value} {'' if wanted else 'not '}{' and '.join(bounds)}"


def _values(value: object) -> str:
    parts: Iterable[object] = value if isinstance(value, tuple) else (value,)
    return " or ".join(map(str, parts))
