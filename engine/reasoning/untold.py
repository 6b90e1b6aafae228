"""Why a reading or figure of a check can't be judged, and what would settle it: a reading or an amp fact that is not
there, or a sum that these values do not give."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Set

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from .bands import Doubt, bands_of, name_of

OF_THE_AMP = {"tube": "power-tube", "rectifier": "rectifier"}  # the amp fact behind a rating that a `given` names
Given = Callable[[model.Check, str | float], str | float]


def untold(
    base: KnowledgeBase, check: model.Check, amp: Mapping[str, model.AmpValue], given: Given, settled: Set[str]
) -> Iterator[Doubt]:
    """Each quantity of a check that leaves findings open because it, or a limit of its bands, is not known.

    given: what a word of the check stands for; raises ValueError, for people, while it is not known. settled: the
    findings that other quantities settle, or leave open for reasons of their own.
    """
    for quantity, bands in bands_of(check).items():
        findings = sorted({finding for band in bands for finding in band.findings} - settled)
        limits = [limit for band in bands for limit in (band.above, band.below) if limit is not None]
        troubles = [trouble for source in (quantity, *limits) if (trouble := _trouble(given, check, source))]
        if not findings or not troubles:
            continue
        facts: dict[str, None] = {}
        wanting: dict[str, str] = {}  # what is not there, with what to do about it
        for kind, id_ in (one for source in (quantity, *limits) for one in _lacking(base, check, amp, given, source)):
            if kind == "fact":
                facts[id_] = None
                wanting[f"the amp fact '{id_}'"] = f"it takes the answer to: {base.amp_facts[id_].ask}"
            elif kind == "reading":
                wanting[f"'{name_of(check, id_)}'"] = f"measure that too: {name_of(check, id_)}"
            else:
                wanting[f"'{base.checks[id_].name}'"] = f"do that first: {base.checks[id_].name}"
        text = f"{name_of(check, quantity)}: {_why(check, quantity, list(wanting), troubles[0])}"
        settle = "; ".join(wanting.values()) or (
            "look at the readings again, and at what was said of the amp; if all of that is so, this check can't tell "
            "here, but others may"
        )
        yield Doubt(check.id, quantity, tuple(findings), text, settle, tuple(facts))


def _why(check: model.Check, quantity: str, wanting: list[str], trouble: str) -> str:
    if wanting == [f"'{name_of(check, quantity)}'"]:
        return "not measured"
    does = "be worked out" if quantity in check.figures else "be judged"
    return f"can't {does} without {' and '.join(wanting)}" if wanting else f"can't {does}, {trouble}"


def _trouble(given: Given, check: model.Check, source: str | float) -> str:
    try:
        given(check, source)
    except ValueError as error:
        return str(error)
    return ""


def _lacking(
    base: KnowledgeBase, check: model.Check, amp: Mapping[str, model.AmpValue], given: Given, source: str | float
) -> Iterator[tuple[str, str]]:
    """What a word needs and is not there: amp facts, readings of this check, other checks."""
    if not isinstance(source, str) or not _trouble(given, check, source):
        return
    kind, dot, key = source.partition(".")
    fact = key if kind == "amp" else OF_THE_AMP.get(kind, "")
    if dot:
        if fact in base.amp_facts and fact not in amp:
            yield "fact", fact
    elif source in check.figures:
        for one in check.figures[source].given.values():
            yield from _lacking(base, check, amp, given, one)
    elif source in check.readings:
        yield "reading", source
    elif (other := source.partition("/")[0]) in base.checks:
        yield "check", other
