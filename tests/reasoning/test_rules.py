"""The chainer of named facts, and below it every measured limit of durable_rules that the chainer keeps out."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable
from itertools import count, pairwise
from random import Random
from textwrap import dedent
from typing import Any

import pytest
from chopstick.engine.reasoning.rules import Alternative, ChainedRule, Chainer, Firing, Outcome, RuleError, strata
from durable.engine import Closure, Host, MessageNotHandledException, MessageObservedException, Ruleset
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount


def rule(name: str, *when: str, gives: str) -> ChainedRule:
    """A rule from alternatives such as `a b !c`: a and b known, c not known."""
    return ChainedRule(name, tuple(alternative(text.split()) for text in when), tuple(gives.split()))


def alternative(atoms: list[str]) -> Alternative:
    return Alternative(
        present=frozenset(atom for atom in atoms if not atom.startswith("!")),
        absent=frozenset(atom[1:] for atom in atoms if atom.startswith("!")),
    )


CRACKLE = [
    rule("blame-capacitor", "finding:pot-dc finding:dc-before-pot", gives="cause:coupling-leaky"),
    rule("pot-carries-dc", "above:pot-volts:0.1", "said:crackles-when-hot", gives="finding:pot-dc"),
    rule("clean-first", "finding:crackles !finding:pot-dc", gives="advice:clean-track"),
    rule("ask-more", "finding:crackles !advice:clean-track !cause:coupling-leaky", gives="advice:ask-more"),
]
CRACKLE_FACTS = (
    "finding:crackles",
    "finding:pot-dc",
    "finding:dc-before-pot",
    "above:pot-volts:0.1",
    "said:crackles-when-hot",
    "amp:rectifier=5Y3GT",
)


def chain(length: int) -> list[ChainedRule]:
    return [rule(f"step-{i}", f"link:{i}", gives=f"link:{i + 1}") for i in range(length)]


def scattered_chain(length: int) -> list[ChainedRule]:
    """A chain whose neighbours are dealt into different rule sets, so that each step is carried over."""
    rules = chain(length)
    return [rules[i] for i in sorted(range(length), key=lambda i: i % 7)]


def net(size: int) -> list[ChainedRule]:
    """Random rules of 1 to 4 conditions, without absence."""
    random = Random(size)
    atoms = [f"finding:{i}" for i in range(size)]
    return [
        rule(f"rule-{i}", " ".join(random.sample(atoms, random.randint(1, 4))), gives=random.choice(atoms))
        for i in range(size)
    ]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, str]]:
    """Every fact that durable_rules takes from here on, as (state, atom)."""
    seen: list[tuple[str, str]] = []
    original = Ruleset.assert_fact

    def spy(self: Any, fact: dict[str, str]) -> Any:
        taken = original(self, fact)
        seen.append((fact["sid"], fact["atom"]))
        return taken

    monkeypatch.setattr(Ruleset, "assert_fact", spy)
    return seen


def in_a_new_process(script: str) -> str:
    command = [sys.executable, "-c", dedent(script)]
    result = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True)
    return result.stdout.strip()


# --- what follows from what, and why ---


def test_conclusions_chain_and_each_names_its_rule_and_facts() -> None:
    facts = {"finding:crackles", "finding:dc-before-pot", "above:pot-volts:0.1"}
    assert Chainer(CRACKLE).run(facts) == Outcome(
        frozenset({*facts, "finding:pot-dc", "cause:coupling-leaky"}),
        (
            Firing("pot-carries-dc", ("above:pot-volts:0.1",), ("finding:pot-dc",)),
            Firing("blame-capacitor", ("finding:dc-before-pot", "finding:pot-dc"), ("cause:coupling-leaky",)),
        ),
    )


def test_an_absence_counts_only_when_nothing_more_can_conclude_the_atom() -> None:
    chainer = Chainer(CRACKLE)
    (clean,) = chainer.run(["finding:crackles"]).firings
    assert clean == Firing(
        "clean-first", ("absent:finding:pot-dc", "finding:crackles"), ("advice:clean-track",)
    )
    *_, ask = chainer.run(["finding:crackles", "above:pot-volts:0.1"]).firings
    assert ask == Firing(
        "ask-more",
        ("absent:advice:clean-track", "absent:cause:coupling-leaky", "finding:crackles"),
        ("advice:ask-more",),
    )


def test_a_rule_may_rest_on_absence_alone() -> None:
    outcome = Chainer([rule("start", "!complaint:any", gives="advice:ask-complaint")]).run([])
    assert outcome.firings == (Firing("start", ("absent:complaint:any",), ("advice:ask-complaint",)),)


def test_a_rule_with_two_alternatives_fires_once_for_the_first_that_is_reached() -> None:
    rules = [
        rule("hot-plates", "bias:none", "finding:red-plate", "coupling:leaky", gives="hold:switch-off"),
        rule("seen", "finding:glow", gives="bias:none"),
    ]
    chainer = Chainer(rules)
    (both,) = chainer.run(["coupling:leaky", "finding:red-plate"]).firings
    assert both.because == ("finding:red-plate",)
    hot, seen = chainer.run(["coupling:leaky", "finding:glow"]).firings
    assert (hot.because, seen.rule) == (("coupling:leaky",), "seen")


def test_a_circle_of_rules_never_proves_itself() -> None:
    rules = [
        rule("forth", "cause:tired-filter", gives="finding:hum"),
        rule("back", "finding:hum", gives="cause:tired-filter"),
    ]
    chainer = Chainer(rules)
    assert chainer.run(["amp:reverb"]).firings == ()
    forth, back = chainer.run(["cause:tired-filter"]).firings
    assert forth.because == ("cause:tired-filter",)
    assert back.because == ("finding:hum",)


def test_firings_come_in_the_order_of_derivation_then_of_the_rules() -> None:
    outcome = Chainer(scattered_chain(40)).run(["link:0"])
    assert [firing.rule for firing in outcome.firings] == [f"step-{i}" for i in range(40)]


def test_a_firing_on_an_absence_comes_after_all_that_could_have_ended_it() -> None:
    rules = [rule("no-hum", "said:quiet !finding:hum", gives="advice:stop"), *chain(3)]
    rules.append(rule("hum", "link:3 cause:filter", gives="finding:hum"))
    outcome = Chainer(rules).run(["said:quiet", "link:0"])
    assert [firing.rule for firing in outcome.firings] == ["step-0", "step-1", "step-2", "no-hum"]


@given(st.permutations(CRACKLE_FACTS), st.integers(1, len(CRACKLE_FACTS)))
@settings(max_examples=amount(40, 800))
def test_the_order_in_which_facts_arrive_does_not_matter(facts: list[str], known: int) -> None:
    chainer = Chainer(CRACKLE)
    for last in range(known):
        outcome = chainer.run(facts[: last + 1])
    assert outcome == Chainer(CRACKLE).run(sorted(facts[:known], reverse=True))


@given(st.lists(st.frozensets(st.sampled_from(CRACKLE_FACTS)), min_size=1, max_size=6))
@settings(max_examples=amount(40, 800))
def test_nothing_told_in_an_earlier_run_leaks_into_a_later_one(jobs: list[frozenset[str]]) -> None:
    chainer = Chainer(CRACKLE)
    outcomes = [chainer.run(facts) for facts in jobs]
    assert outcomes == [Chainer(CRACKLE).run(facts) for facts in jobs]


NAMES = st.text(max_size=12).filter(lambda text: not text.startswith("absent:"))


@given(st.lists(NAMES, min_size=2, max_size=6, unique=True))
@settings(max_examples=amount(60, 1200))
def test_any_text_may_name_a_fact(atoms: list[str]) -> None:
    rules = [ChainedRule(f"r{i}", (Alternative(frozenset({a})),), (b,)) for i, (a, b) in enumerate(pairwise(atoms))]
    assert Chainer(rules).run(atoms[:1]).facts == set(atoms)


def test_chainers_live_side_by_side() -> None:
    crackle, links = Chainer(CRACKLE), Chainer(chain(3))
    assert "advice:clean-track" in crackle.run(["finding:crackles"]).facts
    assert "link:3" in links.run(["link:0"]).facts
    assert "link:3" not in crackle.run(["finding:crackles", "link:0"]).facts


# --- going on, undoing, and what it costs ---


def test_only_what_is_new_is_told(told: list[tuple[str, str]]) -> None:
    chainer = Chainer(chain(5))
    chainer.run(["link:3", "amp:reverb"])
    told.clear()
    chainer.run(["link:3", "link:1", "amp:reverb"])
    assert told == [("1", "link:1"), ("1", "link:2")]


def test_a_fact_already_concluded_is_not_told_again(told: list[tuple[str, str]]) -> None:
    chainer = Chainer(chain(3))
    chainer.run(["link:0"])
    told.clear()
    assert chainer.run(["link:0", "link:1"]).facts == {"link:0", "link:1", "link:2", "link:3"}
    assert told == []


def test_undo_forgets_what_followed(told: list[tuple[str, str]]) -> None:
    chainer = Chainer(CRACKLE)
    chainer.run(["finding:crackles", "finding:dc-before-pot", "finding:pot-dc"])
    outcome = chainer.run(["finding:crackles", "finding:dc-before-pot"])
    assert outcome.facts == {"finding:crackles", "finding:dc-before-pot", "advice:clean-track"}
    assert {sid for sid, _ in told} == {"1"}


def test_an_absence_that_ends_has_all_told_anew(told: list[tuple[str, str]]) -> None:
    chainer = Chainer(CRACKLE)
    assert "advice:clean-track" in chainer.run(["finding:crackles"]).facts
    told.clear()
    assert "advice:clean-track" not in chainer.run(["finding:crackles", "above:pot-volts:0.1"]).facts
    assert ("1", "finding:crackles") in told


def test_an_absence_nobody_relied_on_ends_for_free(told: list[tuple[str, str]]) -> None:
    chainer = Chainer(CRACKLE)
    chainer.run(["finding:dc-before-pot"])
    chainer.run(["finding:dc-before-pot", "finding:pot-dc"])
    assert {sid for sid, _ in told} == {"1"}


def test_a_whole_job_takes_one_state(told: list[tuple[str, str]]) -> None:
    """A state costs about 10 MB, and none is ever given back."""
    atoms, random = [f"finding:{i}" for i in range(300)], Random(300)
    chainer, facts = Chainer(net(300)), random.sample(atoms, 60)
    for known in range(1, 61):
        chainer.run(facts[:known])
    assert {state for state, _ in told} == {"1"}


def test_undo_after_undo_takes_no_state_more(told: list[tuple[str, str]]) -> None:
    """A process has room for 1,024 states. What it costs in memory is measured in tests/speed/test_undo_speed.py."""
    rules = [rule(f"rule-{i}", f"finding:{i} finding:{(i * 7 + 1) % 300}", gives=f"done:{i}") for i in range(300)]
    chainer, facts = Chainer(rules), [f"finding:{i}" for i in range(40)]
    for turn in range(150):
        chainer.run(facts[: 20 + turn * 7 % 20])
    assert {state for state, _ in told} == {"1"}


def test_a_fact_is_told_for_the_rules_that_mention_it_and_never_again(told: list[tuple[str, str]]) -> None:
    """What an answer costs, counted in facts that the library is told."""
    rules = net(300)
    mentions = Counter(atom for one in rules for way in one.when for atom in way.present)
    chainer, facts = Chainer(rules), [f"finding:{i}" for i in range(0, 300, 7)]
    known = chainer.run(facts).facts
    assert len(known) > len(facts)
    counted = Counter(atom for _, atom in told)
    assert all(1 <= counted[atom] <= mentions[atom] for atom in known if mentions[atom])
    told.clear()
    new = chainer.run([*facts, "finding:1"]).facts - known
    assert {atom for _, atom in told} <= new


def test_durable_rules_is_imported_by_the_first_run_only() -> None:
    modules = in_a_new_process("""
        import sys
        from chopstick.engine.reasoning.rules import Alternative, Chainer, ChainedRule
        chainer = Chainer([ChainedRule("r", (Alternative(frozenset("a")),), ("b",))])
        run = lambda: type(sys.modules.get("durable.engine")).__name__ not in ("NoneType", "_LazyModule")
        before = run()
        chainer.run("a")
        print(before, run())
    """)
    assert modules == "False True"


def test_no_thread_of_the_library_runs_behind_the_chainer() -> None:
    threads = in_a_new_process("""
        import threading, time
        from chopstick.engine.reasoning.rules import Alternative, Chainer, ChainedRule
        Chainer([ChainedRule("r", (Alternative(frozenset("a")),), ("b",))]).run("a")
        time.sleep(0.2)
        print(threading.active_count())
    """)
    assert threads == "1"


# --- rules and facts that are refused ---


def test_a_circle_through_an_absence_is_refused_and_named() -> None:
    rules = [
        rule("not-tube", "!cause:tube finding:hum", gives="cause:filter"),
        rule("filter-hums", "cause:filter", gives="finding:ripple"),
        rule("not-filter", "!finding:ripple", gives="cause:tube"),
        rule("elsewhere", "cause:tube", gives="advice:swap"),
    ]
    with pytest.raises(RuleError) as refusal:
        Chainer(rules)
    message = str(refusal.value)
    assert "'cause:filter' needs the absence of 'cause:tube' (rule not-tube)" in message
    assert "'finding:ripple' needs 'cause:filter' (rule filter-hums)" in message
    assert "'cause:tube' needs the absence of 'finding:ripple' (rule not-filter)" in message
    assert "elsewhere" not in message


def test_a_rule_that_waits_for_the_absence_of_its_own_conclusion_is_refused() -> None:
    with pytest.raises(RuleError, match=r"'hold:mains' needs the absence of 'hold:mains' \(rule odd\)"):
        strata([rule("odd", "!hold:mains", gives="hold:mains")])


def test_strata_count_the_absences_on_the_way_to_an_atom() -> None:
    assert strata(CRACKLE) == {
        **dict.fromkeys(CRACKLE_FACTS[:-1], 0),
        "cause:coupling-leaky": 0,
        "advice:clean-track": 1,
        "advice:ask-more": 2,
    }


def test_all_that_is_wrong_with_the_rules_is_told_at_once() -> None:
    rules = [
        rule("twice", "a", gives="b"),
        rule("twice", "a", gives="c"),
        rule("always", "", gives="d"),
        rule("reserved", "absent:a", gives="e"),
        rule("long", " ".join(f"finding:{i}" for i in range(17)), gives="f"),
    ]
    with pytest.raises(RuleError) as refusal:
        Chainer(rules)
    assert str(refusal.value).splitlines() == [
        "rule always: an alternative has 0 conditions, and may have 1 to 16; "
        "let another rule conclude some of them together",
        "rule long: an alternative has 17 conditions, and may have 1 to 16; "
        "let another rule conclude some of them together",
        "rule reserved: 'absent:a' is no atom; it must be a text, and not begin with 'absent:'",
        "rule twice: 2 rules have this name; give each its own",
    ]


@pytest.mark.parametrize("fact", [462.5, 5, float("nan"), "absent:finding:hum"])
def test_numbers_and_the_names_of_absences_are_no_facts(fact: Any) -> None:
    chainer = Chainer(chain(2))
    with pytest.raises(RuleError, match=r"^facts: .* is no atom"):
        chainer.run([fact])
    assert chainer.run(["link:0"]).facts == {"link:0", "link:1", "link:2"}


# --- the library's limits, as the chainer bears them ---


def test_one_fact_may_satisfy_more_rules_than_a_rule_set_holds() -> None:
    rules = [rule(f"r{i}", "complaint:dead", gives=f"check:{i}") for i in range(65)]
    assert len(Chainer(rules).run(["complaint:dead"]).firings) == 65


@pytest.mark.parametrize("size", [65, 512, 700])
def test_more_rules_of_one_shape_than_a_rule_set_holds(size: int) -> None:
    rules = [rule(f"r{i}", f"finding:{i}", gives=f"cause:{i}") for i in range(size)]
    assert len(Chainer(rules).run(f"finding:{i}" for i in range(size)).firings) == size


def test_rules_of_sixteen_conditions_each_with_its_own_atoms() -> None:
    rules = [
        rule(f"r{i}", " ".join(f"finding:{i}.{j}" for j in range(16)), gives=f"c:{i}") for i in range(65)
    ]
    facts = [f"finding:{i}.{j}" for i in range(65) for j in range(16)]
    assert len(Chainer(rules).run(facts).firings) == 65


def test_conclusions_are_carried_from_rule_set_to_rule_set() -> None:
    assert "link:400" in Chainer(scattered_chain(400)).run(["link:0"]).facts


def test_rounds_without_end_are_stopped_and_say_where() -> None:
    with pytest.raises(RuleError, match="something new after 1000 rounds, last: link:1000"):
        Chainer(scattered_chain(1100)).run(["link:0"])


def test_a_distinct_fact_taken_for_a_repeat_is_told_again_with_a_salt() -> None:
    """These two names really clash in the library, as the first two facts of a first state."""
    rules = [rule("first", "finding:61829", gives="a"), rule("second", "finding:90919", gives="b")]
    refused: list[int] = []
    original = Ruleset.assert_fact

    def watched(self: Any, fact: dict[str, Any]) -> Any:
        try:
            return original(self, fact)
        except MessageObservedException:
            refused.append(fact["salt"])
            raise

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Ruleset, "assert_fact", watched)
        outcome = Chainer(rules).run(["finding:61829", "finding:90919"])
    assert outcome.facts == {"finding:61829", "finding:90919", "a", "b"}
    assert refused == [0]


def refusing(atom: str, times: int, error: type[Exception]) -> Callable[[Any, dict[str, Any]], Any]:
    """An assert_fact that refuses an atom so many times."""
    original, left = Ruleset.assert_fact, count(times, -1)

    def assert_fact(self: Any, fact: dict[str, Any]) -> Any:
        if fact["atom"] == atom and next(left) > 0:
            raise error(fact)
        return original(self, fact)

    return assert_fact


@pytest.mark.parametrize("atom", ["link:0", "link:1"])  # told from outside; concluded inside a rule set
def test_a_clash_is_borne_wherever_it_happens(monkeypatch: pytest.MonkeyPatch, atom: str) -> None:
    monkeypatch.setattr(Ruleset, "assert_fact", refusing(atom, 3, MessageObservedException))
    assert "link:3" in Chainer(chain(3)).run(["link:0"]).facts


@pytest.mark.parametrize("atom", ["link:0", "link:1"])
@pytest.mark.parametrize(
    "error", [MessageObservedException, MessageNotHandledException, MemoryError, RuntimeError]
)
def test_a_fact_the_library_will_not_take_is_an_error_and_the_next_run_starts_afresh(
    atom: str, error: type[Exception]
) -> None:
    chainer = Chainer(chain(3))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Ruleset, "assert_fact", refusing(atom, 1_000, error))
        with pytest.raises(RuleError):
            chainer.run(["link:0"])
    assert "link:3" in chainer.run(["link:0"]).facts


def test_an_action_that_raises_surfaces(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> None:
        raise ValueError("the probe slipped")

    monkeypatch.setattr(Closure, "assert_fact", broken)
    with pytest.raises(RuleError, match=r"a rule broke on the fact 'link:0': .*the probe slipped"):
        Chainer(chain(3)).run(["link:0"])


def test_a_rule_the_library_forgets_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Host, "assert_fact", lambda *_: None)
    with pytest.raises(RuleError, match="fired other rules than it should: step-0"):
        Chainer(chain(1)).run(["link:0"])


def test_a_rule_the_library_fires_for_nothing_is_noticed_even_in_a_circle(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    original = Ruleset.assert_fact

    def mishears(self: Any, fact: dict[str, Any]) -> Any:
        return original(self, {**fact, "atom": "link:0" if fact["atom"] == "said:nothing" else fact["atom"]})

    monkeypatch.setattr(Ruleset, "assert_fact", mishears)
    rules = [*chain(3), rule("back", "link:3", gives="link:0"), rule("mute", "said:nothing", gives="amp:any")]
    with pytest.raises(
        RuleError, match="fired other rules than it should: back, mute, step-0, step-1, step-2"
    ):
        Chainer(rules).run(["said:nothing"])


# --- the library alone: durable-rules 2.0.28 as it was measured ---
# If a release of the library makes one of these fail, a limit has moved: read rules.py again before the test.


class Bare:
    """The library without the chainer: one rule set of `all` conditions, and a list of the rules that fired."""

    def __init__(self, *whens: list[dict[str, Any]], action: Callable[..., Any] | None = None) -> None:
        self.fired: list[int] = []
        self.host = type("QuietHost", (Host,), {"_run": lambda _self: None})()
        definitions = {f"r{i}": {"all": when, "run": action or self._note(i)} for i, when in enumerate(whens)}
        self.host.register_rulesets({"bare": definitions})

    def _note(self, index: int) -> Callable[[Any], None]:
        def note(_closure: Any) -> None:
            self.fired.append(index)

        return note

    def tell(self, sid: str = "1", **fact: Any) -> Any:
        return self.host.assert_fact("bare", {**fact, "sid": sid})


def atom(name: str) -> list[dict[str, Any]]:
    return [{"m": {"atom": name}}]


ABOVE_ZERO: list[dict[str, Any]] = [{"m": {"$gt": {"volts": 0}}}]


@pytest.mark.parametrize("volts", [1e-05, 1e16])
def test_library_cannot_read_numbers_in_exponent_form(volts: float) -> None:
    with pytest.raises(Exception, match="error code: 204"):
        Bare(ABOVE_ZERO).tell(volts=volts)


def test_library_state_is_poisoned_by_infinity() -> None:
    bare = Bare(ABOVE_ZERO)
    with pytest.raises(Exception, match="error code: 202"):
        bare.tell(volts=float("inf"))
    with pytest.raises(Exception, match="error code: 309"):
        bare.host.get_facts("bare", "1")


def test_library_never_matches_nan() -> None:
    bare = Bare(ABOVE_ZERO)
    with pytest.raises(MessageNotHandledException):
        bare.tell(volts=float("nan"))


@pytest.mark.parametrize(("left", "right", "fired"), [(5, 5, [0]), (5, 5.0, []), ("5", "5", [0])])
def test_library_does_not_join_five_and_five_point_nought(left: Any, right: Any, fired: list[int]) -> None:
    bare = Bare([{"a": {"at": "plate"}}, {"b": {"$and": [{"at": "screen"}, {"volts": {"a": "volts"}}]}}])
    bare.tell(at="plate", volts=left)
    bare.tell(at="screen", volts=right)
    assert bare.fired == fired


def test_library_keeps_the_keys_id_and_sid_for_itself() -> None:
    bare = Bare([{"a": {"atom": "x"}}, {"b": {"atom": "y"}}])
    bare.tell(atom="x", id="7")
    with pytest.raises(MessageObservedException):
        bare.tell(atom="y", id="7")
    bare.tell(atom="y", sid="2")
    assert bare.fired == []
    bare.tell(atom="y")
    assert bare.fired == [0]


def test_library_swallows_what_an_action_raises() -> None:
    def broken(_closure: Any) -> None:
        raise ValueError("the probe slipped")

    assert "the probe slipped" in Bare(atom("x"), action=broken).tell(atom="x")["exception"]


def test_library_never_waits_for_an_action_with_two_parameters() -> None:
    seen: list[str] = []

    def asynchronous(closure: Any, _complete: Any) -> None:
        seen.append(closure.m.atom)

    bare = Bare(atom("x"), atom("y"), action=asynchronous)
    bare.tell(atom="x")
    bare.tell(atom="y")
    assert seen == ["x"]


def test_library_refuses_facts_no_rule_mentions_and_repeats() -> None:
    bare = Bare(atom("x"))
    with pytest.raises(MessageNotHandledException):
        bare.tell(atom="y")
    bare.tell(atom="x")
    with pytest.raises(MessageObservedException):
        bare.tell(atom="x")


def test_library_takes_some_distinct_facts_for_repeats() -> None:
    bare = Bare(atom("finding:86789"), atom("finding:100985"))
    bare.tell(atom="finding:86789")
    with pytest.raises(MessageObservedException):
        bare.tell(atom="finding:100985")
    bare.tell(atom="finding:100985", salt=1)
    assert bare.fired == [0, 1]


@pytest.mark.parametrize(("rules", "fails"), [(64, False), (65, True)])
def test_library_fails_when_one_fact_satisfies_65_comparisons(rules: int, fails: bool) -> None:
    bare = Bare(*([{"m": {"$gt": {"volts": volts}}}] for volts in range(rules)))
    if fails:
        with pytest.raises(Exception, match="error code: 303"):
            bare.tell(volts=400)
    else:
        bare.tell(volts=400)
        assert sorted(bare.fired) == list(range(rules))


def test_library_fails_at_512_rules_of_one_shape() -> None:
    enough = Bare(*(atom(f"finding:{i}") for i in range(511)))
    enough.tell(atom="finding:3")
    assert enough.fired == [3]
    with pytest.raises(Exception, match="error code: 303"):
        Bare(*(atom(f"finding:{i}") for i in range(512))).tell(atom="finding:3")


def test_library_never_returns_from_60_rules_of_nine_atoms_each() -> None:
    script = """
        from durable.engine import Host
        host = type("QuietHost", (Host,), {"_run": lambda self: None})()
        print("imported", flush=True)
        host.register_rulesets({"bare": {f"r{i}": {
            "all": [{f"m{j}": {"atom": f"finding:{i}.{j}"}} for j in range(9)], "run": lambda c: None
        } for i in range(60)}})
    """
    with subprocess.Popen([sys.executable, "-c", dedent(script)], stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "imported\n"
        with pytest.raises(subprocess.TimeoutExpired):
            child.wait(2)
        child.kill()


@pytest.mark.parametrize(("conditions", "fails"), [(16, False), (17, True)])
def test_library_fails_at_17_conditions(conditions: int, fails: bool) -> None:
    bare = Bare([{f"m{i}": {"atom": f"finding:{i}"}} for i in range(conditions)])
    for i in range(conditions - 1):
        bare.tell(atom=f"finding:{i}")
    if fails:
        with pytest.raises(Exception, match="error code: 304"):
            bare.tell(atom=f"finding:{conditions - 1}")
    else:
        bare.tell(atom=f"finding:{conditions - 1}")
        assert bare.fired == [0]


@pytest.mark.parametrize(("order", "fired"), [("xy", [0]), ("yx", [])])
def test_library_negation_depends_on_the_order_of_facts(order: str, fired: list[int]) -> None:
    bare = Bare([{"a": {"atom": "x"}}, {"b$not": {"atom": "y"}}])
    for name in order:
        bare.tell(atom=name)
    assert bare.fired == fired


def test_library_has_room_for_1024_states_and_frees_none() -> None:
    states = in_a_new_process("""
        from durable.engine import Host
        host = type("QuietHost", (Host,), {"_run": lambda self: None})()
        host.register_rulesets({"bare": {"r": {"all": [{"m": {"atom": "x"}}], "run": lambda c: None}}})
        try:
            for state in range(2_000):
                host.assert_fact("bare", {"atom": "x", "sid": str(state)})
        except MemoryError:
            print(state)
    """)
    assert states == "1024"


def test_library_host_starts_threads_of_its_own() -> None:
    before = threading.active_count()
    host = Host()
    assert threading.active_count() == before + 2
    host._d_timer.cancel()
    host._t_timer.cancel()
