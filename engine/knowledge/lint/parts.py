"""Causes and repairs name the parts and faults of kb/parts, and every part there is of use.

A base that says nothing of parts, as a small one of tests, may name them as it likes.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...reference.errors import Problem, did_you_mean
from .. import model
from ..part_use import at, named
from ..parts import names
from .frame import Look, lint


@lint("warning")
def unknown_part(look: Look) -> Iterator[Problem]:
    """A cause, a repair or a price names a part that kb/parts does not have. It is shown as it stands, but nothing
    stands in for it and no price of another name holds for it. Name the part by its id, or one of its other names; or
    write an entry, or another name under its `also`.
    """
    parts = look.base.parts_list
    for section, entry, inside, name in named(look.base):
        if look.base.parts and not parts.meant((name,)):
            known = sorted({one for kind in parts.kinds.values() for one in (kind.id, *names(kind))})
            yield look.problem(section, entry, inside, f"there is no part '{name}'.", did_you_mean(name, known))


@lint("warning")
def unknown_fault(look: Look) -> Iterator[Problem]:
    """A cause whose part does not fail so, by its entry in kb/parts. Use the words of that entry; or, when it is a
    fault of its own, write it there under `faults`, for the part or for the kind it belongs to.
    """
    parts = look.base.parts_list
    for cause in look.base.causes.values():
        meant = parts.meant(cause.part)
        for number, word in enumerate(cause.fault if meant else ()):
            fault = parts.fault(meant, word)
            if fault is None:
                known = [one for kind in meant for one in parts.faults(kind)]
                hint = did_you_mean(word, known) or f"Known: {', '.join(dict.fromkeys(known))}."
                message = f"{' or '.join(kind.name for kind in meant)} has no fault '{word}'."
                yield look.problem("causes", cause, at(cause.fault, "fault", number), message, hint)


@lint("error")
def unknown_kind(look: Look) -> Iterator[Problem]:
    """A part that belongs to a kind which is no part, or to itself by a roundabout way. Correct `kind_of`."""
    for part in look.base.parts.values():
        if part.kind_of is not None and part.kind_of not in look.base.parts:
            hint = did_you_mean(part.kind_of, list(look.base.parts))
            yield look.problem("parts", part, ("kind_of",), f"there is no part '{part.kind_of}'.", hint)
        elif look.base.parts_list.circular(part):
            yield look.problem("parts", part, ("kind_of",), "this kind belongs to the part itself")


@lint("error")
def part_twice(look: Look) -> Iterator[Problem]:
    """Two parts have a name in common, even if in the plural: whoever names it could mean either. Rename one."""
    seen: dict[str, model.PartKind] = {}
    for part in look.base.parts.values():
        for name in names(part):
            first = seen.setdefault(name, part)
            if first is not part:
                yield look.problem("parts", part, (), f"'{name}' is a part already: see {first.where}", key=True)


@lint("warning", orphans=True)
def unused_part(look: Look) -> Iterator[Problem]:
    """A part that no cause, repair or price names, nor any kind of it: nobody would ever see it. Take it out."""
    parts = look.base.parts_list
    used = {kind.id for _, _, _, name in named(look.base) for kind in parts.meant((name,))}
    used |= {kind.id for cause in look.base.causes.values() for one in cause.circuit for kind in parts.meant(one.part)}
    above = {kind.id for id_ in used for kind in parts.lineage(parts.kinds[id_])}
    for part in look.base.parts.values():
        if part.id not in above:
            yield look.problem("parts", part, (), "no cause or repair names this part", key=True)


@lint("error")
def unknown_electrode(look: Look) -> Iterator[Problem]:
    """A check tells the pin of an electrode that no tube of kb/reference has, or of a tube that no amp fact names.
    Correct the word under `pins`.
    """
    known = sorted({word for base in look.base.reference.bases.values() for word in base.pins})
    facts = [fact.id for fact in look.base.amp_facts.values() if fact.from_reference]
    for check in look.base.written.values():
        for fact, words in check.pins.items():
            if fact not in facts:
                hint = did_you_mean(fact, facts) or f"Known: {', '.join(facts)}."
                message = f"no amp fact '{fact}' names a tube."
                yield look.problem("checks", check, ("pins", fact), message, hint, key=True)
            for number, word in enumerate(words):
                if word not in known:
                    hint = did_you_mean(word, known) or f"Known: {', '.join(known)}."
                    place = ("pins", *at(words, fact, number))
                    yield look.problem("checks", check, place, f"there is no electrode '{word}'.", hint)
