"""A rule in plain sentences: what each condition says, what is known instead, and what a conclusion says."""

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.conditions import Situation
from chopstick.engine.reasoning.rule_sentences import conclusion
from chopstick.engine.reasoning.rule_verdict import judged

EARTH, CRACKLE = "The plug has no protective earth", "Crackle when a knob turns"
YES, NO = Situation(known={"no-earth": True}), Situation(known={"no-earth": False})
NOTHING = Situation()
PLATE = Situation(values={"idle/plate": 380.0, "idle/dissipation": 71.2})
LEAVES: list[tuple[dict[str, object], Situation, str, str]] = [
    # condition, what is known, its sentence, what is known instead of it
    ({"finding": "no-earth"}, NOTHING, EARTH, "nothing is known of it yet"),
    ({"finding": "no-earth"}, NO, EARTH, "it was answered no"),
    ({"finding": "no-earth"}, YES, EARTH, ""),
    ({"not": {"finding": "no-earth"}}, YES, f"not so: {EARTH}", "it is so"),
    ({"not": {"finding": "no-earth"}}, NO, f"not so: {EARTH}", ""),
    ({"denied": "no-earth"}, YES, f"answered no: {EARTH}", "it is so"),
    ({"not": {"denied": "no-earth"}}, NO, f"so: {EARTH}", "it was answered no"),
    ({"unknown": "no-earth"}, YES, f"nothing is known of: {EARTH}", "it is so"),
    ({"not": {"unknown": "no-earth"}}, NOTHING, f"something is known of: {EARTH}", "nothing is known of it yet"),
    ({"complaint": "knob-crackle"}, NOTHING, f"the player complains of: {CRACKLE}", "the player does not"),
    ({"not": {"complaint": "knob-crackle"}}, Situation(complaints=frozenset({"knob-crackle"})),
     f"not so: the player complains of: {CRACKLE}", "the player does"),
    ({"spoken": "no-earth-holds"}, NOTHING, "the rule 'no-earth-holds' has spoken", "it has not spoken"),
    ({"not": {"spoken": "no-earth-holds"}}, Situation(spoken=frozenset({"no-earth-holds"})),
     "the rule 'no-earth-holds' has not spoken", "it has spoken"),
    ({"answer": "look-at-plug", "is": ["no", "two pins"]}, NOTHING, "Look at the mains plug: answered no or two pins",
     "it is not answered yet"),
    ({"not": {"answer": "look-at-plug", "is": "no"}}, Situation(answers={"look-at-plug": "no"}),
     "Look at the mains plug: not answered no", "it was answered no"),
    ({"amp": {"bias": "fixed", "rectifier": ["5Y3GT", "5AR4"]}}, Situation(amp={"bias": "cathode"}),
     "bias is fixed; rectifier is 5Y3GT or 5AR4", "bias is cathode; rectifier is not known"),
    ({"not": {"amp": {"bias": "fixed"}}}, Situation(amp={"bias": "fixed"}), "not so: bias is fixed", "bias is fixed"),
    ({"since": "check/look-at-plug", "above": 30, "below": 60}, Situation(since={"check/look-at-plug": 4.4}),
     "minutes since check look-at-plug: above 30 and below 60", "it is 4 minutes"),
    ({"since": "opened", "above": 30}, NOTHING, "minutes since opened: above 30", "there is no such entry yet"),
    ({"value": "idle/plate", "above": 400, "below": 450.5}, PLATE, "Plate volts: above 400 V and below 450.5 V",
     "Plate volts is 380 V"),
    ({"not": {"value": "idle/plate", "below": 400}}, PLATE, "not so: Plate volts: below 400 V", "Plate volts is 380 V"),
    ({"value": "idle/plate", "below": 400}, NOTHING, "Plate volts: below 400 V", "Plate volts is not measured yet"),
    ({"value": "idle/dissipation", "above": 100}, PLATE, "dissipation of: Idle dissipation: above 100",
     "dissipation of: Idle dissipation is 71.2"),
    ({"value": "idle/cathode", "above": {"value": "idle/plate", "times": 0.1, "plus": -5}}, PLATE,
     "Cathode current: above 0.1 times (Plate volts) less 5 V", "Cathode current is not measured yet; Plate volts is 380 V"),
    ({"value": "idle/cathode", "below": {"value": "idle/plate", "plus": 5}}, PLATE,
     "Cathode current: below (Plate volts) plus 5 V", "Cathode current is not measured yet; Plate volts is 380 V"),
    ({"value": "idle/cathode", "above": {"value": "idle/plate"}}, NOTHING, "Cathode current: above (Plate volts)",
     "Cathode current is not measured yet; Plate volts is not measured yet"),
    ({"value": "gone/volts", "above": 30}, NOTHING, "gone/volts: above 30", "gone/volts is not measured yet"),
    ({"value": "idle/gone", "above": 30}, NOTHING, "idle/gone: above 30", "idle/gone is not measured yet"),
]  # fmt: skip


@pytest.mark.parametrize(("when", "now", "text", "known"), LEAVES, ids=[f"{n}-{one[2][:40]}" for n, one in enumerate(LEAVES)])
def test_a_condition_says_what_it_asks_and_what_is_known_instead(
    base: KnowledgeBase, when: dict[str, object], now: Situation, text: str, known: str
) -> None:
    found = judged(base, model.Condition.model_validate(when), now)
    assert (found.text, found.now) == (text, known)
    assert (found.verdict == "met") is (known == "")
    assert list(found.failing()) == ([] if found.verdict == "met" else [found])


def test_open_is_told_from_not_met(base: KnowledgeBase) -> None:
    condition = model.Condition.model_validate({"value": "idle/plate", "above": 400})
    verdicts = [judged(base, condition, Situation(values=values)).verdict for values in ({}, {"idle/plate": 380.0}, {"idle/plate": 420.0})]
    assert verdicts == ["open", "not met", "met"]


PARTS = [{"finding": "no-earth"}, {"complaint": "knob-crackle"}, {"not": {"finding": "dc-on-pot"}}]


@pytest.mark.parametrize(
    ("when", "title", "texts"),
    [
        ({"all": PARTS}, "all of these", [EARTH, f"the player complains of: {CRACKLE}", "not so: There is DC on the pot"]),
        ({"any": PARTS[:2]}, "at least 1 of these", [EARTH, f"the player complains of: {CRACKLE}"]),
        ({"at_least": 2, "of": PARTS}, "at least 2 of these",
         [EARTH, f"the player complains of: {CRACKLE}", "not so: There is DC on the pot"]),
        ({"at_most": 1, "of": PARTS}, "at least 2 of these",
         [f"not so: {EARTH}", f"not so: the player complains of: {CRACKLE}", "There is DC on the pot"]),
        ({"not": {"any": PARTS[:2]}}, "all of these", [f"not so: {EARTH}", f"not so: the player complains of: {CRACKLE}"]),
    ],
)  # fmt: skip
def test_what_combines_says_how_many_of_its_parts(
    base: KnowledgeBase, when: dict[str, object], title: str, texts: list[str]
) -> None:
    found = judged(base, model.Condition.model_validate(when), NOTHING)
    assert (found.text, [part.text for part in found.parts]) == (title, texts)


def test_only_the_plain_conditions_that_stand_in_the_way_are_told(base: KnowledgeBase) -> None:
    found = judged(base, model.Condition.model_validate({"all": [{"all": PARTS[:2]}, PARTS[2]]}), YES)
    assert [one.text for one in found.failing()] == [f"the player complains of: {CRACKLE}", "not so: There is DC on the pot"]
    met = judged(base, model.Condition.model_validate({"any": PARTS}), YES)
    assert list(met.failing()) == [], "one is enough"


@pytest.mark.parametrize(
    ("then", "text"),
    [
        ({"conclude": "no-earth"}, f"it is so: {EARTH}"),
        ({"raise": "bias-off", "by": "clearly"}, "Bias lost: clearly more likely"),
        ({"lower": "bias-off", "by": "strongly"}, "Bias lost: strongly less likely"),
        ({"rule_out": "bias-off"}, "Bias lost: ruled out"),
        ({"check_first": "idle"}, "check this first: Idle dissipation"),
        ({"skip": "idle"}, "leave out: Idle dissipation"),
        ({"hold": "earth-first"}, "HOLD: No protective earth."),
        ({"advice": "Look."}, "advice: Look."),
        ({"prefer": "clean-pot"}, "the repair to prefer: Clean the pot"),
        ({"forbid": "clean-pot"}, "a repair not to do: Clean the pot"),
        ({"check_minutes": "idle", "times": 2}, "minutes times 2: Idle dissipation"),
        ({"check_minutes": "idle", "add": -2}, "minutes -2: Idle dissipation"),
        ({"repair_minutes": "clean-pot", "add": 5}, "minutes +5: Clean the pot"),
        ({"price": "clean-pot", "times": 1.5}, "price of the parts times 1.5: Clean the pot"),
    ],
)
def test_a_conclusion_is_a_sentence(base: KnowledgeBase, then: dict[str, object], text: str) -> None:
    assert conclusion(base, model.Conclusion.model_validate(then)) == text
