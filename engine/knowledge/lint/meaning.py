"""Every entry must be able to do something."""

from __future__ import annotations

from collections.abc import Iterator

from ...reference.errors import Problem
from .. import model
from .frame import Look, lint


@lint("error")
def unreachable_cause(look: Look) -> Iterator[Problem]:
    """A cause that shows no symptom can't be reached from anything a player says. Add the symptoms it shows,
    each with how often.
    """
    for cause in look.base.causes.values():
        if not any(id_ in look.base.symptoms for id_ in cause.shows):
            yield look.problem("causes", cause, ("shows",), "no symptom leads to this cause", key=True)


@lint("error", orphans=True)
def check_tells_nothing(look: Look) -> Iterator[Problem]:
    """A check none of whose findings bears on a cause or a rule, or whose outcomes all say the same: doing it
    changes nothing. Give its answers findings that some cause shows or some rule asks for.
    """
    heard = _heard(look)
    for check in look.base.written.values():
        answers = {(answer.findings, answer.denies) for answer in check.answers.values()}
        values = {f"{check.id}/{name}" for name in ("", *_names(check))}
        if heard.isdisjoint(check.findings()) and heard.isdisjoint(values):
            message = "tells nothing apart: no cause or rule uses its findings"
            yield look.problem("checks", check, (), message, key=True)
        elif check.answers and len(answers) < 2 and heard.isdisjoint(values):
            message = "tells nothing apart: all answers mean the same"
            yield look.problem("checks", check, ("answers",), message, key=True)


@lint("error", orphans=True)
def finding_never_settled(look: Look) -> Iterator[Problem]:
    """A finding that no check yields and no rule concludes can never be known. Add a check, or remove it."""
    concluded = {c.conclude for rule in look.base.rules.values() for c in rule.then}
    for finding in look.base.findings.values():
        if finding.id not in look.base.checks_settling and finding.id not in concluded:
            yield look.problem("findings", finding, (), "no check or rule ever settles this finding", key=True)


@lint("error", orphans=True)
def symptom_without_cause(look: Look) -> Iterator[Problem]:
    """A complaint that no cause explains would always end as 'not explained'. Name the causes that show it."""
    for symptom in look.base.symptoms.values():
        if symptom.id not in look.base.causes_showing:
            yield look.problem("symptoms", symptom, (), "no cause shows this symptom", key=True)


@lint("error", orphans=True)
def unused_entry(look: Look) -> Iterator[Problem]:
    """A repair no cause asks for, or a hold no rule raises and that is not standing: it would never be seen."""
    wanted = {id_ for cause in look.base.causes.values() for id_ in cause.repairs}
    raised = {c.hold for rule in look.base.rules.values() for c in rule.then}
    for repair in look.base.repairs.values():
        if repair.id not in wanted:
            yield look.problem("repairs", repair, (), "no cause asks for this repair", key=True)
    for hold in look.base.holds.values():
        if not hold.standing and hold.id not in raised:
            yield look.problem("holds", hold, (), "no rule raises this hold", key=True)


@lint("error")
def proof_proves_nothing(look: Look) -> Iterator[Problem]:
    """A repair whose proving check can't settle the finding it names. Name a check that yields it; a symptom
    may also be proven gone by its own question, with any check of stage play."""
    for repair in look.base.repairs.values():
        for proof in repair.proof:
            check = look.base.checks.get(proof.check)
            wanted = proof.gone or proof.found
            if check is not None and wanted not in check.findings():
                hint = f"It settles: {', '.join(check.findings())}." if check.findings() else ""
                yield look.problem(
                    "repairs", repair, ("proof",), f"the check '{check.id}' does not settle '{wanted}'.", hint
                )


_CAUTIONS = {
    "cold": {"unplugged", "discharge"},
    "first power": {"limiter", "live"},
    "live": {"live"},
    "play": {"load", "loud", "live"},
}


@lint("error", always=True)
def caution_missing(look: Look) -> Iterator[Problem]:
    """Cold work names the cautions `unplugged` and `discharge`; work under power names at least one of its own
    (first power: limiter or live; live: live; play: load, loud or live). High voltage kills; no step goes bare.
    """
    for check in look.base.written.values():
        wanted = _CAUTIONS.get(check.stage, set())
        named = set(check.cautions)
        missing = not wanted <= named if check.stage == "cold" else bool(wanted) and not wanted & named
        if missing:
            joined = (" and " if check.stage == "cold" else " or ").join(sorted(wanted))
            message = f"a check of stage '{check.stage}' needs the caution {joined}"
            yield look.problem("checks", check, ("cautions",), message)


@lint("error")
def duplicate_answer(look: Look) -> Iterator[Problem]:
    """Two answers whose keys differ only in case or spaces can't be told apart when typed."""
    for check in look.base.written.values():
        keys = [key.strip().lower() for key in check.answers]
        if len(set(keys)) < len(keys):
            yield look.problem("checks", check, ("answers",), "two answers have the same key", key=True)


def _names(check: model.Check) -> tuple[str, ...]:
    return (*check.readings, *check.figures)


def _heard(look: Look) -> set[str]:
    """Findings and CHECK/VALUE names that a cause shows, a rule asks for, or a finding excludes."""
    heard = set(look.base.causes_showing)
    for rule in look.base.rules.values():
        heard |= set(asked(rule.when))
        for leaf in rule.when.leaves():
            if leaf.answer is not None and leaf.answer in look.base.checks:
                heard |= set(look.base.checks[leaf.answer].findings()) or {f"{leaf.answer}/"}
    for finding in look.base.findings.values():
        heard |= {*finding.against, finding.id} if finding.against else set()
    for repair in look.base.repairs.values():
        heard |= {proof.gone or proof.found or "" for proof in repair.proof}
    return heard


def asked(condition: model.Condition) -> Iterator[str]:
    """What a condition asks for: findings, symptoms, and values as CHECK/NAME."""
    for leaf in condition.leaves():
        named = (leaf.finding, leaf.denied, leaf.unknown, leaf.complaint, leaf.value)
        others = (bound.value for bound in (leaf.above, leaf.below) if isinstance(bound, model.Other))
        yield from (one for one in (*named, *others) if one)
