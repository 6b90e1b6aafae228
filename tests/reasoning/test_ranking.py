"""What the ranking makes of a job, against every combination of causes summed one by one on a bench of five causes."""

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.deduce import Deduction
from chopstick.engine.reasoning.facts import Facts, Said
from chopstick.engine.reasoning.log import LogEntry
from chopstick.engine.reasoning.ranking import MOST_OF_A_GROUP, Volts, causes_of, prior_of, rank
from chopstick.engine.reasoning.session import Session
from hypothesis import given
from hypothesis import strategies as st

Job = Callable[..., list[LogEntry]]
POT = ("track-dirty", "track-worn")  # one of them at most


def combinations(base: KnowledgeBase) -> list[tuple[float, frozenset[str]]]:
    """Every set of causes that can be true together, with its probability before anything is noticed."""
    priors = {id_: base.scale.commonness[cause.commonness] / 1000 for id_, cause in base.causes.items()}
    alone = [id_ for id_ in priors if id_ not in POT]
    found = []
    for pot in (None, *POT):
        for flags in itertools.product((True, False), repeat=len(alone)):
            chance = priors[pot] if pot else 1 - sum(priors[id_] for id_ in POT)
            for id_, there in zip(alone, flags, strict=True):
                chance *= priors[id_] if there else 1 - priors[id_]
            true = {id_ for id_, there in zip(alone, flags, strict=True) if there} | ({pot} if pot else set())
            found.append((chance, frozenset(true)))
    return found


def evidence_of(base: KnowledgeBase, true: frozenset[str], said: Sequence[Said]) -> float:
    """How probable a row of statements is with a set of causes: each shows its own, and the rest is the leak."""
    chance = 1.0
    for one in said:
        missed = 1 - base.leak(one.finding)
        for id_ in true - one.repaired:
            if one.finding in base.causes[id_].shows:
                missed *= 1 - base.how_often(base.causes[id_].shows[one.finding])
        chance *= 1 - missed if one.present else missed
    return chance


def by_hand(base: KnowledgeBase, said: Sequence[Said]) -> tuple[float, dict[str, float]]:
    """The probability of the statements, and of each cause given them."""
    total, each = 0.0, dict.fromkeys(base.causes, 0.0)
    for chance, true in combinations(base):
        joint = chance * evidence_of(base, true, said)
        total += joint
        for id_ in true:
            each[id_] += joint
    return total, {id_: share / total for id_, share in each.items()}


FINDINGS = ("knob-crackle", "dc-on-pot", "no-earth", "tubes-run-hot", "idle-over-rating")
STATEMENTS = st.dictionaries(
    st.sampled_from(FINDINGS), st.tuples(st.booleans(), st.frozensets(st.sampled_from(["track-dirty", "bias-off"]))), max_size=5
)


@given(STATEMENTS)
def test_every_probability_is_the_sum_over_all_combinations(
    base: KnowledgeBase, drawn: dict[str, tuple[bool, frozenset[str]]]
) -> None:
    """The causes given the statements, each statement given the others, and the chance that nothing known shows it."""
    said = tuple(Said(id_, there, n, "", repaired) for n, (id_, (there, repaired)) in enumerate(drawn.items(), start=2))
    ranking = rank(causes_of(base, {}), Facts(said=said), Deduction())
    total, each = by_hand(base, said)
    assert ranking.probability == pytest.approx(each)
    assert ranking.posterior.log_evidence[0] == pytest.approx(math.log(total))
    for one, expected in zip(ranking.evidence, ranking.expected(), strict=True):
        others = tuple(other for other in said if other is not one)
        rest, _ = by_hand(base, others)
        assert expected == pytest.approx(total / rest)
        if one.present:
            assert ranking.unexplained(one) == pytest.approx(min(1.0, base.leak(one.finding) * rest / total))


@given(STATEMENTS)
def test_any_statements_can_be_left_out(base: KnowledgeBase, drawn: dict[str, tuple[bool, frozenset[str]]]) -> None:
    """One alone, two at a time, none, and all of them, in one go."""
    said = tuple(Said(id_, there, n, "", repaired) for n, (id_, (there, repaired)) in enumerate(drawn.items(), start=2))
    ranking = rank(causes_of(base, {}), Facts(said=said), Deduction())
    numbers = range(len(ranking.evidence))
    sets = [(), tuple(numbers), *((n,) for n in numbers), *itertools.combinations(numbers, 2)]
    for out, found in zip(sets, ranking.leaving_out(sets), strict=True):
        total, _ = by_hand(base, [one for n, one in enumerate(ranking.evidence) if n not in out])
        assert found == pytest.approx(math.log(total))


def test_rules_multiply_odds_and_rule_out(base: KnowledgeBase) -> None:
    """Beforehand a lost bias is in 20 of 1,000 amps; ten times the odds is 10 x 20/980."""
    causes = causes_of(base, {})
    raised = rank(causes, Facts(), Deduction(factors={"bias-off": 10.0, "not-of-this-base": 2.0}))
    odds = 10 * 0.02 / 0.98
    assert raised.probability["bias-off"] == pytest.approx(odds / (1 + odds))
    out = rank(causes, Facts(), Deduction(factors={"bias-off": 10.0}, ruled_out={"bias-off": "r", "not-of-this-base": "r"}))
    assert out.probability["bias-off"] == 0
    assert {id_: p for id_, p in out.probability.items() if id_ != "bias-off"} == pytest.approx(
        {id_: p for id_, p in raised.probability.items() if id_ != "bias-off"}
    )


def test_volts_and_rules_both_weigh(base: KnowledgeBase) -> None:
    causes = causes_of(base, {})
    column = causes.column["bias-off"]
    factors = np.ones(len(causes.ids))
    factors[column] = 0.5
    heard = rank(replace(causes, volts=Volts(factors)), Facts(), Deduction(factors={"bias-off": 10.0}))
    odds = 0.5 * 10 * 0.02 / 0.98
    assert heard.probability["bias-off"] == pytest.approx(odds / (1 + odds))
    assert factors[column] == 0.5, "what the volts said is not written over"


def shifted(base: KnowledgeBase, **update: object) -> model.Cause:
    return model.Cause.model_validate({**base.causes["bias-off"].model_dump(exclude_defaults=True), **update})


def test_what_the_amp_is_shifts_the_odds_of_a_cause(base: KnowledgeBase) -> None:
    """20 of 1,000 amps: odds of 1 to 49; clearly more on a fixed bias, strongly less on a cathode bias."""
    cause = shifted(
        base, more=[{"when": {"bias": "fixed"}, "by": "clearly"}], less=[{"when": {"bias": "cathode"}, "by": "strongly"}]
    )
    assert prior_of(base, cause, {}) == pytest.approx(0.02), "nothing is known, nothing is shifted"
    assert prior_of(base, cause, {"bias": "fixed"}) == pytest.approx((3 / 49) / (1 + 3 / 49))
    assert prior_of(base, cause, {"bias": "cathode"}) == pytest.approx((0.1 / 49) / (1 + 0.1 / 49))


def test_a_cause_that_this_amp_can_not_have_is_no_column(base: KnowledgeBase) -> None:
    needing = shifted(base, needs={"bias": "fixed"})
    area = next(iter(base.areas.values()))
    changed = replace(base, areas={area.area: area.model_copy(update={"causes": {**area.causes, "bias-off": needing}})})
    assert "bias-off" not in causes_of(changed, {"bias": "cathode"}).ids
    assert "bias-off" in causes_of(changed, {"bias": "fixed"}).ids
    assert "bias-off" in causes_of(changed, {}).ids, "not known is not no"


def test_a_group_keeps_room_for_none_of_its_causes(base: KnowledgeBase) -> None:
    """Two causes of one pot in 900 and 300 of 1,000 amps would be more than all: both are scaled alike."""
    scale = base.scale.model_copy(update={"commonness": {**base.scale.commonness, "everyday": 900, "occasional": 300}})
    causes = causes_of(replace(base, scale=scale), {})
    dirty, worn = (float(causes.network.prior[causes.column[id_]]) for id_ in POT)
    assert dirty + worn == pytest.approx(MOST_OF_A_GROUP)
    assert dirty / worn == pytest.approx(3)
    assert 0.9 < MOST_OF_A_GROUP < 1
    assert causes.network.prior[causes.column["bias-off"]] == pytest.approx(0.3), "a group with room is left as it is"


def test_what_is_repaired_shows_nothing_any_more(session: Session, job: Job) -> None:
    causes = session.read(job("knob-crackle")).ranking.causes
    whole = causes.link("knob-crackle")
    assert whole[causes.column["track-dirty"]] == 0.95
    mended = causes.link("knob-crackle", ["track-dirty", "no-such-cause"])
    assert mended[causes.column["track-dirty"]] == 0
    mended[causes.column["track-dirty"]] = whole[causes.column["track-dirty"]]
    assert np.array_equal(mended, whole)
