"""A reading or figure whose error reaches across a limit says neither side of it, and says what would settle it."""

from collections.abc import Callable

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.model import Check
from chopstick.engine.reasoning.answers import entry
from chopstick.engine.reasoning.bands import Bounded, Judgement, Value, judge
from chopstick.engine.reasoning.facts import gather
from chopstick.engine.reasoning.log import LogEntry, Opened
from chopstick.engine.reasoning.session import Session
from hypothesis import given
from hypothesis import strategies as st

from .conftest import AT

Job = Callable[..., list[LogEntry]]

CHECK = Check.model_validate(
    {
        "id": "supply", "name": "Measure the supply", "stage": "live", "minutes": 2, "do": "Clip on.",
        "normal": "300 to 450 V.", "cautions": ["live"],
        "readings": {"supply": {"ask": "Supply", "unit": "V", "plausible": [0, 700]}},
        "bands": [
            {"below": 300, "findings": ["low"], "text": "low"},
            {"above": 300, "below": 450, "text": "as it should be"},
            {"above": 450, "findings": ["high"], "text": "high"},
            {"above": 500, "findings": ["high", "too-high"], "text": "more than the capacitors stand"},
        ],
    }
)  # fmt: skip
INFINITE = float("inf")
BANDS = [Bounded(b, -INFINITE if b.above is None else b.above, INFINITE if b.below is None else b.below)  # type: ignore[arg-type]
         for b in CHECK.bands]  # fmt: skip


def judged(volts: float, error: float) -> Judgement:
    return judge(CHECK, "supply", Value(volts, "V", error=error), volts, BANDS)


def test_453_volts_against_a_limit_of_450_can_not_tell() -> None:
    found = judged(453.0, 3.6)
    assert found.absent == {"low", "too-high"}
    assert "high" not in found.present
    assert found.doubt is not None
    assert found.doubt.findings == ("high",)
    assert found.doubt.text == "Supply 453 V ± 3.6 V: can't tell as it should be from high"
    assert found.doubt.settle == "the limit is 450 V; measure again with a meter good to ± 3 V, 0.66 %"


def test_what_all_bands_within_the_error_have_is_there() -> None:
    found = judged(501.0, 4.0)
    assert found.present == {"high"}
    assert found.doubt is not None
    assert found.doubt.findings == ("too-high",)


def test_right_at_the_limit_no_meter_settles_it() -> None:
    doubt = judged(450.1, 3.6).doubt
    assert doubt is not None
    assert "no better meter" in doubt.settle


@given(st.floats(0, 700), st.floats(0, 30), st.floats(0, 1))
def test_a_better_meter_settles_no_less_and_never_the_other_way(volts: float, error: float, better: float) -> None:
    rough, fine = judged(volts, error), judged(volts, error * better)
    assert rough.present <= fine.present
    assert rough.absent <= fine.absent


@given(st.floats(0, 700), st.floats(0, 30), st.floats(-0.999, 0.999))
def test_whatever_the_true_value_nothing_said_is_false(volts: float, error: float, off: float) -> None:
    said, true = judged(volts, error), judged(volts + off * error, 0.0)
    assert true.doubt is None
    assert not said.present & true.absent
    assert not said.absent & true.present


def test_a_figure_carries_the_error_of_what_was_read(base: KnowledgeBase, job: Job) -> None:
    """300 V at 40.2 mA in a tube rated 12 W is 100.5 per cent: both meters together are good to about 1.9."""
    log = job(amp={"power-tube": "6V6GT"}, then=[("idle", {"plate": "300V", "cathode": "40.2mA"})])
    facts = gather(base, log)
    assert facts.values["idle/dissipation"].error == pytest.approx(1.85, abs=0.1)
    assert "idle-over-rating" not in facts.latest()
    (doubt,) = facts.doubts
    assert "100.5 % ± 1.8" in doubt.text
    assert "most of the error comes from cathode mA" in doubt.settle
    assert facts.values["idle/dissipation"].figure is not None
    assert facts.values["idle/dissipation"].figure.verdict.startswith("can't tell")


def test_measured_again_with_a_clear_answer_the_doubt_is_gone(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job(then=[("pot-dc", "50.2 mV"), ("pot-dc", "61 mV")]))
    assert facts.doubts == ()
    assert facts.latest()["dc-on-pot"].present


def test_a_proof_that_can_not_tell_is_not_asked_for_ever(base: KnowledgeBase, job: Job, session: Session) -> None:
    log = job("knob-crackle", then=[("pot-dc", "400 mV"), ("repair:change-capacitor", "capacitor-leaky"), ("pot-dc", "50.1 mV")])
    now = session.read(log)
    assert now.facts.repairs[0].proven is None
    assert (now.next.kind, now.next.id) != ("proof", "pot-dc")


def test_on_a_safety_check_what_may_hurt_is_taken_to_be_there() -> None:
    """0.45 ohm of protective earth is under 0.5 ohm, but the leads alone may make the difference."""
    shipped_base = load.load()
    log: list[LogEntry] = [Opened(at=AT, title="job", fingerprint=shipped_base.fingerprint)]
    log.append(entry(shipped_base.checks["measure-protective-earth"], "0.45", AT, believed=True))
    facts = gather(shipped_base, log)
    assert facts.latest()["earth-poor"].present
    assert "for safety" in facts.latest()["earth-poor"].how
    assert "earth-good" not in facts.latest()
    assert facts.doubts[0].text.endswith("taken as the worse, for safety")
    assert not facts.latest()["earth-open"].present
