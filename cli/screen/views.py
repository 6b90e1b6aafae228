"""How things look: each function writes one thing on a screen, plainly, for 80 columns in black and white."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from ...engine.bench.notation import show
from ...engine.caution import STANDING
from ...engine.jobs.shop.money import money
from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from ...engine.late import late
from ...engine.reasoning.facts import Facts
from ...engine.reasoning.holds import HoldState
from ...engine.reasoning.outcomes import MOVES_WORTH_NAMING, Meaning
from ...engine.reasoning.rule_sentences import conclusion
from ...engine.reasoning.session import Standing
from ...engine.reasoning.wording import cause_name, percent
from .screen import Screen

if TYPE_CHECKING:
    from datetime import date

    from ...engine.jobs.shop.agreement import Agreed
    from ...engine.reports.repairs import RepairOfJob

with late():
    from ...engine.jobs.shop import estimate

STAGE = {
    "look": "look (unplugged, still charged: hands stay outside)",
    "cold": "cold (unplugged, bled and measured)",
    "first power": "first power (current limited)",
    "live": "live (high voltage present)",
    "play": "play (signal in)",
}
HAZARD = {"damage": "can damage the amp if left", "fire": "can start a fire", "shock": "can give a shock"}


def caution(screen: Screen) -> None:
    screen.line(STANDING)


def amp(screen: Screen, now: Standing) -> None:
    """What is known of the amp, on one line."""
    screen.line(f"amp: {amp_said(now)}")


def amp_said(now: Standing) -> str:
    """What is known of the amp, each fact in its unit; '' for nothing."""
    units = {name: fact.unit for name, fact in now.base.amp_facts.items()}
    return ", ".join(
        f"{name} {show(value, units.get(name) or 'ratio') if isinstance(value, float) else value}"
        for name, value in now.facts.amp.items()
    )


def agreed(screen: Screen, base: KnowledgeBase, told: Agreed) -> None:
    """What came with the amp, what its owner wants and agreed to, what is waited for, and how it ended."""
    rows = [
        ("serial", told.serial), ("work before", told.work_before), ("came with", ", ".join(told.accessories)),
        ("owner wants", told.priority), ("budget", money(told.budget, told.currency)), ("promised", day(told.promised)),
    ]  # fmt: skip
    for one in told.approvals:
        up_to = f" up to {money(one.high, one.currency)}" if one.high is not None else ""
        rows.append(("approved" + up_to if one.approved else "declined", f"by {one.by or 'the owner'}, {day(one.at)}"))
    rows += [("awaited", f"{one.part}{f', due {day(one.due)}' if one.due else ''}") for one in told.awaited]
    if told.closed:
        names = [cause_name(base, id_) for id_ in told.closed.was]
        rows += [("closed", day(told.closed.at)), ("it was", "; ".join([*names, *filter(None, [told.closed.other])]))]
        left = [cause_name(base, id_) for id_ in told.closed.left]
        rows += [("left as it is", "; ".join(left)), ("charged", money(told.closed.charged, told.closed.currency))]
        rows += [("warranty until", day(told.closed.warranty_until)), ("went back, because", told.closed.reason)]
    screen.pairs([(label, text) for label, text in rows if text])


def day(when: date | None) -> str:
    """A day as ISO 8601 has it; '' for none."""
    return f"{when:%Y-%m-%d}" if when else ""


def range_name(found: model.Check, meaning: Meaning) -> str:
    """A band in words: the quantity and its bounds, as far as they are plain numbers."""
    unit = found.readings[meaning.key].unit if meaning.key in found.readings else found.figures[meaning.key].unit
    name = meaning.key.replace("-", " ")
    above, below = (show(b, unit) if isinstance(b, float) and unit else "" for b in (meaning.above, meaning.below))
    return (
        f"{name} {f'{above} to {below}' if above and below else f'over {above}' if above else f'under {below}'}"
        if (above or below)
        else name
    )


def quantity_name(found: model.Check, name: str) -> str:
    return name.replace("-", " ") if name in found.readings else (found.figures[name].text or name)


def repair(screen: Screen, one: RepairOfJob) -> None:
    """A repair with its steps, parts and proof."""
    screen.heading(f"REPAIR: {one.name}")
    rows = [("for", f"{one.cause_name} ({percent(one.probability)})")]
    if one.hazard in HAZARD:
        rows.append(("hazard", f"as it is, it {HAZARD[one.hazard]}"))
    rows.append(("takes", f"{minutes(one.minutes)}, {one.skill}"))
    rows += [("caution", text) for text in one.cautions]
    screen.pairs(rows)
    screen.numbered(one.steps, indent=2)
    screen.pairs(parts_and_proof(one))


def parts_and_proof(one: RepairOfJob) -> list[tuple[str, str]]:
    """What a repair takes, what it keeps, and what proves it: labels with their text."""
    parts = [("part", part.counted(part.specification)) for part in one.parts]
    return [*parts, ("keep", one.keeps), ("proof", f"{one.proof.name}. {one.proof.wants}")]


def values(screen: Screen, facts: Facts, found: model.Check) -> None:
    """The worked figures of a check, with warnings; and what its values can't tell."""
    doubts = [doubt for doubt in facts.doubts if doubt.check == found.id]
    for name in found.figures:
        value = facts.values.get(f"{found.id}/{name}")
        if value is None or (value.figure is None and any(doubt.quantity == name for doubt in doubts)):
            continue
        if value.figure is None:
            screen.line(f"{quantity_name(found, name)}: not worked out, {value.trouble}", indent=2)
            continue
        screen.line(str(value.figure), "bold", indent=2)
        for step in value.figure.steps:
            screen.line(step, indent=4)
        if value.figure.verdict:
            screen.line(value.figure.verdict, indent=4)
        for warning in value.figure.warnings:
            screen.line(f"beware: {warning}", indent=4)
    for doubt in doubts:
        screen.line(doubt.text, "bold", indent=2)
        screen.line(doubt.settle, indent=4)


def findings(screen: Screen, now: Standing, entry: int) -> None:
    """What the entry settled: true findings as sentences; and what rules made of it."""
    said = [one for one in (*now.facts.said, *now.deduction.findings) if one.entry == entry and one.present]
    for one in said:
        by_rule = one in now.deduction.findings
        screen.line(f"{'so' if by_rule else 'found'}: {now.base.text(one.finding)}", indent=2)
        if by_rule:
            screen.line(one.how, indent=6)


def proofs(screen: Screen, before: Standing, after: Standing) -> None:
    """Repairs that have just been proven, or not."""
    known = {one.entry: one.proven for one in before.facts.repairs}
    for one in after.facts.repairs:
        if one.proven is None or one.proven == known.get(one.entry):
            continue
        name = after.base.repairs[one.repair].name
        said = "proven" if one.proven else "NOT proven: the fault is still there, and the question is open again"
        screen.line(f"{name}: {said}.", "bold", indent=2)


def moves(screen: Screen, before: Standing, after: Standing, most: int = 4) -> None:
    """How the ranking moved."""
    was, is_ = before.ranking.probability, after.ranking.probability
    changed = [
        (id_, was.get(id_, 0.0), p) for id_, p in is_.items() if abs(p - was.get(id_, 0.0)) >= MOVES_WORTH_NAMING
    ]
    changed.sort(key=lambda one: -abs(one[2] - one[1]))
    for id_, old, new in changed[:most]:
        screen.line(f"{after.base.causes[id_].name}: {percent(old)} -> {percent(new)}", indent=2)


def holds(screen: Screen, found: Iterable[HoldState]) -> None:
    said = {True: "cleared", False: "OPEN", None: "to be asked"}
    screen.table([(said[one.answered], f"before {one.blocks}", one.ask) for one in found], indent=2)


def advice(screen: Screen, now: Standing, known: Iterable[str] = ()) -> None:
    for text, rule in now.deduction.advice:
        if text not in known:
            screen.line(f"advice: {text}", indent=2)
            screen.line(f"because: {now.base.rules[rule].because}", indent=10)


_SHOWN_ELSEWHERE = ("conclude", "advice", "hold", "check_first")  # each with its because where it matters


def rules(screen: Screen, before: Standing, after: Standing) -> None:
    """What rules that have just spoken did to odds, checks, repairs, minutes and prices, and why."""
    for id_, spoken in after.deduction.spoken.items():
        said = [one for one in spoken.rule.then if one.form not in _SHOWN_ELSEWHERE]
        if said and id_ not in before.deduction.spoken:
            for one in said:
                screen.line(f"rule: {conclusion(after.base, one)}", indent=2)
            screen.line(f"because: {spoken.rule.because}", indent=8)


def left_out(screen: Screen, now: Standing) -> None:
    """Checks that rules leave out, and why."""
    for id_, rule in now.deduction.skip.items():
        screen.line(f"{now.base.checks[id_].name}: left out", indent=2)
        screen.line(f"because: {now.base.rules[rule].because}", indent=6)


def minutes_left(now: Standing) -> str:
    """The time that is left, and how far it may be off."""
    left = estimate.ahead(now)
    return f"about {left.likely:.0f} min left ({left.low:.0f} to {left.high:.0f})"


def minutes(count: float) -> str:
    return f"{count:.0f} min"


def reading_prompt(reading: model.ReadingAsked) -> str:
    """How a reading is asked for, with its unit and the range that is believed at once."""
    low, high = (show(bound, reading.unit) for bound in reading.plausible)
    return f"{reading.ask} ({low} to {high}):"
