"""What a shop's rules can ask for and say, seen on a job; and the one reading of conditions that everything shares."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.conditions import Situation, TooWide, comparisons, met, passes, ways
from chopstick.engine.reasoning.deduce import LEAST_MINUTES, Deduction, compiled
from chopstick.engine.reasoning.facts import gather
from chopstick.engine.reasoning.log import LogEntry
from chopstick.engine.reasoning.rule_sentences import sentence
from chopstick.engine.reasoning.rule_verdict import after, judged
from chopstick.engine.reasoning.rules import Chainer
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .conftest import read, with_rule

Job = Callable[..., list[LogEntry]]


SPEAKS = [
    # condition, what the job must have for it, what it must not
    ({"complaint": "knob-crackle"}, {"symptoms": ["knob-crackle"]}, {"then": [("turn-it", "yes")]}),
    ({"answer": "look-at-plug", "is": "no"}, {"then": [("look-at-plug", "no")]}, {"then": [("look-at-plug", "yes")]}),
    ({"not": {"answer": "look-at-plug", "is": "no"}}, {"then": [("look-at-plug", "yes")]}, {}),
    (
        {"value": "idle/cathode", "above": {"value": "idle/plate", "times": 0.1, "plus": 5}},
        {"then": [("idle", {"plate": 400, "cathode": "50mA"})]},
        {"then": [("idle", {"plate": 400, "cathode": "44mA"})]},
    ),
    (
        {"at_least": 2, "of": [{"complaint": "knob-crackle"}, {"complaint": "tubes-run-hot"}, {"finding": "no-earth"}]},
        {"symptoms": ["knob-crackle"], "then": [("look-at-plug", "no")]},
        {"symptoms": ["knob-crackle"]},
    ),
    (
        {"at_most": 1, "of": [{"finding": "no-earth"}, {"finding": "dc-on-pot"}]},
        {"then": [("look-at-plug", "yes")]},
        {"then": [("pot-ohms", "yes")]},
    ),
    ({"spoken": "no-earth-holds"}, {"then": [("look-at-plug", "no")]}, {}),
    ({"not": {"spoken": "no-earth-holds"}}, {}, {"then": [("look-at-plug", "no")]}),
    (
        {"all": [{"unknown": "dc-on-pot"}, {"complaint": "knob-crackle"}]},
        {"symptoms": ["knob-crackle"]},
        {"symptoms": ["knob-crackle"], "then": [("pot-ohms", "no")]},
    ),
]


@pytest.mark.parametrize(("when", "yes", "no"), SPEAKS, ids=[str(next(iter(when))) for when, *_ in SPEAKS])
def test_it_speaks_when_it_should_and_not_otherwise(
    base: KnowledgeBase, job: Job, when: object, yes: dict[str, object], no: dict[str, object]
) -> None:
    ours = with_rule(base, when)
    for told, wanted in ((yes, True), (no, False)):
        log = job(*told.get("symptoms", []), then=told.get("then", []))  # type: ignore[arg-type]
        now = read(ours, log)
        assert ("ours" in now.deduction.spoken) is wanted
        tree = judged(ours, ours.rules["ours"].when, after(now.facts, now.deduction))
        assert (tree.verdict == "met") is wanted, "why-not agrees with the chainer"
        assert bool(list(tree.failing())) is not wanted


def test_time_is_that_of_the_log(base: KnowledgeBase, job: Job) -> None:
    """A rule on time since an entry looks at the job's own times: read a year later, the job stands the same."""
    ours = with_rule(base, {"since": "check/look-at-plug", "above": 30})
    log = job("knob-crackle", then=[("look-at-plug", "yes"), ("pot-ohms", "no")])
    assert "ours" not in read(ours, log).deduction.spoken
    late = [*log[:-1], log[-1].model_copy(update={"at": log[-1].at + timedelta(minutes=31)})]
    assert "ours" in read(ours, late).deduction.spoken
    assert gather(ours, late).minutes_since == pytest.approx(
        {"opened": 31, "complaint/knob-crackle": 31, "check/look-at-plug": 31, "check/pot-ohms": 0}
    )


def test_a_check_can_be_left_out_but_not_one_that_bears_on_safety(base: KnowledgeBase, job: Job) -> None:
    ours = with_rule(base, {"complaint": "knob-crackle"}, {"skip": "pot-ohms"}, {"skip": "look-at-plug"})
    open_ = {check.id for check in read(ours, job("knob-crackle")).plan.open_checks()}
    assert "pot-ohms" not in open_
    assert "look-at-plug" in open_
    assert "pot-ohms" in {check.id for check in read(base, job("knob-crackle")).plan.open_checks()}


def test_minutes_and_repairs_follow_the_rules(base: KnowledgeBase, job: Job) -> None:
    ours = with_rule(
        base,
        {"complaint": "knob-crackle"},
        {"check_minutes": "pot-ohms", "times": 3},
        {"check_minutes": "pot-ohms", "add": 1},
        {"repair_minutes": "change-capacitor", "add": 100},
    )
    now = read(ours, job("knob-crackle"))
    assert {check.id: check.minutes for check in now.plan.open_checks()}["pot-ohms"] == 4 * 3 + 1
    column = now.ranking.causes.column["capacitor-leaky"]
    was = read(base, job("knob-crackle"))
    assert now.ahead.costs.repair[column] == was.ahead.costs.repair[column] + 100


def test_a_preferred_repair_comes_first_and_a_forbidden_one_not_at_all(base: KnowledgeBase) -> None:
    cause = base.causes["track-dirty"].model_copy(update={"repairs": ("clean-pot", "change-pot", "mend-bias")})
    assert Deduction(prefer={"change-pot": "x"}).repairs(cause) == ("change-pot", "clean-pot", "mend-bias")
    assert Deduction(forbid={"clean-pot": "x"}).repairs(cause) == ("change-pot", "mend-bias")
    everything = dict.fromkeys(cause.repairs, "x")
    assert Deduction(forbid=everything).repairs(cause) == cause.repairs, "nobody is left with nothing"


def test_factors_count_before_what_is_added_whatever_the_order_of_rules(base: KnowledgeBase) -> None:
    check = base.checks["pot-ohms"]  # 4 minutes
    add = model.Conclusion.model_validate({"check_minutes": "pot-ohms", "add": 1})
    thrice = model.Conclusion.model_validate({"check_minutes": "pot-ohms", "times": 3})
    other = model.Conclusion.model_validate({"check_minutes": "pot-dc", "times": 7})
    repair = model.Conclusion.model_validate({"repair_minutes": "pot-ohms", "times": 5})
    for changes in ([add, thrice, other, repair], [repair, other, thrice, add]):
        deduction = Deduction(changes=tuple((change, "ours") for change in changes))
        assert deduction.check_minutes(check) == 4 * 3 + 1
    never = model.Conclusion.model_validate({"check_minutes": "pot-ohms", "add": -100})
    assert Deduction(changes=((never, "ours"),)).check_minutes(check) == LEAST_MINUTES > 0


def test_a_rule_changes_the_price_of_a_repair_s_parts_but_never_below_nothing(base: KnowledgeBase) -> None:
    cheaper = (model.Conclusion.model_validate({"price": "clean-pot", "add": -5}), "ours")
    repair = base.repairs["clean-pot"]
    assert Deduction().changed_price(repair, 15.0) == 15
    assert Deduction(changes=(cheaper,)).changed_price(repair, 15.0) == 10
    assert Deduction(changes=(cheaper,)).changed_price(repair, 3.0) == 0


def test_what_a_rule_concludes_rests_on_the_latest_of_what_it_was_told(base: KnowledgeBase, job: Job) -> None:
    ours = with_rule(base, {"all": [{"finding": "knob-crackle"}, {"finding": "dc-on-pot"}]}, {"conclude": "plates-dark"})
    log = job("knob-crackle", then=[("repair:clean-pot", "track-dirty"), ("pot-dc", "900 mV"), ("look-at-plug", "yes")])
    (found,) = read(ours, log).deduction.findings
    assert (found.finding, found.present, found.entry, found.how) == ("plates-dark", True, 4, "we have seen it")
    assert (found.repaired, found.by) == ({"track-dirty"}, "ours")


def test_a_rule_against_an_answer_is_a_clash_and_does_not_overrule_it(base: KnowledgeBase, job: Job) -> None:
    ours = with_rule(base, {"complaint": "knob-crackle"}, {"conclude": "dc-on-pot"})
    denied = read(ours, job("knob-crackle", then=[("pot-ohms", "no")]))
    assert denied.deduction.clashes == (("dc-on-pot", "ours"),)
    assert denied.deduction.findings == ()
    assert [(one.one, one.other, one.why) for one in denied.conflicts] == [
        ("dc-on-pot", "dc-on-pot", "answered no, yet a rule says it is so: we have seen it")
    ]
    agreed = read(ours, job("knob-crackle", then=[("pot-ohms", "yes")])).deduction
    assert (agreed.clashes, agreed.findings) == ((), ())


def test_two_rules_on_one_cause_multiply_and_lower_divides(base: KnowledgeBase, job: Job) -> None:
    then = [{"raise": "bias-off", "by": "strongly"}, {"lower": "bias-off", "by": "clearly"}, {"lower": "track-worn", "by": "clearly"}]
    deduction = read(with_rule(base, {"complaint": "knob-crackle"}, *then), job("knob-crackle")).deduction
    assert deduction.factors == pytest.approx({"bias-off": 10 / 3, "track-worn": 1 / 3})


def test_what_a_rule_rests_on_is_told_in_sentences(base: KnowledgeBase) -> None:
    leaves = [
        ({"finding": "no-earth"}, True, "The plug has no protective earth"),
        ({"finding": "no-earth"}, False, "not so: The plug has no protective earth"),
        ({"denied": "no-earth"}, True, "answered no: The plug has no protective earth"),
        ({"unknown": "no-earth"}, True, "nothing is known of: The plug has no protective earth"),
        ({"spoken": "no-earth-holds"}, False, "the rule 'no-earth-holds' has not spoken"),
        ({"complaint": "knob-crackle"}, True, "the player complains of: Crackle when a knob turns"),
        ({"complaint": "knob-crackle"}, False, "not so: the player complains of: Crackle when a knob turns"),
    ]
    for leaf, wanted, told in leaves:
        assert sentence(base, model.Condition.model_validate(leaf), wanted) == told


def test_two_comparisons_that_differ_in_the_last_digit_are_two(base: KnowledgeBase) -> None:
    first = model.Condition.model_validate({"value": "idle/plate", "above": 400.0000001})
    second = model.Condition.model_validate({"value": "idle/plate", "above": 400.0000002})
    assert {atom for atom, *_ in comparisons(first)}.isdisjoint(atom for atom, *_ in comparisons(second))


# --- the one reading of conditions ---

FINDINGS = ("dc-on-pot", "no-earth", "plates-dark")
LEAVES = st.one_of(
    st.builds(lambda i: {"finding": i}, st.sampled_from(FINDINGS)),
    st.builds(lambda i: {"denied": i}, st.sampled_from(FINDINGS)),
    st.builds(lambda i: {"unknown": i}, st.sampled_from(FINDINGS)),
    st.builds(lambda i: {"complaint": i}, st.sampled_from(("knob-crackle", "tubes-run-hot"))),
    st.builds(lambda k: {"answer": "turn-it", "is": k}, st.sampled_from(("yes", "no"))),
    st.builds(lambda n: {"value": "idle/plate", "above": n}, st.sampled_from((100.0, 200.0))),
    st.builds(lambda n: {"value": "idle/plate", "below": {"value": "idle/cathode", "times": n}}, st.sampled_from((2.0, 5))),
    st.builds(lambda n: {"since": "opened", "above": n}, st.sampled_from((5.0, 30.0))),
    st.just({"amp": {"reverb": "present"}}),
)  # fmt: skip
CONDITIONS = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.builds(lambda parts: {"all": parts}, st.lists(inner, min_size=1, max_size=3)),
        st.builds(lambda parts: {"any": parts}, st.lists(inner, min_size=1, max_size=3)),
        st.builds(lambda part: {"not": part}, inner),
        st.builds(lambda parts: {"at_least": 2, "of": parts}, st.lists(inner, min_size=2, max_size=4)),
        st.builds(lambda parts: {"at_most": 1, "of": parts}, st.lists(inner, min_size=2, max_size=4)),
    ),
    max_leaves=6,
)
SITUATIONS = st.builds(
    Situation,
    amp=st.sampled_from(({}, {"reverb": "present"}, {"reverb": "absent"})),
    complaints=st.frozensets(st.sampled_from(("knob-crackle", "tubes-run-hot"))),
    known=st.dictionaries(st.sampled_from(FINDINGS), st.booleans()),
    answers=st.sampled_from(({}, {"turn-it": "yes"}, {"turn-it": "no"})),
    values=st.dictionaries(st.sampled_from(("idle/plate", "idle/cathode")), st.sampled_from((50.0, 150.0, 400.0))),
    since=st.sampled_from(({}, {"opened": 10.0}, {"opened": 60.0})),
)


def _atoms(condition: model.Condition, now: Situation) -> frozenset[str]:
    said = {f"{'finding' if there else 'denied'}:{id_}" for id_, there in now.known.items()}
    return frozenset(said | {atom for atom, leaf, wanted in comparisons(condition) if passes(leaf, wanted, now)})


@given(CONDITIONS, SITUATIONS)
@settings(max_examples=amount(400, 2000))
def test_the_ways_of_meeting_a_condition_are_when_it_is_met(written: dict[str, object], now: Situation) -> None:
    """`ways`, which the chainer and the lints use, and `met`, which examples and why-not use, agree; and a condition is
    never met both as it stands and the other way round."""
    condition = model.Condition.model_validate(written)
    for wanted in (True, False):
        try:
            found = ways(condition, wanted)
        except TooWide:
            return
        atoms = {*_atoms(condition, now), *_atoms(model.Condition.model_validate({"not": written}), now)}
        by_ways = any(way.present <= atoms and not way.absent & atoms for way in found)
        assert by_ways == met(condition, now, wanted)
    assert not (met(condition, now, True) and met(condition, now, False))


@given(CONDITIONS, SITUATIONS)
@settings(max_examples=amount(25, 500))
def test_the_chainer_agrees(written: dict[str, object], now: Situation) -> None:
    """The rule engine speaks exactly when the condition is met."""
    rule = model.Rule.model_validate({"id": "ours", "when": written, "then": [{"advice": "x"}], "because": "y"})
    try:
        chainer = Chainer([compiled(rule)])
    except TooWide:
        return
    assert bool(chainer.run(_atoms(rule.when, now)).firings) == met(rule.when, now)


def test_a_condition_that_explodes_is_refused_at_once() -> None:
    with pytest.raises(TooWide):
        ways(model.Condition.model_validate({"all": [{"any": [{"finding": f} for f in FINDINGS] * 8}] * 24}))
