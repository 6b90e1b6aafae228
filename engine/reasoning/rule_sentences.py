"""What a rule asks for and what it concludes, in plain sentences."""

from __future__ import annotations

from ..bench.notation import show
from ..knowledge import model
from ..knowledge.base import KnowledgeBase


def sentence(base: KnowledgeBase, leaf: model.Condition, wanted: bool = True) -> str:
    """A plain condition as a sentence; wanted: false for its being known not to hold."""
    no = "" if wanted else "not so: "
    if leaf.finding is not None:
        return f"{no}{base.text(leaf.finding)}"
    if leaf.denied is not None:
        return f"{'answered no' if wanted else 'so'}: {base.text(leaf.denied)}"
    if leaf.unknown is not None:
        return f"{'nothing' if wanted else 'something'} is known of: {base.text(leaf.unknown)}"
    if leaf.complaint is not None:
        return f"{no}the player complains of: {base.text(leaf.complaint)}"
    if leaf.spoken is not None:
        return f"the rule '{leaf.spoken}' has {'' if wanted else 'not '}spoken"
    if leaf.answer is not None:
        keys = leaf.is_ if isinstance(leaf.is_, tuple) else (leaf.is_ or "",)
        return f"{base.checks[leaf.answer].name}: {'' if wanted else 'not '}answered {' or '.join(keys)}"
    if leaf.amp is not None:
        told = "; ".join(f"{fact} is {_listed(value)}" for fact, value in leaf.amp.items())
        return f"{no}{told}"
    bounds = [
        f"{word} {_bound(base, leaf, bound)}"
        for word, bound in (("above", leaf.above), ("below", leaf.below))
        if bound is not None
    ]
    if leaf.since is not None:
        return f"{no}minutes since {leaf.since.replace('/', ' ')}: {' and '.join(bounds)}"
    return f"{no}{quantity_named(base, leaf.value or '')}: {' and '.join(bounds)}"


def _bound(base: KnowledgeBase, leaf: model.Condition, bound: float | model.Other) -> str:
    if not isinstance(bound, model.Other):
        return f"{bound:g}" if leaf.since is not None else quantity_shown(base, leaf.value or "", bound)
    times = "" if bound.times == 1 else f"{bound.times:g} times "
    more = "plus" if bound.plus > 0 else "less"
    plus = "" if bound.plus == 0 else f" {more} {quantity_shown(base, bound.value, abs(bound.plus))}"
    return f"{times}({quantity_named(base, bound.value)}){plus}"


def quantity_named(base: KnowledgeBase, name: str) -> str:
    """A reading or figure, CHECK/NAME, in words."""
    check_id, _, quantity = name.partition("/")
    check = base.checks.get(check_id)
    if check is None:
        return name
    if quantity in check.readings:
        return check.readings[quantity].ask
    figure = check.figures.get(quantity)
    return figure.text or f"{quantity.replace('-', ' ')} of: {check.name}" if figure else name


def quantity_shown(base: KnowledgeBase, name: str, value: float) -> str:
    """A value of a reading or figure in its unit."""
    check_id, _, quantity = name.partition("/")
    check = base.checks.get(check_id)
    if check is not None and quantity in check.readings:
        return show(value, check.readings[quantity].unit)
    unit = check.figures[quantity].unit if check is not None and quantity in check.figures else None
    return show(value, unit) if unit else f"{value:g}"


def conclusion(base: KnowledgeBase, one: model.Conclusion) -> str:
    """A conclusion as a sentence."""
    about = one.about
    change = f"times {one.times:g}" if one.times is not None else "" if one.add is None else f"{one.add:+g}"
    match one.form:
        case "conclude":
            return f"it is so: {base.text(about)}"
        case "raise" | "lower":
            return f"{base.causes[about].name}: {one.by} {'more' if one.form == 'raise' else 'less'} likely"
        case "rule_out":
            return f"{base.causes[about].name}: ruled out"
        case "check_first":
            return f"check this first: {base.checks[about].name}"
        case "skip":
            return f"leave out: {base.checks[about].name}"
        case "hold":
            return f"HOLD: {base.holds[about].text}"
        case "prefer":
            return f"the repair to prefer: {base.repairs[about].name}"
        case "forbid":
            return f"a repair not to do: {base.repairs[about].name}"
        case "check_minutes":
            return f"minutes {change}: {base.checks[about].name}"
        case "repair_minutes":
            return f"minutes {change}: {base.repairs[about].name}"
        case "price":
            return f"price of the parts {change}: {base.repairs[about].name}"
    return f"advice: {about}"


def _listed(value: object) -> str:
    return " or ".join(map(str, value)) if isinstance(value, tuple) else str(value)
