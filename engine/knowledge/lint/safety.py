"""What a layer may not do: lower a safety matter of the shipped base. None of these can be kept quiet.

Holds rest on findings, through rules. So the holds, the rules that lead to them, the findings these ask for and the
checks that settle those are fixed, but for what makes them stricter; so are causes that can burn or shock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from ...reference.errors import Problem
from ...reference.text import Place
from .. import model
from ..base import KnowledgeBase
from ..entry import POWERED, STAGES
from ..hazards import STRICTER, bars_of
from .frame import Look, lint

_HAZARDS = ("none", "damage", "fire", "shock")
_GRAVE = ("fire", "shock")
_HANDS = ("none", "outside", "clip-on", "inside", "iron")  # the further in, the more is asked before
_BARS = (*STRICTER, "nothing")


@dataclass(frozen=True)
class _Matters:
    """What bears on safety in the shipped base: ids. silencing: findings whose being known can keep a hold away."""

    rules: frozenset[str]
    findings: frozenset[str]
    silencing: frozenset[str]
    checks: frozenset[str]
    causes: frozenset[str]
    repairs: frozenset[str]


def matters(base: KnowledgeBase) -> _Matters:
    """What bears on safety in a knowledge base."""
    rules: set[str] = set()
    findings: set[str] = set(base.forbidding) if base.moves else set()
    silencing: set[str] = set()
    while True:
        more = {
            rule.id
            for rule in base.rules.values()
            if any(c.hold or (c.conclude and c.conclude in findings) for c in rule.then)
        } - rules
        if not more:
            break
        rules |= more
        for id_ in more:
            for leaf in base.rules[id_].when.leaves():
                findings |= {named for named in (leaf.finding, leaf.denied, leaf.unknown) if named}
            silencing |= set(_negative(base.rules[id_].when, True))
    checks = {c.id for c in base.written.values() if c.safety or findings.intersection(c.findings())}
    rules |= {r.id for r in base.rules.values() if any(c.check_first in checks for c in r.then)}
    causes = {cause.id for cause in base.causes.values() if cause.hazard in _GRAVE}
    repairs = {repair for id_ in causes for repair in base.causes[id_].repairs}
    sets = (rules, findings, silencing, checks, causes, repairs)
    return _Matters(*(frozenset(one) for one in sets))


def _negative(condition: model.Condition, wanted: bool) -> Iterator[str]:
    """Findings that a condition wants unknown, or not true."""
    if condition.negated is not None:
        yield from _negative(condition.negated, not wanted)
    elif parts := condition.parts():
        for part in parts:
            yield from _negative(part, wanted if condition.at_most is None else not wanted)
    else:
        for named, when in ((condition.unknown, True), (condition.denied, True), (condition.finding, False)):
            if named is not None and when is wanted:
                yield named


@lint("error", always=True, between_layers=True)
def safety_retired(look: Look) -> Iterator[Problem]:
    """A layer takes out something that bears on safety: a hold, a rule that leads to one, a finding or check it rests
    on, a safety symptom, or a cause that can burn or shock and its repairs. That is refused.
    """
    if look.below is None or look.over is None:
        return
    fixed = matters(look.below)
    safe: dict[str, Callable[[str], bool]] = {
        "holds": lambda _: True,
        "rules": fixed.rules.__contains__,
        "findings": fixed.findings.__contains__,
        "checks": fixed.checks.__contains__,
        "causes": fixed.causes.__contains__,
        "repairs": fixed.repairs.__contains__,
        "symptoms": lambda id_: look.below is not None and look.below.symptoms[id_].safety,
    }
    for change in look.over.changes:
        shipped = getattr(look.below, change.section, {})
        is_safety = safe.get(change.section)
        if change.kind == "retire" and change.id in shipped and is_safety and is_safety(change.id):
            entry = f"{change.section}.{change.id}"
            message = f"the layer '{change.layer}' would retire '{change.id}', which bears on safety; that is refused"
            yield Problem(change.where, entry, message)


@lint("error", always=True, between_layers=True)
def safety_lowered(look: Look) -> Iterator[Problem]:
    """A layer amends something that bears on safety so that less is asked, or less is said: a hold, a rule that leads
    to one, what these rest on, `safety: true`, a caution, a stage of work, where the hands go, a hazard, what
    it bars. That is refused; making it stricter is not.
    """
    if look.below is None or look.over is None:
        return
    fixed = matters(look.below)
    for section in model.SECTIONS:
        ids = {c.id for c in look.over.changes if c.section == section and c.kind in ("amend", "add")}
        shipped, now = getattr(look.below, section), getattr(look.base, section)
        for id_ in sorted(ids & shipped.keys() & now.keys()):
            for name in _lowered(section, shipped[id_], now[id_], fixed, look.below):
                message = f"this would lower a safety matter of '{id_}' ({shipped[id_].where}); that is refused"
                yield _at_the_layer(look, section, now[id_], (name,), message)


def _at_the_layer(look: Look, section: str, entry: model.Entry, inside: Place, message: str) -> Problem:
    """A problem where the layer names the entry, even if the place itself stands in the shipped file."""
    problem = look.problem(section, entry, inside, message, key=True)
    changes = look.over.changed(section, entry.id) if look.over else ()
    if changes and problem.where.file == entry.where.file:
        return replace(problem, where=changes[-1].where)
    return problem


def _lowered(section: str, old: model.Entry, new: model.Entry, fixed: _Matters, base: KnowledgeBase) -> Iterator[str]:
    """The fields in which an entry has been made less safe, or changed though it is fixed."""
    changed = [name for name in type(old).model_fields if getattr(old, name) != getattr(new, name)]
    for name in changed:
        if name in ("id", "where", "quiet"):
            continue
        if not _allowed(section, name, old, new, fixed, base):
            yield name


def _keeps_the_ban(name: str, was: Any, now: Any) -> bool:
    """Where nothing may stand in for a part or its kind, as for a fuse, nothing may later; it stays of its kind."""
    if name == "kind_of":
        return was is None
    return name != "stand_in" or was is None or not was.never or bool(now is not None and now.never)


def _allowed(section: str, name: str, old: model.Entry, new: model.Entry, fixed: _Matters, base: KnowledgeBase) -> bool:
    was, now = getattr(old, name), getattr(new, name)
    if name == "cautions":
        return set(was) <= set(now)
    if name == "safety":
        return bool(now)
    if name == "hands":
        return was is None or _HANDS.index(now) >= _HANDS.index(was)
    if name in ("prepare", "setup", "last"):
        return not was
    if isinstance(old, model.Cause) and isinstance(new, model.Cause) and name == "bars":
        return _BARS.index(bars_of(new)) <= _BARS.index(bars_of(old))
    if name == "stage":
        return (
            old.id not in fixed.checks
            and STAGES.index(now) >= STAGES.index(was)
            and not (was in POWERED and now not in POWERED)
        )
    if name == "hazard":
        return _HAZARDS.index(now) >= _HAZARDS.index(was)
    if section == "parts":
        return _keeps_the_ban(name, base.parts_list.stand_in(base.parts[old.id]) if name == "stand_in" else was, now)
    if section == "holds":
        return (name == "blocks" and STAGES.index(now) < STAGES.index(was)) or (name == "standing" and bool(now))
    if section == "rules" and old.id in fixed.rules:
        return name in ("because", "examples") or (name == "then" and all(one in now for one in was))
    if section == "checks" and old.id in fixed.checks:
        return name in ("name", "minutes", "normal", "tools")
    if section == "findings":
        return old.id not in fixed.findings
    if section == "repairs" and old.id in fixed.repairs:
        return name != "proof"
    if section == "causes" and old.id in fixed.causes:
        return name in ("name", "part", "fault", "why", "more") or _as_grave(name, was, now, base)
    return True


def _as_grave(name: str, was: object, now: object, base: KnowledgeBase) -> bool:
    """Whether a changed field leaves a cause as likely, as easily seen and as well repaired as it was."""
    scale = base.scale
    if name == "repairs" and isinstance(was, tuple) and isinstance(now, tuple):
        return set(was) <= set(now)
    if name == "commonness":
        return scale.commonness.get(str(now), 0.0) >= scale.commonness[str(was)]
    if name == "shows" and isinstance(was, dict) and isinstance(now, dict):
        often = scale.how_often
        return all(often.get(str(now.get(id_)), 0.0) >= often[word] for id_, word in was.items())
    return False


@lint("error", always=True, between_layers=True)
def rule_lowers_safety(look: Look) -> Iterator[Problem]:
    """A rule of a layer that would leave out a check bearing on safety, lower or rule out a cause that can burn or
    shock, forbid its repair, or conclude a finding that keeps a hold away. That is refused. State what was seen as a
    finding of your own, and let the shipped rules judge.
    """
    if look.below is None:
        return
    fixed = matters(look.below)
    for rule in look.base.rules.values():
        shipped = look.below.rules.get(rule.id)
        for number, one in enumerate(rule.then):
            if shipped is not None and one in shipped.then:
                continue
            why = ""
            check = look.base.checks.get(one.skip or "")
            if one.skip and (one.skip in fixed.checks or (check is not None and check.safety)):
                why = f"the check '{one.skip}' bears on safety and can't be left out"
            elif (cause := one.lowers or one.rule_out) and cause in fixed.causes:
                why = f"'{cause}' can burn or shock; a layer can't make it less likely"
            elif one.forbid in fixed.repairs:
                why = f"'{one.forbid}' fixes what can burn or shock; a layer can't forbid it"
            elif one.conclude in fixed.silencing:
                why = f"concluding '{one.conclude}' can keep a hold away"
            if why:
                yield look.problem("rules", rule, ("then", number), f"refused: {why}")


@lint("error", always=True, between_layers=True)
def check_could_clear(look: Look) -> Iterator[Problem]:
    """A check of a layer that could answer no to a finding that holds rest on: whoever answers it would lift the hold.
    Let it yield a finding of its own, and a rule conclude the other from it.
    """
    if look.below is None:
        return
    fixed = matters(look.below)
    for check in look.base.written.values():
        shipped = look.below.checks.get(check.id)
        new = set(check.findings()) - set(shipped.findings() if shipped else ())
        for finding in sorted(fixed.findings & new):
            message = f"could answer no to '{finding}', which holds rest on"
            yield _at_the_layer(look, "checks", check, (), message)


@lint("error", always=True, between_layers=True)
def hazard_crowded_out(look: Look) -> Iterator[Problem]:
    """A cause of a layer that joins the group of one that can burn or shock: causes of a group exclude one another, so
    the more common newcomer would make the hazard improbable. Leave it a group of its own.
    """
    if look.below is None:
        return
    groups = {look.below.group(id_) for id_ in matters(look.below).causes}
    for cause in look.base.causes.values():
        shipped = look.below.causes.get(cause.id)
        if cause.group in groups and (shipped is None or shipped.group != cause.group):
            message = f"joins the group '{cause.group}' of a cause that can burn or shock"
            yield look.problem("causes", cause, ("group",), message)


@lint("error", always=True, between_layers=True)
def repair_without_caution(look: Look) -> Iterator[Problem]:
    """A repair that a layer adds names at least one caution: nearly every one is done on a chassis whose capacitors
    can kill. Name `unplugged` and `discharge`, or what fits.
    """
    if look.below is None:
        return
    for repair in look.base.repairs.values():
        if repair.id not in look.below.repairs and not repair.cautions:
            yield look.problem("repairs", repair, (), "names no caution", key=True)
