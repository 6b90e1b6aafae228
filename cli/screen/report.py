"""What a job comes to: how complaints end, the ranking, what does not fit together, and why."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from ...engine.bench.notation import show
from ...engine.late import late
from ...engine.reasoning import wording
from ...engine.reasoning.conflict import Conflict
from ...engine.reasoning.log import Log
from ...engine.reasoning.minutes_spent import minutes_spent
from ...engine.reasoning.plan import worthwhile
from ...engine.reasoning.session import Standing
from ...engine.reasoning.steps import Step
from ...engine.reasoning.wording import percent
from . import views, volts
from .screen import Screen

if TYPE_CHECKING:
    from ...engine.reports.reasons import Reasons, VoltsReason, Weight

with late():
    from ...engine.reports import repairs as reports_repairs
    from ...engine.reports import verdict as reports_verdict
    from ...engine.reports import volts as reports_volts


def ending(screen: Screen, now: Standing, log: Log, brief: bool = False) -> None:
    """How the job stands: complaints, repairs (brief: by name), ranking, holds, contradictions, minutes, caution."""
    repairs = reports_repairs.repairs_of(now)
    screen.heading("How each complaint ends")
    complaints(screen, now)
    if now.conflicts:
        screen.heading("What does not fit together")
        conflicts(screen, now.conflicts)
    proposed = [one for one in repairs if one.state == "proposed"]
    done = [one for one in repairs if one.state != "proposed"]
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
    volts.against(screen, reports_volts.volts_of(now))
    if now.deduction.skip:
        screen.heading("Checks that rules leave out")
        views.left_out(screen, now)
    open_ = [hold for hold in now.holds if hold.open]
    if open_:
        screen.heading("Open holds")
        views.holds(screen, open_)
    screen.line()
    left = f", {views.minutes_left(now)}" if now.next.kind != "done" else ""
    screen.line(f"Bench minutes: {minutes_spent(now, log):.0f} spent{left}.")
    screen.line()
    views.caution(screen)


def conflicts(screen: Screen, found: Iterable[Conflict]) -> None:
    for one in found:
        if one.one == one.other:
            screen.line("These answers do not fit together:", "bold", indent=2)
            screen.line(one.one_text, indent=4)
        else:
            screen.line("These two do not fit together:", "bold", indent=2)
            screen.bullets([one.one_text, one.other_text], indent=4)
        screen.line(one.why, indent=4)


def ranking(screen: Screen, now: Standing, most: int = 10) -> None:
    """The leading causes as a table with bars that read without color."""
    shown = now.leading[:most]
    if not shown:
        screen.line("Nothing stands out yet.", indent=2)
    said = {True: ", repaired and proven", False: ", repaired, NOT proven", None: ", repaired"}
    states = {one.cause: said[one.proven] for one in now.facts.repairs}
    bar = (lambda _: "") if screen.plain else _bar
    screen.table(
        [(percent(p := one.probability), bar(p), one.name + states.get(one.cause, "")) for one in shown],
        indent=2,
    )
    if estimated := wording.how_exact(now.ranking.posterior.bound):
        screen.line(estimated, indent=2)


def _bar(probability: float) -> str:
    return ("#" * round(probability * 10)).ljust(10, ".")


def complaints(screen: Screen, now: Standing) -> None:
    """Each complaint with how it ends."""
    for number, one in enumerate(now.complaints, start=1):
        screen.line(f'{number}. "{one.says}" ({one.name})', "bold")
        screen.line(reports_verdict.verdict(now, one), indent=3)


def reasons(screen: Screen, told: Reasons) -> None:
    """Why a cause stands where it does."""
    screen.heading(f"{told.name}: {percent(told.probability)}")
    screen.line(f"Before anything was said of this amp: {percent(told.prior)}.", indent=2)
    if taught := told.taught:
        kept = "; it was not let fall, since it bears on safety" if taught.kept else ""
        rates = f"{taught.prior * 1000:.3g} in 1000 by the knowledge base, {taught.now * 1000:.3g} now"
        seen = f"on {taught.found} of {taught.amps} amps of this kind"
        screen.line(f"Closed jobs had it {seen}: {rates}{kept}.", indent=2)
    for_ = [one for one in told.weights if one.log_odds >= 0.02]
    against = [one for one in told.weights if one.log_odds <= -0.02]
    for title, group in (("Points to it", for_), ("Points away from it", against)):
        if group:
            screen.line(f"{title}, and what it does to the odds:", indent=2)
            screen.table([(weight(w.log_odds), _said_so(w)) for w in group], indent=4)
    if not for_ and not against:
        screen.line("Nothing said so far bears on it.", indent=2)
    for one in told.rules:
        does = "rules it out" if one.log_odds is None else weight(one.log_odds)
        screen.line(f"rule, {does}: {one.because}", indent=2)
    _volts(screen, told.volts)
    if told.turns:
        screen.line("What would change it most:", indent=2)
        screen.table([(f"{percent(t.lowest)} or {percent(t.highest)}", t.name) for t in told.turns], indent=4)
    screen.line(f"All that is known of it: chopstick kb show {told.cause}", indent=2)


def _volts(screen: Screen, told: VoltsReason | None) -> None:
    """What the volts say of one cause, predicted beside measured."""
    if told is None:
        return
    if told.silent:
        screen.line("The volts say nothing of it either way: no DC reading shows it.", indent=2)
        return
    if told.log_odds < -1.5:  # less is but the share of its faults elsewhere
        screen.line(f"The volts read point away from it: {weight(told.log_odds)}.", indent=2)
    if told.predicted:
        screen.line("The volts read, and what it would give:", indent=2)
        rows = [(p, show(v, "V"), show(told.predicted[p], "V")) for p, v in told.readings.items()]
        screen.table([("test point", "read", "with it"), *rows], indent=4)


def _said_so(one: Weight) -> str:
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

    volts.against(screen, reports_volts.volts_of(now))


def why_now(screen: Screen, now: Standing, step: Step) -> None:
    """Why a step comes now: what it bears on, what it costs, what had to come before, what else there is."""
    base = now.base
    screen.line(f"Why now: {step.why}.", indent=2)
    if step.kind not in ("check", "proof"):
        return
    check = base.checks[step.id]
    settled = {cause for finding in check.findings() for cause in base.causes_showing.get(finding, ())}
    bears = [f'"{one.says}"' for one in now.complaints if settled & {c.cause for c in one.candidates}]
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
