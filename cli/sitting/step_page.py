"""The page of one step: what a check, a hold or a repair shows with its question, at either level."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from ...engine.jobs.shop.minutes_left import expected
from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning import pins
from ...engine.reasoning.log import Log
from ...engine.reasoning.minutes_spent import minutes_spent
from ...engine.reasoning.nodes import filter_nodes
from ...engine.reasoning.outcomes import meanings
from ...engine.reasoning.session import Standing
from ...engine.reasoning.steps import Step
from ...engine.reasoning.wording import percent, proof_wants, volts_said
from ..screen import volts
from ..screen.page import Page, PageBlock, Strip
from ..screen.views import HAZARD, STAGE, minutes, parts_and_proof, range_name

if TYPE_CHECKING:
    from ...engine.reports.repairs import RepairOfJob

STANDS = {
    "": "not known to be unplugged", "look": "UNPLUGGED, still charged", "cold": "unplugged, bled and measured",
    "first power": "UNDER POWER, on the limiter", "live": "UNDER POWER, full mains", "play": "UNDER POWER, full mains",
}  # fmt: skip
PROGRESS = {
    "checks": "looking", "repair": "found", "repaired": "to be proven", "proven": "proven",
    "not separable": "not separable", "not explained": "not explained",
}  # fmt: skip


def strip(now: Standing, log: Log, number: int | None) -> Strip:
    """The constant lines: job, stage of work, minutes, open holds; leading causes; progress of each complaint."""
    status = [f"job {number}"] if number else []
    spent = minutes(minutes_spent(now, log))
    stage = f"amp: {STANDS.get(now.facts.set_up.stage, STANDS[''])}"
    status += [stage, f"{spent} spent", f"about {_rounded(expected(now))} min left"]
    open_ = [hold.hold for hold in now.holds if hold.open]
    holds = f"open holds: {', '.join(open_) or 'none'}"
    status.append(holds)
    repaired = {one.cause for one in now.facts.repairs}
    waiting = [one for one in now.leading if one.cause not in repaired]
    leading = "; ".join(f"{now.base.causes[one.cause].name} {percent(one.probability)}" for one in waiting[:3])
    lines = [("leading", leading)] if leading else []
    counted = Counter(PROGRESS[one.verdict] for one in now.complaints)
    if counted:
        lines.append(("complaints", ", ".join(f"{count} {word}" for word, count in counted.items())))
    return Strip(tuple(status), tuple(lines), (stage, holds))


def _rounded(minutes: float) -> int:
    """Minutes no finer than they are known."""
    return round(minutes) if minutes < 20 else 5 * round(minutes / 5)


def check(now: Standing, step: Step, above: Strip, level: str) -> Page:
    """A check or a proof. A senior sees where and what is normal; the rest waits behind `more`."""
    found = now.base.checks[step.id]
    brief = level == "senior"
    points = ", ".join(dict.fromkeys(reading.point for reading in found.readings.values() if reading.point))
    where = [PageBlock("where", points)] if points else []
    where += [PageBlock(label, text) for label, text in volts.expected(now, found)]
    how, normal = PageBlock("how", pins.how(now.base, found, now.facts.amp)), PageBlock("normal", found.normal)
    tools = [PageBlock("tools", ", ".join(found.tools))] if found.tools else []
    told = _proof_of(now, step) if step.kind == "proof" else outcomes(now, found.id)
    rest = [*tools, PageBlock("stage", STAGE[found.stage]), PageBlock("why now", step.why)]
    first, more = ([*where, normal], [how, *told, *rest]) if brief else ([*where, how, normal, *told, *rest], [])
    kind = "PROOF" if step.kind == "proof" else "CHECK"
    about = f"{found.name} ({found.stage}, {minutes(now.deduction.check_minutes(found))})"
    cautions = _cautions(now.base, found.cautions)
    return Page(above, f"{kind}: {about}", "", cautions, tuple(first), tuple(more), about=about)


def _proof_of(now: Standing, step: Step) -> list[PageBlock]:
    done = next((one for one in now.facts.repairs if one.cause == step.cause), None)
    if done is None:
        return []
    proof = now.base.repairs[done.repair].proof_for(now.base.causes.get(done.cause))
    if proof.check != step.id:  # a complaint asked about again
        return [PageBlock("proof of", f"Must be gone: {now.base.text(now.base.checks[step.id].findings()[0])}")]
    return [PageBlock("proof of", proof_wants(now.base, proof))]


def _cautions(base: KnowledgeBase, ids: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(base.cautions[id_].text for id_ in ids)


def outcomes(now: Standing, check_id: str) -> list[PageBlock]:
    """The outcomes of a check, how probable each is, and what it would change."""
    found = now.base.checks[check_id]
    told = meanings(now, check_id)
    rows = []
    for meaning in told:
        label = meaning.key if found.answers else range_name(found, meaning)
        text = "" if found.answers and meaning.text == meaning.key else meaning.text
        moves = "; ".join(
            f"{now.base.causes[move.cause].name} {percent(move.before)} -> {percent(move.after)}"
            for move in (meaning.moves if len(told) <= 3 else meaning.moves[:1])
        )
        rows.append((label, percent(meaning.chance), " => ".join((text, moves)) if text and moves else text or moves))
    if not rows and found.answers:  # nothing new to be learned, but what the answers mean is still wanted
        rows = [(key, answer.text or "") for key, answer in found.answers.items() if answer.text]  # type: ignore[misc]
        return [PageBlock("what each answer means", rows=tuple(rows), way="rows")] if rows else []
    means = [PageBlock("what each outcome would mean", rows=tuple(rows), way="rows")] if rows else []
    would = tuple(volts.would_read(now, found))
    return [*means, PageBlock("what it would read with", rows=would, way="rows")] if would else means


def move(now: Standing, step: Step, above: Strip) -> Page:
    """A move: its steps, what hands do before power comes, and all that must be so, asked once."""
    found = now.base.moves[step.id]
    blocks = [PageBlock("steps", rows=tuple((text,) for text in found.steps), way="steps")]
    before = [
        (now.base.checks[id_].name, now.base.checks[id_].prepare or "")
        for id_ in step.prepared
        if id_ in now.base.checks
    ]
    if before:
        blocks.insert(0, PageBlock("first, while it is unplugged and bled", rows=tuple(before), way="rows"))
    if found.confirm:
        blocks.append(PageBlock("must be so", rows=tuple((text,) for text in found.confirm.values()), way="steps"))
    high = {
        name: volts for name, volts in now.facts.set_up.volts.items() if found.volts and abs(volts) >= found.volts.below
    }
    if found.volts and high:
        blocks.insert(0, PageBlock("not yet", f"{volts_said(high)}. {found.volts.high}"))
    blocks.append(PageBlock("why now", step.why))
    cautions = tuple(dict.fromkeys((found.text, *_cautions(now.base, found.cautions))))
    if found.volts:
        nodes = filter_nodes(now)
        asked = f"Volts DC at {' '.join(nodes)}" if nodes else "Volts DC at each filter node, one after another"
        question = f"{asked}, as in 3 1.5; or no if it is not so yet"
    else:
        question = "All of it so? [yes, no]"
    return Page(above, f"MOVE: {found.name} ({minutes(found.minutes)})", question, cautions, tuple(blocks),
                words=() if found.volts else ("yes", "no"), about=found.name)  # fmt: skip


def hold(now: Standing, step: Step, above: Strip, level: str) -> Page:
    """A hold; the text says what must be made sure, so it stands where cautions stand."""
    state = next(one for one in now.holds if one.hold == step.id)
    blocks = [PageBlock("why now", step.why)] if step.why else []
    what = "power with the power tubes in" if state.tubes else f"everything from the stage '{state.blocks}' on"
    blocks.append(PageBlock("bars", what))
    question, words = f"{state.ask} [yes, no]", ("yes", "no")
    if step.kind == "held":
        blocks.insert(0, PageBlock("", "Nothing more is offered until this is taken care of."))
        if state.kind in ("danger", "untold") or state.against:
            on = "To do a check: check NAME. To enter a repair: repair."
            senior = (
                " To take it on in writing: because REASON."
                if level == "senior"
                else " Have somebody senior look at it."
            )
            blocks.append(PageBlock("to go on", on if state.against else on + senior))
            return Page(above, "HOLD: stop here first", "What now? no leaves it as it is", (state.text,), tuple(blocks),
                        words=("no",))  # fmt: skip
    return Page(above, "HOLD: stop here first", question, (state.text,), tuple(blocks), words=words)


def repair(one: RepairOfJob, above: Strip, level: str) -> Page:
    """A repair with its steps, parts and proof. A senior's first view leaves the steps for `more`."""
    rows = [PageBlock("for", f"{one.cause_name} ({percent(one.probability)})")]
    if one.hazard in HAZARD:
        rows.append(PageBlock("hazard", f"as it is, it {HAZARD[one.hazard]}"))
    rows.append(PageBlock("takes", f"{minutes(one.minutes)}, {one.skill}"))
    steps = [PageBlock("steps", rows=tuple((text,) for text in one.steps), way="steps")]
    ends = [PageBlock(label, text) for label, text in parts_and_proof(one)]
    first, more = ([*rows, *ends], steps) if level == "senior" else ([*rows, *steps, *ends], [])
    return Page(above, f"REPAIR: {one.name}", "Is it done? [done, later]", one.cautions, tuple(first), tuple(more),
                ("done", "later"), about=one.name)  # fmt: skip


def reading_question(check: model.Check, name: str, asked: str) -> str:
    """How one reading of a check is asked for, with its place among several."""
    names = list(check.readings)
    return f"Reading {names.index(name) + 1} of {len(names)}. {asked}" if len(names) > 1 else asked
