"""Every name must lead somewhere, and every id must be one thing only."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from ...reference.errors import Problem, did_you_mean
from ...reference.model import Rectifier, Tube
from ...reference.text import Place
from .. import model
from ..base import NOT, KnowledgeBase
from .frame import Look, lint

Reference = tuple[Place, str, str]  # where in the entry, the kind of thing named, the name


@lint("error")
def unknown_reference(look: Look) -> Iterator[Problem]:
    """A name that no entry has. Nothing would ever happen there, silently; so it is an error. Correct the
    spelling, or write the entry it means.
    """
    base = look.base
    known: Mapping[str, Collection[str]] = {
        "finding or symptom": _declared(look, ("findings", "symptoms")),
        "symptom": _declared(look, ("symptoms",)),
        "check": _declared(look, ("checks",)),
        "check to prove it": {*_declared(look, ("checks",)), *(check.id for check in base.again.values())},
        "cause": _declared(look, ("causes",)),
        "repair": _declared(look, ("repairs",)),
        "hold": _declared(look, ("holds",)),
        "rule": _declared(look, ("rules",)),
        "price": _declared(look, ("prices",)),
        "caution": base.cautions,
        "how-often word": base.scale.how_often,
        "commonness word": base.scale.commonness,
        "factor word": base.scale.factor,
        "source": base.reference.sources,
        "amp fact": base.amp_facts,
    }
    for section, entry in base.entries():
        for inside, kind, name in references(entry):
            if name not in known[kind]:
                choices = sorted(known[kind])
                hint = did_you_mean(name, choices) or (f"Words: {', '.join(choices)}." if kind.endswith("word") else "")
                yield look.problem(section, entry, inside, f"there is no {kind} '{name}'.", hint)
    for document in look.documents.values():
        said = document.value.get("source") if isinstance(document.value, dict) else None
        if said is not None and said not in known["source"]:
            hint = did_you_mean(str(said), sorted(known["source"]))
            yield Problem(document.where(("source",)), "source", f"there is no source '{said}'.", hint)


@lint("error")
def unknown_amp_value(look: Look) -> Iterator[Problem]:
    """A requirement on an amp fact that no amp can meet, since the fact does not have that value."""
    base = look.base
    for section, entry in base.entries():
        for inside, needs in _requirements(entry):
            for fact, wanted in needs.items():
                if fact not in base.amp_facts:
                    continue
                choices = amp_choices(base, fact)
                for value in wanted if isinstance(wanted, tuple) else (wanted,):
                    named = str(value).removeprefix(NOT)
                    if choices and named not in choices:
                        hint = did_you_mean(named, choices) or f"Values: {', '.join(choices[:12])}."
                        yield look.problem(section, entry, (*inside, fact), f"'{fact}' has no value '{value}'.", hint)


@lint("error")
def duplicate_id(look: Look) -> Iterator[Problem]:
    """The same id stands in two area files (or for a symptom and a finding, which share one namespace).
    One of them would be lost. Rename one.
    """
    seen: dict[tuple[str, str], model.Entry] = {}
    for section, entry in look.base.entries():
        space = "symptom or finding" if section in ("symptoms", "findings") else section
        first = seen.setdefault((space, entry.id), entry)
        if first is not entry:
            yield look.problem(section, entry, (), f"the id '{entry.id}' is taken: see {first.where}", key=True)


def amp_choices(base: KnowledgeBase, fact: str) -> list[str]:
    """The values an amp fact can have; empty for a number."""
    entry = base.amp_facts[fact]
    if entry.from_reference is None:
        return list(entry.choices)
    table: Mapping[str, Tube | Rectifier] = getattr(base.reference, entry.from_reference)
    return [*(kind for part in table.values() for kind in part.types), *entry.choices]


def references(entry: model.Entry) -> Iterator[Reference]:
    """Every name an entry uses, with the kind of thing it must be."""
    if isinstance(entry, model.Cited):
        several = isinstance(entry.source, tuple)
        yield from ((("source", n) if several else ("source",), "source", id_) for n, id_ in enumerate(entry.sources))
    if isinstance(entry, model.Symptom | model.Finding):
        yield ("otherwise",), "how-often word", entry.otherwise
    if isinstance(entry, model.Symptom) and entry.kinds:
        for key, kind in entry.kinds.answers.items():
            yield ("kinds", "answers", key, "symptom"), "symptom", kind.symptom
    if isinstance(entry, model.Finding):
        yield from ((("against", n), "finding or symptom", id_) for n, id_ in enumerate(entry.against))
    elif isinstance(entry, model.Check):
        yield from _check_references(entry)
    elif isinstance(entry, model.Cause):
        yield from _cause_references(entry)
    elif isinstance(entry, model.Repair):
        yield from ((("cautions", n), "caution", id_) for n, id_ in enumerate(entry.cautions))
        for n, part in enumerate(entry.parts):
            if part.price is not None:
                yield ("parts", n, "price"), "price", part.price
        for proof in entry.proof:
            yield ("proof",), "check to prove it", proof.check
            for id_ in (proof.gone, proof.found):
                if id_ is not None:
                    yield ("proof",), "finding or symptom", id_
    elif isinstance(entry, model.Inseparable):
        yield from ((("causes", n), "cause", id_) for n, id_ in enumerate(entry.causes))
    elif isinstance(entry, model.Rule):
        yield from _condition_references(entry.when, ("when",))
        for n, conclusion in enumerate(entry.then):
            yield from _conclusion_references(conclusion, ("then", n))
    yield from (((*inside, fact), "amp fact", fact) for inside, needs in _requirements(entry) for fact in needs)


def _check_references(check: model.Check) -> Iterator[Reference]:
    yield from ((("cautions", n), "caution", id_) for n, id_ in enumerate(check.cautions))
    yield from ((("after", n), "check", id_) for n, id_ in enumerate(check.after))
    for key, answer in check.answers.items():
        for name in ("findings", "denies"):
            for n, id_ in enumerate(getattr(answer, name)):
                yield ("answers", key, name, n), "finding or symptom", id_
    for n, band in enumerate(check.bands):
        for m, id_ in enumerate(band.findings):
            yield ("bands", n, "findings", m), "finding or symptom", id_


def _cause_references(cause: model.Cause) -> Iterator[Reference]:
    yield ("commonness",), "commonness word", cause.commonness
    for direction in ("more", "less"):
        for n, shift in enumerate(getattr(cause, direction)):
            yield (direction, n, "by"), "factor word", shift.by
    for id_, word in cause.shows.items():
        yield ("shows", id_), "finding or symptom", id_
        yield ("shows", id_), "how-often word", word
    yield from ((("repairs", n), "repair", id_) for n, id_ in enumerate(cause.repairs))


def _condition_references(condition: model.Condition, inside: Place) -> Iterator[Reference]:
    for name, kind in _ASKS.items():
        if (id_ := getattr(condition, name)) is not None:
            yield (*inside, name), kind, id_
    if condition.value is not None:
        yield (*inside, "value"), "check", condition.value.partition("/")[0]
    for bound in ("above", "below"):
        if isinstance(other := getattr(condition, bound), model.Other):
            yield (*inside, bound, "value"), "check", other.value.partition("/")[0]
    if condition.since is not None and condition.since != "opened":
        kind, _, id_ = condition.since.partition("/")
        yield (*inside, "since"), _SINCE.get(kind, kind), id_
    for place, part in nested(condition, inside):
        yield from _condition_references(part, place)


_ASKS = {
    "finding": "finding or symptom",
    "denied": "finding or symptom",
    "unknown": "finding or symptom",
    "complaint": "symptom",
    "answer": "check",
    "spoken": "rule",
}
_SINCE = {"complaint": "symptom"}
_CONCLUDES = {
    "conclude": "finding or symptom",
    "raise": "cause",
    "lower": "cause",
    "rule_out": "cause",
    "check_first": "check",
    "skip": "check",
    "hold": "hold",
    "prefer": "repair",
    "forbid": "repair",
    "check_minutes": "check",
    "repair_minutes": "repair",
    "price": "repair",
}


def _conclusion_references(conclusion: model.Conclusion, inside: Place) -> Iterator[Reference]:
    if conclusion.form in _CONCLUDES:
        yield (*inside, conclusion.form), _CONCLUDES[conclusion.form], conclusion.about
    if conclusion.by is not None:
        yield (*inside, "by"), "factor word", conclusion.by


def nested(condition: model.Condition, inside: Place) -> Iterator[tuple[Place, model.Condition]]:
    """The conditions one combines, each with its place."""
    for name in ("all", "any", "of"):
        for n, part in enumerate(getattr(condition, name) or ()):
            yield (*inside, name, n), part
    if condition.negated is not None:
        yield (*inside, "not"), condition.negated


def _requirements(entry: model.Entry) -> Iterator[tuple[Place, Mapping[str, object]]]:
    """Every requirement on amp facts in an entry, with its place."""
    if isinstance(entry, model.Check | model.Cause):
        yield ("needs",), entry.needs
    if isinstance(entry, model.Cause):
        for direction in ("more", "less"):
            for n, shift in enumerate(getattr(entry, direction)):
                yield (direction, n, "when"), shift.when
    if isinstance(entry, model.Rule):
        yield from _condition_requirements(entry.when, ("when",))


def _condition_requirements(condition: model.Condition, inside: Place) -> Iterator[tuple[Place, Mapping[str, object]]]:
    if condition.amp is not None:
        yield (*inside, "amp"), condition.amp
    for place, part in nested(condition, inside):
        yield from _condition_requirements(part, place)


def _declared(look: Look, sections: tuple[str, ...]) -> set[str]:
    """Ids that stand in the files, broken entries included: they must not raise a second error elsewhere."""
    return {
        str(key)
        for document in look.documents.values()
        if isinstance(document.value, dict)
        for section in sections
        for key in (document.value.get(section) or {})
    }
