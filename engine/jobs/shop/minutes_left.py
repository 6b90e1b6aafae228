"""What is still ahead of a job: the causes that may have to be repaired, and the bench minutes that will take."""

from __future__ import annotations

from ...knowledge import model
from ...reasoning.plan import worthwhile
from ...reasoning.session import Standing

WORTH_COUNTING = 0.01  # causes less probable than this are left out
MOST_CAUSES = 24


def expected(now: Standing) -> float:
    """The bench minutes that are left, on average. An average needs no joint distribution, only each cause's own
    probability, so it is quick enough to be told at every step."""
    if now.next.kind == "done":
        return 0.0
    base, probability = now.base, now.ranking.probability
    spared: dict[str, float] = {}  # by repair, how probable it is that none of its causes is there
    minutes: dict[str, float] = {}
    for cause in open_causes(now):
        repair = base.repairs[now.deduction.repairs(base.causes[cause])[0]]
        spared[repair.id] = spared.get(repair.id, 1.0) * (1 - probability[cause])
        minutes.setdefault(repair.id, repair_minutes(now, repair, cause))
    complaints = [target.said for target in now.ahead.targets if target.said.finding in base.symptoms]
    lost = sum(now.ranking.unexplained(said) for said in complaints) * base.scale.unexplained_minutes
    return sum(checks_ahead(now)) / 2 + lost + sum((1 - spared[id_]) * minutes[id_] for id_ in minutes)


def repair_minutes(now: Standing, repair: model.Repair, cause: str) -> float:
    """Bench minutes of a repair with the check that proves it, and with moving the work from stage to stage."""
    proof = now.base.checks[repair.proof_for(now.base.causes.get(cause)).check]
    stages = dict.fromkeys(("cold", proof.stage))
    moves = sum(now.base.scale.change_of_stage_minutes.get(stage, 0.0) for stage in stages)
    return now.deduction.repair_minutes(repair) + now.deduction.check_minutes(proof) + moves


def open_causes(now: Standing) -> tuple[str, ...]:
    """The causes that may still have to be repaired, the most probable first: sure ones, and those that bear on
    something that is still to be explained."""
    done = repaired(now)
    bearing = {now.ranking.causes.ids[column] for column in now.ahead.bearing}
    probability = now.ranking.probability
    open_ = [
        id_
        for id_, p in probability.items()
        if id_ not in done and p >= WORTH_COUNTING and (id_ in bearing or p >= now.base.scale.sure)
    ]
    return tuple(sorted(open_, key=lambda id_: (-probability[id_], id_))[:MOST_CAUSES])


def repaired(now: Standing) -> frozenset[str]:
    """The causes that have been repaired, as far as this amp can have them."""
    return frozenset(one.cause for one in now.facts.repairs if one.cause in now.ranking.causes.column)


def checks_ahead(now: Standing) -> tuple[float, float]:
    """The fewest and the most bench minutes of checks still to come: those that bear on safety, with the best one or
    with all that are worth doing now."""
    if now.next.kind == "done":
        return 0.0, 0.0
    safety = sum(now.deduction.check_minutes(check) for check in now.plan.safety_checks())
    worth = [one.minutes for one in worthwhile(now.worths)]
    return safety + (worth[0] if worth else 0.0), safety + sum(worth)
