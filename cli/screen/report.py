"""What a job comes to: how complaints end, the ranking, what does not fit together, and why."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from ...engine.bench.notation import show
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning.conflict import Conflict
from ...engine.reasoning.explain import minutes_spent
from ...engine.reasoning.log import Log
from ...engine.reasoning.plan import worthwhile
from ...engine.reasoning.session import Explaining, Standing
from ...engine.reasoning.steps import Step
from . import views, volts
from .screen import Screen
from .views import percent

if TYPE_CHECKING:
    from ..shapes import shapes


def ending(screen: Screen, now: Standing, log: Log, brief: bool = False) -> None:
    """How the job stands: complaints, repairs (brief: by name), ranking, holds, contradictions, minutes, caution."""
    from ..shapes.results import standing_shape

    shape = standing_shape(now, log)
    screen.heading("How each complaint ends")
    complaints(screen, now)
    if now.conflicts:
        screen.heading("What does not fit together")
        conflicts(screen, now.base, now.conflicts)
    proposed = [one for one in shape.repairs if one.state == "proposed"]
    done = [one for one in shape.repairs if one.state != "proposed"]
    if done:
        screen.heading("Repairs done")
        said = {"proven": "proven", "failed": "NOT proven: the fault is still there", "done": "proof still to come"}
        waits = {one.cause: doubt for one in done if (doubt := now.plan.unproven(one.cause))}
        ends = {one.cause: f"tried, not proven yet: {waits[one.cause].text}" for one in done if one.cause in waits}
        told = [f"{one.name}, for: {one.cause_name}: {ends.get(one.cause, said[one.state])}" for one in done]
        screen.bullets(told, indent=2)
    if proposed:
        screen.heading("Repairs to do now, in this order")
        if brief:
            screen.numbered([f"{one.name}, for: {one.cause_name}" for one in proposed], indent=2)
        for one in proposed if not brief else []:
            views.repair(screen, one)
    screen.heading("The ranking")
    ranking(screen, now)
    if now.learned:
        screen.line(f"Closed jobs of this shop weigh in (table {now.learned}): chopstick jobs learned", indent=2)
    volts.against(screen, shape.circuit)
    if now.deduction.skip:
        screen.heading("Checks that rules leave out")
        views.left_out(screen, now)
    open_ = [hold for hold in shape.holds if hold.answered is False or (hold.rule and hold.answered is None)]
    if open_:
        screen.heading("Open holds")
        views.holds(screen, open_)
    screen.line()
    left = f", {views.minutes_left(now)}" if now.next.kind != "done" else ""
    screen.line(f"Bench minutes: {minutes_spent(now, log):.0f} spent{left}.")
    screen.line()
    views.caution(screen)


def conflicts(screen: Screen, base: KnowledgeBase, found: Iterable[Conflict]) -> None:
    for one in found:
        if one.one == one.other:
            screen.line("These answers do not fit together:", "bold", indent=2)
            screen.line(base.text(one.one), indent=4)
        else:
            screen.line("These two do not fit together:", "bold", indent=2)
            screen.bullets([base.text(one.one), base.text(one.other)], indent=4)
        screen.line(one.why, indent=4)


def ranking(screen: Screen, now: Standing, most: int = 10) -> None:
    """The leading causes as a table with bars that read without colour."""
    shown = now.leading[:most]
    if not shown:
        screen.line("Nothing stands out yet.", indent=2)
    said = {True: ", repaired and proven", False: ", repaired, NOT proven", None: ", repaired"}
    states = {one.cause: said[one.proven] for one in now.facts.repairs}
    bar = (lambda _: "") if screen.plain else _bar
    screen.table(
        [
            (percent(p := one.probability), bar(p), now.base.causes[one.cause].name + states.get(one.cause, ""))
            for one in shown
        ],
        indent=2,
    )


def _bar(probability: float) -> str:
    return ("#" * round(probability * 10)).ljust(10, ".")


def complaints(screen: Screen, now: Standing) -> None:
    """Each complaint with how it ends."""
    for number, one in enumerate(now.complaints, start=1):
        screen.line(f"{number}. \"{one.words}\" ({now.base.text(one.said.finding)})", "bold")
        screen.line(verdict(now, one), indent=3)


def verdict(now: Standing, one: Explaining) -> str:
    """How a complaint ends, in words."""
    base = now.base
    if one.verdict in ("repair", "repaired", "proven"):
        repair_, cause = base.repairs[one.repair], base.causes[one.cause].name
        if one.verdict == "proven":
            return f"Proven. {repair_.name}, for: {cause}; gone at the check that proves it."
        proof = base.checks[repair_.proof_for(base.causes[one.cause]).check].name
        if one.verdict == "repaired" and any(r.cause == one.cause and r.proven for r in now.facts.repairs):
            again = base.symptoms[one.said.finding].ask
            return f"Repaired: {repair_.name}, for: {cause}, and proven. Only this was not tried again: {again}"
        if one.verdict == "repaired":
            waits = now.plan.unproven(one.cause)
            tried = f" That was tried, and tells nothing yet. {waits.text}; {waits.settle}" if waits else ""
            return f"Repaired: {repair_.name}, for: {cause}. Still to be proven by: {proof}.{tried}"
        p = percent(now.ranking.probability[one.cause])
        if base.causes[one.cause].by_design:
            return f"Normal for this amp: {cause} ({p}). {repair_.name}. Shown by: {proof}."
        return f"Repair now: {repair_.name}. It is: {cause} ({p}). Proven by: {proof}."
    likely = "; ".join(f"{base.causes[c.cause].name} {percent(c.probability)}" for c in one.candidates[:4])
    if one.verdict == "checks":
        return f"More checks are worth doing: {'; '.join(base.checks[id_].name for id_ in one.checks)}. Now: {likely}."
    if one.verdict == "not separable":
        by = "No check here tells them apart."
        if one.separating:
            by = f"It would take: {base.checks[one.separating].name}."
        return f"Not separable with what could be done: {likely}. {by}"
    rest = f" Nearest: {likely}." if likely else ""
    return f"Not explained by anything known here.{rest} Look further than this tool does."


def reasons(screen: Screen, shape: shapes.ReasonsShape) -> None:
    """Why a cause stands where it does."""
    screen.heading(f"{shape.name}: {percent(shape.probability)}")
    screen.line(f"Before anything was said of this amp: {percent(shape.prior)}.", indent=2)
    if shape.taught:
        taught = shape.taught
        kept = "; it was not let fall, since it bears on safety" if taught.kept else ""
        rates = f"{taught.prior * 1000:.3g} in 1000 by the knowledge base, {taught.now * 1000:.3g} now"
        seen = f"on {taught.found} of {taught.amps} amps of this kind"
        screen.line(f"Closed jobs had it {seen}: {rates}{kept}.", indent=2)
    for_ = [one for one in shape.weights if one.log_odds >= 0.02]
    against = [one for one in shape.weights if one.log_odds <= -0.02]
    for title, group in (("Speaks for it", for_), ("Speaks against it", against)):
        if group:
            screen.line(f"{title}, and what it does to the odds:", indent=2)
            screen.table([(weight(w.log_odds), _said_so(w)) for w in group], indent=4)
    if not for_ and not against:
        screen.line("Nothing said so far bears on it.", indent=2)
    for one in shape.rules:
        does = "rules it out" if one.log_odds is None else weight(one.log_odds)
        screen.line(f"rule, {does}: {one.because}", indent=2)
    _volts(screen, shape.volts)
    if shape.turns:
        screen.line("What would change it most:", indent=2)
        screen.table([(f"{percent(t.lowest)} or {percent(t.highest)}", t.name) for t in shape.turns], indent=4)
    screen.line(f"All that is known of it: chopstick kb show {shape.cause}", indent=2)


def _volts(screen: Screen, shape: shapes.VoltsReasonShape | None) -> None:
    """What the volts say of one cause, predicted beside measured."""
    if shape is None:
        return
    if shape.silent:
        screen.line("The volts say nothing of it either way: no DC reading shows it.", indent=2)
        return
    if shape.log_odds < -1.5:  # less is but the share of its faults elsewhere
        screen.line(f"The volts read speak against it: {weight(shape.log_odds)}.", indent=2)
    if shape.predicted:
        screen.line("The volts read, and what it would give:", indent=2)
        rows = [(p, show(v, "V"), show(shape.predicted[p], "V")) for p, v in shape.readings.items()]
        screen.table([("test point", "read", "with it"), *rows], indent=4)


def _said_so(one: shapes.WeightShape) -> str:
    return one.text if one.present else f"not so: {one.text}"


def weight(log_odds: float) -> str:
    """A change of log odds in words and as a factor."""
    factor = math.exp(min(abs(log_odds), 25.0))
    words = ((20, "decides"), (6, "strongly"), (2, "clearly"), (1.2, "slightly"))
    word = next((word for least, word in words if factor >= least), "hardly")
    shown = f"{factor:.0f}" if factor >= 10 else f"{factor:.1f}"
    return f"{word}, {'x' if log_odds >= 0 else '/'} {shown if factor < 1e6 else 'a million and more'}"


def where(screen: Screen, now: Standing) -> None:
    """Where a job stands, in short."""
    screen.heading("Complaints")
    complaints(screen, now)
    screen.heading("Ranking")
    ranking(screen, now)
    raised = [hold for hold in now.holds if hold.rule or hold.answered is False]
    if raised:
        screen.heading("Holds")
        views.holds(screen, raised)
    volts.circuit(screen, now)
    from ..shapes.results import volts_shape

    volts.against(screen, volts_shape(now))


def why_now(screen: Screen, now: Standing, step: Step) -> None:
    """Why a step comes now: what it bears on, what it costs, what had to come before, what else there is."""
    base = now.base
    screen.line(f"Why now: {step.why}.", indent=2)
    if step.kind not in ("check", "proof"):
        return
    check = base.checks[step.id]
    settled = {cause for finding in check.findings() for cause in base.causes_showing.get(finding, ())}
    bears = [f'"{one.words}"' for one in now.complaints if settled & {c.cause for c in one.candidates}]
    if bears:
        screen.line(f"It bears on: {', '.join(bears)}.", indent=2)
    if step.worth:
        screen.line(f"It takes {step.worth.minutes:.0f} min with moving the work to its stage.", indent=2)
    if check.after:
        screen.line(f"It had to wait for: {'; '.join(base.checks[id_].name for id_ in check.after)}.", indent=2)
    others = [one for one in worthwhile(now.worths) if one.check != step.id][:3]
    if others:
        screen.line("What else would be worth doing:", indent=2)
        rows = [(f"saves {one.saves:.0f} for {one.minutes:.0f} min", base.checks[one.check].name) for one in others]
        screen.table(rows, indent=4)
