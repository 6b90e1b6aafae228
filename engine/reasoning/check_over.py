"""The round of checks for an amplifier with no complaint: every safety check, then what finds most for its time.

Beyond safety, checks are taken stage of work by stage of work, one by one: each time the one that adds most, a minute,
to the expected number of faults that would be seen if they were there (the greedy rule for covering under a budget). A
fault counts by how common it is on amps of this kind and by how often it shows what the check looks for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..knowledge import model
from .holds import reach
from .session import Standing
from .steps import USUAL

# What part of the time each stage of work gets; what one leaves goes to the next. Without it the ear would take it all,
# and nothing would be measured.
SHARE: Mapping[model.Stage, float] = {"look": 0.2, "cold": 0.2, "first power": 0.1, "live": 0.3, "play": 0.2}
LEAST_A_MINUTE = 1e-3  # faults in 1,000 amps and a minute, by which a check must add to be worth a healthy amp's time


def round_of_checks(now: Standing, minutes: float) -> tuple[model.Check, ...]:
    """Checks for an amp without a complaint, by stage of work: those for safety, and others up to `minutes`."""
    base, amp = now.base, now.facts.amp
    fit = sorted((check for check in base.checks.values() if _fits(now, check)), key=lambda one: (one.minutes, one.id))
    chosen = {check.id: check for check in fit if check.safety}
    for check in list(chosen.values()):
        chosen |= {one.id: one for one in _forerunners(now, check)}
    prior = dict(zip(now.ranking.causes.ids, now.ranking.causes.network.prior.tolist(), strict=True))
    unseen = dict.fromkeys(prior, 1.0)
    for check in chosen.values():
        _see(now, check, unseen)
    usual = [check for check in fit if base.share(check.needs, amp) >= 0.5 and check.check_over]
    left = 0.0
    for stage in model.STAGES:
        left += minutes * SHARE[stage]
        there = any(check.stage == stage for check in chosen.values())
        move = 0.0 if there else base.scale.change_of_stage_minutes.get(stage, 0.0)
        while (best := _best(now, usual, chosen, stage, left - move, prior, unseen)) is not None:
            chosen[best.id] = best
            left -= best.minutes + move
            move = 0.0
            _see(now, best, unseen)
    order = {id_: number for number, id_ in enumerate(chosen)}
    return tuple(sorted(chosen.values(), key=lambda check: (reach(check.stage), not check.safety, order[check.id])))


def _best(
    now: Standing,
    checks: Sequence[model.Check],
    chosen: Mapping[str, model.Check],
    stage: model.Stage,
    minutes: float,
    prior: Mapping[str, float],
    unseen: Mapping[str, float],
) -> model.Check | None:
    """The check of a stage that adds most a minute and still fits; None when none is worth its time."""
    best, best_rate = None, LEAST_A_MINUTE
    for check in checks:
        if check.stage != stage or check.id in chosen or check.minutes > minutes:
            continue
        if all(one in chosen for one in check.after):
            rate = _adds(now, check, prior, unseen) / check.minutes
            if rate > best_rate:
                best, best_rate = check, rate
    return best


def _fits(now: Standing, check: model.Check) -> bool:
    return (
        now.plan.applicable(check)
        and not now.plan.skipped(check)
        and (not check.safety or now.base.share(check.needs, now.facts.amp) >= USUAL)
    )


def _forerunners(now: Standing, check: model.Check) -> list[model.Check]:
    found: list[model.Check] = []
    for id_ in check.after:
        one = now.base.checks[id_]
        if now.plan.applicable(one):
            found += [*_forerunners(now, one), one]
    return found


def _missed(now: Standing, check: model.Check) -> Mapping[str, float]:
    """For each cause that shows something the check looks for, how often the check misses it all the same."""
    missed: dict[str, float] = {}
    for finding in check.findings():
        for cause in now.base.causes_showing.get(finding, ()):
            often = now.base.how_often(now.base.causes[cause].shows[finding])
            missed[cause] = min(missed.get(cause, 1.0), 1 - often)
    return missed


def _adds(now: Standing, check: model.Check, prior: Mapping[str, float], unseen: Mapping[str, float]) -> float:
    return sum(
        prior[cause] * max(0.0, unseen[cause] - missed)
        for cause, missed in _missed(now, check).items()
        if cause in prior
    )


def _see(now: Standing, check: model.Check, unseen: dict[str, float]) -> None:
    for cause, missed in _missed(now, check).items():
        if cause in unseen:
            unseen[cause] = min(unseen[cause], missed)
