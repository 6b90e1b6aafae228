"""From facts to conclusions: the knowledge base's rules, put to the chainer as named yes/no facts.

A comparison on a reading or an amp fact is decided here and becomes a named atom; numbers never go in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from ..knowledge.conditions import Situation, comparisons, passes, ways
from .facts import Facts, Said
from .log import CANT_TELL, NOT_THIS_AMP
from .rule_sentences import sentence
from .rules import Alternative, ChainedRule, Chainer

LEAST_MINUTES = 0.1  # no rule makes a check or repair take no time at all


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
    skip: Mapping[str, str] = field(default_factory=dict)  # check -> rule
    holds: Mapping[str, str] = field(default_factory=dict)  # hold -> rule
    advice: tuple[tuple[str, str], ...] = ()  # sentence, rule
    clashes: tuple[tuple[str, str], ...] = ()  # finding, rule
    spoken: Mapping[str, Spoken] = field(default_factory=dict)  # by rule id
    prefer: Mapping[str, str] = field(default_factory=dict)  # repair -> rule
    forbid: Mapping[str, str] = field(default_factory=dict)  # repair -> rule
    changes: tuple[tuple[model.Conclusion, str], ...] = ()  # of minutes and prices, each with its rule

    def repairs(self, cause: model.Cause) -> tuple[str, ...]:
        """The repairs of a cause, the one to propose first. Forbidden ones are left out, as long as one is left."""
        allowed = [id_ for id_ in cause.repairs if id_ not in self.forbid] or list(cause.repairs)
        return tuple(sorted(allowed, key=lambda id_: id_ not in self.prefer))

    def check_minutes(self, check: model.Check) -> float:
        return max(LEAST_MINUTES, self._changed("check_minutes", check.id, check.minutes))

    def repair_minutes(self, repair: model.Repair) -> float:
        return max(LEAST_MINUTES, self._changed("repair_minutes", repair.id, repair.minutes))

    def changed_price(self, repair: model.Repair, total: float) -> float:
        """What the rules make of the price of a repair's parts."""
        return max(0.0, self._changed("price", repair.id, total))

    def _changed(self, form: str, id_: str, value: float) -> float:
        """A number with what the rules make of it: all factors first, so that the order of rules has no say."""
        ours = [change for change, _ in self.changes if change.form == form and change.about == id_]
        for change in ours:
            value *= change.times or 1.0
        return value + sum(change.add or 0.0 for change in ours)


class Deducer:
    """The rules of one knowledge base. Keeps the chainer, which is costly to make, between calls."""

    def __init__(self, base: KnowledgeBase) -> None:
        self._base = base
        self._chainer = Chainer([compiled(rule) for rule in base.rules.values()])
        self._comparisons = {
            atom: (leaf, wanted) for rule in base.rules.values() for atom, leaf, wanted in comparisons(rule.when)
        }

    def deduce(self, facts: Facts) -> Deduction:
        """Every conclusion the rules draw from the facts."""
        latest = facts.latest()
        atoms = {f"{'finding' if said.present else 'denied'}:{finding}" for finding, said in latest.items()}
        now = situation(facts)
        atoms |= {atom for atom, (leaf, wanted) in self._comparisons.items() if passes(leaf, wanted, now)}
        outcome = self._chainer.run(atoms)
        spoken = {
            firing.rule: Spoken(self._base.rules[firing.rule], self._sentences(firing.because))
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
            skip=_first(spoken, "skip"),
            holds=_first(spoken, "hold"),
            advice=tuple((c.advice, id_) for id_, said in spoken.items() for c in said.rule.then if c.advice),
            clashes=tuple(clashes),
            spoken=spoken,
            prefer=_first(spoken, "prefer"),
            forbid=_first(spoken, "forbid"),
            changes=tuple((c, id_) for id_, said in spoken.items() for c in said.rule.then if c.form in _CHANGES),
        )

    def _sentences(self, atoms: Iterable[str]) -> tuple[str, ...]:
        """Atoms as sentences for a person, each once."""
        leaves = (self._comparisons.get(atom) or _plain(atom) for atom in atoms)
        return tuple(dict.fromkeys(sentence(self._base, leaf, wanted) for leaf, wanted in leaves))


def _first(spoken: Mapping[str, Spoken], name: str) -> dict[str, str]:
    """What the rules conclude of one form, each with the first rule that did."""
    found: dict[str, str] = {}
    for id_, said in spoken.items():
        for conclusion in said.rule.then:
            if (concluded := getattr(conclusion, name)) is not None:
                found.setdefault(concluded, id_)
    return found


def situation(facts: Facts) -> Situation:
    """The facts of a log as conditions are judged on, before any rule has spoken."""
    skipped = (CANT_TELL, NOT_THIS_AMP)
    return Situation(
        amp=facts.amp,
        complaints=frozenset(symptom for symptom, _, _ in facts.complaints),
        known={finding: said.present for finding, said in facts.latest().items()},
        answers={check: key for check, key in facts.done.items() if key not in skipped},
        values={name: value.value for name, value in facts.values.items() if value.value is not None},
        since=facts.minutes_since,
    )


def _plain(atom: str) -> tuple[model.Condition, bool]:
    """The plain condition that an atom stands for, which is no comparison, and which way it is met."""
    kind, _, about = atom.partition(":")
    if kind == "absent":
        kind, _, about = about.partition(":")
        return model.Condition.model_validate({"spoken" if kind == "spoken" else "unknown": about}), kind != "spoken"
    return model.Condition.model_validate({kind: about}), True


def compiled(rule: model.Rule) -> ChainedRule:
    """A rule as the chainer takes it. Raises TooWide for a condition that can be met in too many ways."""
    alternatives = tuple(Alternative(way.present, way.absent) for way in ways(rule.when))
    gives = tuple(f"finding:{c.conclude}" for c in rule.then if c.conclude)
    return ChainedRule(rule.id, alternatives, (*gives, f"spoken:{rule.id}"))


_CHANGES = ("check_minutes", "repair_minutes", "price")
