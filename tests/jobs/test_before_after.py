"""Readings taken again after a repair stand beside the first ones, with their limits."""

from __future__ import annotations

from chopstick.engine.jobs.shop.before_after import before_after, limits, settling
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.bands import bands_of
from chopstick.engine.reasoning.facts import Facts
from chopstick.engine.reasoning.session import Session

from ..shipped import shipped_knowledge
from .bench import Bench


def test_a_hot_pair_before_and_after_the_bias_was_set(plain: KnowledgeBase) -> None:
    """A 14 W tube at 320 V and 40 mA of cathode current takes at most 12.8 W, 91 percent; at 325 V and 26 mA at most
    8.5 W, 60 percent; the screen grid takes a few percent of it."""
    bench = Bench("runs-hot").read("plates", plate_volts=320, cathode_current=40).repair("set-bias", "bias-too-hot")
    bench.read("plates", plate_volts=325, cathode_current=26)
    found = {one.quantity: one for one in before_after(plain, bench.log)}
    share = found["share"]
    assert (share.before.good, share.after.good, share.high) == (False, True, 70)
    assert share.before.value is not None
    assert share.after.value is not None
    assert 82 < share.before.value < 91.5
    assert 54 < share.after.value < 60.4
    assert share.limits == "70 % or less"
    assert found["plate-volts"].before.good is found["plate-volts"].after.good is True
    assert found["cathode-current"].after.good is None  # a raw figure that nothing judges
    assert share.repairs == ("set-bias",)


def test_an_answer_before_and_after(plain: KnowledgeBase) -> None:
    bench = Bench("crackle").answer("turn-and-listen", "yes").repair("clean-control", "track-dirty")
    (one,) = before_after(plain, bench.answer("turn-and-listen", "no").log)
    assert (one.before.said, one.before.good, one.after.said, one.after.good) == ("yes", False, "no", True)
    assert one.limits == "Silence."


def test_what_was_measured_on_one_side_of_the_repair_only_is_no_comparison(plain: KnowledgeBase) -> None:
    bench = Bench("runs-hot").read("plates", plate_volts=320, cathode_current=40)
    bench.read("plates", plate_volts=321, cathode_current=40).repair("set-bias", "bias-too-hot")
    assert before_after(plain, bench.log) == ()
    assert before_after(plain, bench.answer("plates", "can't tell").log) == ()


def test_with_several_repairs_the_first_stands_beside_the_last(plain: KnowledgeBase) -> None:
    bench = Bench("runs-hot").read("plates", plate_volts=400, cathode_current=40)
    for volts, repair, cause in ((380, "set-bias", "bias-too-hot"), (330, "fit-rectifier", "supply-too-high")):
        bench.repair(repair, cause).read("plates", plate_volts=volts, cathode_current=25)
    found = {one.quantity: one for one in before_after(plain, bench.log)}
    volts_ = found["plate-volts"]
    assert (volts_.before.value, volts_.after.value) == (400, 330)
    assert (volts_.before.good, volts_.after.good) == (False, True)
    assert volts_.repairs == ("set-bias", "fit-rectifier")


def test_limits_never_hold_a_value_that_tells_of_a_fault() -> None:
    """For every judged quantity of the shipped knowledge base: no band with findings lies inside its limits."""
    base = shipped_knowledge()
    known = 0
    for check in base.checks.values():
        for quantity, bands in bands_of(check).items():
            low, high = limits(base, Facts(), check, quantity)
            if low is None and high is None:
                continue
            known += 1
            for band in bands:
                if band.findings and not isinstance(band.above, str) and not isinstance(band.below, str):
                    above = float("-inf") if band.above is None else band.above
                    below = float("inf") if band.below is None else band.below
                    apart = (high is not None and above >= high) or (low is not None and below <= low)
                    assert apart, (check.id, quantity)
    assert known > 60


def test_the_owner_is_told_what_a_new_part_needs_while_it_settles() -> None:
    """New power tubes and a new cone (common practice, no source); nothing for a cleaned control, said once a kind."""
    base = shipped_knowledge()
    bench = Bench("hum-constant")
    for repair in ("replace-power-tubes", "match-power-tubes", "replace-speaker", "clean-control-track"):
        cause = next(id_ for id_, one in base.causes.items() if repair in one.repairs)
        bench.repair(repair, cause)
    told = settling(Session(base).read(bench.log))
    assert len(told) == 2
    assert "first hours" in told[0]
    assert "cone" in told[1]
