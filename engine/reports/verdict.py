"""How a complaint stands, in words: for the bench, and for the amp's owner."""

from __future__ import annotations

from ..reasoning.session import ComplaintStanding, Standing
from ..reasoning.wording import percent

MOST_NAMED = 4  # causes


def verdict(now: Standing, one: ComplaintStanding) -> str:
    """For the bench."""
    base = now.base
    likely = "; ".join(f"{cause.name} {percent(cause.probability)}" for cause in one.candidates[:MOST_NAMED])
    match one.verdict:
        case "proven" | "repaired" | "repair":
            return _of_a_repair(now, one)
        case "checks":
            checks = "; ".join(base.checks[id_].name for id_ in one.checks)
            return f"More checks are worth doing: {checks}. Now: {likely}."
        case "not separable":
            by = "No check here tells them apart."
            if one.separating:
                by = f"It would take: {base.checks[one.separating].name}."
            return f"Not separable with what could be done: {likely}. {by}"
    rest = f" Nearest: {likely}." if likely else ""
    return f"Not explained by anything known here.{rest} Look further than this tool does."


def _of_a_repair(now: Standing, one: ComplaintStanding) -> str:
    base = now.base
    repair, cause = base.repairs[one.repair], base.causes[one.cause]
    if one.verdict == "proven":
        return f"Proven. {repair.name}, for: {cause.name}; gone at the check that proves it."
    proof = base.checks[repair.proof_for(cause).check].name
    if one.verdict == "repaired" and any(done.cause == one.cause and done.proven for done in now.facts.repairs):
        again = base.symptoms[one.symptom].ask
        return f"Repaired: {repair.name}, for: {cause.name}, and proven. Only this was not tried again: {again}"
    if one.verdict == "repaired":
        waits = now.plan.unproven(one.cause)
        tried = f" That was tried, and tells nothing yet. {waits.text}; {waits.settle}" if waits else ""
        return f"Repaired: {repair.name}, for: {cause.name}. Still to be proven by: {proof}.{tried}"
    p = percent(now.ranking.probability[one.cause])
    if cause.by_design:
        return f"Normal for this amp: {cause.name} ({p}). {repair.name}. Shown by: {proof}."
    return f"Repair now: {repair.name}. It is: {cause.name} ({p}). Proven by: {proof}."


def outcome(now: Standing, one: ComplaintStanding) -> str:
    """For the owner, who is told what came of it and no odds."""
    repairs, causes = now.base.repairs, now.base.causes
    match one.verdict:
        case "proven":
            return f"Fixed, and proven on the bench: {repairs[one.repair].name}."
        case "repaired":
            return "Worked on; still to be tried."
        case "repair":
            return f"The reason is found ({causes[one.cause].name}). Still to do: {repairs[one.repair].name}."
        case "not separable":
            return f"Narrowed down as far as could be done here: {' or '.join(c.name for c in one.candidates[:3])}."
        case "checks":
            return "Not found yet; more checks would be worth doing."
    return "Not explained by anything found."
