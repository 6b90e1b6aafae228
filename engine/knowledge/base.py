"""The knowledge base as one frozen value, and the words of degree turned into numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

from . import hazards, model
from .families import kinds_of, parting_check, with_families
from .parts import PartsList

if TYPE_CHECKING:
    from ..reference.tables import Reference
    from .term import Term

T = TypeVar("T")
Wanted = model.AmpValue | tuple[model.AmpValue, ...]
Needs = Mapping[str, Wanted]
NOT = "not "  # a requirement that begins so asks for any value but the one that follows


@dataclass(frozen=True)
class KnowledgeBase:
    """Everything the areas say, by id. Symptoms and findings share one namespace.

    fingerprint: sha256 over the files, carried by every job's log. reference_from, terms_from: read the reference
    figures and the glossary, which is done only when they are asked for.
    """

    areas: Mapping[str, model.Area]
    scale: model.Scale
    cautions: Mapping[str, model.Caution]
    amp_facts: Mapping[str, model.AmpFact]
    reference_from: Callable[[], Reference] = field(repr=False, compare=False)
    fingerprint: str
    shop: model.Shop = field(default_factory=model.Shop)
    moves: Mapping[str, model.Move] = field(default_factory=dict)
    words_of_hands: tuple[str, ...] = ()
    terms_from: Callable[[], Mapping[str, Term]] = field(default=dict, repr=False, compare=False)

    def _merged(self, section: str) -> Mapping[str, Any]:
        merged: dict[str, Any] = {}
        for area in self.areas.values():
            merged.update(getattr(area, section))
        return MappingProxyType(merged)

    @cached_property
    def symptoms(self) -> Mapping[str, model.Symptom]:
        return self._merged("symptoms")

    @cached_property
    def findings(self) -> Mapping[str, model.Finding]:
        return self._merged("findings")

    @cached_property
    def written(self) -> Mapping[str, model.Check]:
        """The checks that stand in the files."""
        return self._merged("checks")

    @cached_property
    def again(self) -> Mapping[str, model.Check]:
        """By symptom, the check that asks about it again after a repair: its own question. A symptom that bears on
        safety has none: it is proven gone by measuring, never by trying."""
        return {id_: _again(symptom) for id_, symptom in self.symptoms.items() if not symptom.safety}

    @cached_property
    def checks(self) -> Mapping[str, model.Check]:
        """Every check that can be done: the written ones, those that ask which kind of a family a complaint is, and
        those that ask about a symptom again."""
        made = (*self.again.values(), *self.parting.values())
        return MappingProxyType({**{check.id: check for check in made}, **self.written})

    @cached_property
    def kinds(self) -> Mapping[str, tuple[str, ...]]:
        """By family of symptoms, its kinds and those of the families among them."""
        return MappingProxyType(kinds_of(self.symptoms))

    @cached_property
    def parting(self) -> Mapping[str, model.Check]:
        """By family, the check that asks which kind it is."""
        asked = ((id_, parting_check(self.symptoms[id_])) for id_ in self.kinds)
        return MappingProxyType({id_: check for id_, check in asked if check is not None})

    @cached_property
    def causes(self) -> Mapping[str, model.Cause]:
        """Every cause; it shows the families of what it shows as well."""
        return MappingProxyType(with_families(self._merged("causes"), self.kinds, self.scale.how_often))

    @cached_property
    def repairs(self) -> Mapping[str, model.Repair]:
        return self._merged("repairs")

    @cached_property
    def holds(self) -> Mapping[str, model.Hold]:
        """Every hold: those of the areas, and the moves between set-ups, each of which stands before its stage."""
        return MappingProxyType({**self._merged("holds"), **self.moves})

    @cached_property
    def rules(self) -> Mapping[str, model.Rule]:
        return self._merged("rules")

    @cached_property
    def prices(self) -> Mapping[str, model.Price]:
        return self._merged("prices")

    @cached_property
    def inseparable(self) -> Mapping[str, model.Inseparable]:
        return self._merged("inseparable")

    @cached_property
    def parts(self) -> Mapping[str, model.PartKind]:
        return self._merged("parts")

    @cached_property
    def parts_list(self) -> PartsList:
        """The kinds of part by any of their names, with what they inherit and cost."""
        return PartsList(self.parts, self.prices)

    def price_of(self, part: model.Part) -> model.Price | None:
        """What one of a part costs; None when there is no price."""
        return self.parts_list.price_of(part)

    @cached_property
    def reference(self) -> Reference:
        """The figures of kb/reference; read at the first use."""
        return self.reference_from()

    @cached_property
    def terms(self) -> Mapping[str, Term]:
        """The glossary, by id; read at the first use. Raises KnowledgeError."""
        return MappingProxyType(dict(self.terms_from()))

    @cached_property
    def checks_settling(self) -> Mapping[str, tuple[str, ...]]:
        """For each finding or symptom, the written checks that can settle it, in the order of the files."""
        settling: dict[str, list[str]] = {}
        for check in self.written.values():
            for finding in check.findings():
                settling.setdefault(finding, []).append(check.id)
        return {finding: tuple(checks) for finding, checks in settling.items()}

    @cached_property
    def forbidding(self) -> Mapping[str, hazards.Forbids]:
        """For each finding that forbids power while it stands, what it forbids; see hazards.py."""
        return MappingProxyType(dict(hazards.forbidding(self)))

    @cached_property
    def causes_showing(self) -> Mapping[str, tuple[str, ...]]:
        """For each finding or symptom, the causes that show it."""
        showing: dict[str, list[str]] = {}
        for cause in self.causes.values():
            for finding in cause.shows:
                showing.setdefault(finding, []).append(cause.id)
        return {finding: tuple(causes) for finding, causes in showing.items()}

    def noted(self, id_: str) -> model.Symptom | model.Finding:
        """The symptom or finding of that id. Raises KeyError."""
        return self.symptoms[id_] if id_ in self.symptoms else self.findings[id_]

    def text(self, id_: str) -> str:
        """A finding's sentence, or a symptom's name."""
        noted = self.noted(id_)
        return noted.text if isinstance(noted, model.Finding) else noted.name

    def how_often(self, word: str) -> float:
        return self.scale.how_often[word]

    def leak(self, id_: str) -> float:
        """How often the finding or symptom is there with none of the known causes."""
        return self.scale.how_often[self.noted(id_).otherwise]

    def area_of(self, cause_id: str) -> str:
        """The area that a cause stands in."""
        return self._area_of[cause_id]

    @cached_property
    def _area_of(self) -> Mapping[str, str]:
        return {id_: area.area for area in self.areas.values() for id_ in area.causes}

    def group(self, cause_id: str) -> str:
        """The group of a cause; a cause without one is a group of its own."""
        return self.causes[cause_id].group or cause_id

    def share(self, needs: Needs, amp: Mapping[str, model.AmpValue]) -> float:
        """Of amps like this one, the share that meets a requirement: by the stated shares of facts not known yet; a
        fact without shares counts as met."""
        if holds_true(needs, amp) is False:
            return 0.0
        share = 1.0
        for fact, wanted in needs.items():
            shares = self.amp_facts[fact].shares
            if fact not in amp and shares:
                share *= sum(part for value, part in shares.items() if meets(value, wanted))
        return share

    def rests_on(self, area: model.Area, entry: model.Entry) -> tuple[str, ...]:
        """Ids of the sources behind an entry of an area: its own, or else its area's; none where neither names one,
        or where the entry is of a kind that rests on nothing."""
        if not isinstance(entry, model.Cited):
            return ()
        return entry.sources or ((area.source,) if area.source else ())

    def at_level(self, level: str) -> KnowledgeBase:
        """The same knowledge, with the proof that is asked before a repair at a level of experience."""
        sure = self.scale.sure_at.get(level, self.scale.sure)
        return self if sure == self.scale.sure else replace(self, scale=self.scale.model_copy(update={"sure": sure}))

    def made(self, kind: Callable[[KnowledgeBase], T]) -> T:
        """What `kind` makes of this base; made once and kept with it."""
        if kind not in self._made:
            self._made[kind] = kind(self)
        found: T = self._made[kind]
        return found

    @cached_property
    def _made(self) -> dict[Callable[[KnowledgeBase], Any], Any]:
        return {}

    def entries(self) -> Iterator[tuple[str, model.Entry]]:
        """Every entry of every area with its section, in the order of the files."""
        for area in self.areas.values():
            for section in model.SECTIONS:
                for entry in getattr(area, section).values():
                    yield section, entry


def _again(symptom: model.Symptom) -> model.Check:
    return model.Check(
        id=f"again-{symptom.id}"[:60],
        where=symptom.where,
        name=f"Ask again: {symptom.name[0].lower()}{symptom.name[1:]}",
        stage="play",
        hands="outside",
        minutes=symptom.minutes,
        do="Try the amp as the player does, at the settings of the complaint, and listen and look for it.",
        normal="It is gone.",
        cautions=("load", "loud"),
        check_over=False,
        ask=symptom.ask,
        answers={"yes": model.AnswerOffered(findings=(symptom.id,)), "no": model.AnswerOffered(text="it is gone")},
    )


def meets(value: model.AmpValue, wanted: Wanted) -> bool:
    """Whether the value of an amp fact meets a requirement: it is one of the values named, and none that 'not' bars."""
    named, barred = _parted(wanted)
    return (not named or value in named) and str(value) not in barred


def exclude(one: Needs, other: Needs) -> bool:
    """Whether no amp meets both requirements, as far as the values they name tell."""
    for fact in one.keys() & other.keys():
        named = _parted(one[fact])[0] | _parted(other[fact])[0]
        if named and not any(meets(value, one[fact]) and meets(value, other[fact]) for value in named):
            return True
    return False


def _parted(wanted: Wanted) -> tuple[set[model.AmpValue], set[str]]:
    """The values a requirement names, and those it bars."""
    asked = wanted if isinstance(wanted, tuple) else (wanted,)
    barred = {one.removeprefix(NOT) for one in asked if isinstance(one, str) and one.startswith(NOT)}
    return {one for one in asked if not (isinstance(one, str) and one.startswith(NOT))}, barred


def holds_true(needs: Needs, amp: Mapping[str, model.AmpValue]) -> bool | None:
    """Whether amp facts meet a requirement: True, False, or None while a fact it asks for is unknown."""
    verdict: bool | None = True
    for fact, wanted in needs.items():
        if fact not in amp:
            verdict = None
            continue
        if not meets(amp[fact], wanted):
            return False
    return verdict
