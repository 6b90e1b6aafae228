"""Which facts of an amp are worth asking for, going by what the player complains of."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from ..knowledge import model
from ..knowledge.base import KnowledgeBase


def facts_that_matter(base: KnowledgeBase, symptoms: Iterable[str], most: int = 10) -> tuple[str, ...]:
    """The amp facts worth asking for some complaints, in the order of the file.

    Those that any hold depends on come with every complaint; then those that the causes of the symptoms, or the checks
    on their findings, heed most.
    """
    causes = [base.causes[id_] for id_ in dict.fromkeys(c for s in symptoms for c in base.causes_showing.get(s, ()))]
    findings = {finding for cause in causes for finding in cause.shows}
    heeded: Counter[str] = Counter()
    for cause in causes:
        heeded.update({*cause.needs, *(fact for shift in (*cause.more, *cause.less) for fact in shift.when)})
    for check in base.checks.values():
        if findings.intersection(check.findings()):
            heeded.update({*check.needs, *_facts_given(check)})
    always = {
        fact
        for rule in base.rules.values()
        if any(conclusion.hold or conclusion.conclude for conclusion in rule.then)
        for fact in _facts_of(rule.when)
        if any(base.symptoms.get(f) and base.symptoms[f].safety for f in _findings_of(rule.when))
    }
    most_heeded = sorted(heeded, key=lambda fact: (-heeded[fact], fact))
    wanted = always | {*most_heeded[: max(0, most - len(always))]}
    return tuple(fact for fact in base.amp_facts if fact in wanted)


def _facts_given(check: model.Check) -> Iterator[str]:
    for figure in check.figures.values():
        for source in figure.given.values():
            kind, dot, key = source.partition(".") if isinstance(source, str) else ("", "", "")
            if dot and kind == "amp":
                yield key
            elif dot and kind in ("tube", "rectifier"):
                yield {"tube": "power-tube", "rectifier": "rectifier"}[kind]


def _facts_of(condition: model.Condition) -> Iterator[str]:
    for part in condition.leaves():
        yield from part.amp or ()


def _findings_of(condition: model.Condition) -> Iterator[str]:
    for part in condition.leaves():
        if part.finding:
            yield part.finding
