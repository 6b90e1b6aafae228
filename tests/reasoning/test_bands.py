"""A reading or figure whose error reaches across a limit says neither side of it, and says what would settle it."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from chopstick.engine.bench.figure import Figure
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.model import Band, Check
from chopstick.engine.reasoning.answers import entry
from chopstick.engine.reasoning.bands import Bounded, Judgement, Value, bands_of, judge, spoken
from chopstick.engine.reasoning.facts import gather
from chopstick.engine.reasoning.log import LogEntry, Opened, Reading
from chopstick.engine.reasoning.session import Session
from hypothesis import given
from hypothesis import strategies as st

from ..shipped import shipped_knowledge
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


@pytest.mark.parametrize(
    ("volts", "said", "present"),
    [
        (299.9, "low", {"low"}),
        (300.0, "as it should be", set()),  # a limit belongs to the band above it
        (450.0, "high", {"high"}),
        (500.0, "high, more than the capacitors stand", {"high", "too-high"}),
    ],
)
def test_a_limit_belongs_to_the_band_above_it(volts: float, said: str, present: set[str]) -> None:
    found = judged(volts, 0.0)
    assert (found.said, found.present, found.doubt) == (said, present, None)
    assert found.absent == {"low", "high", "too-high"} - present


def test_what_no_band_covers_makes_every_finding_false() -> None:
    one = [Bounded(CHECK.bands[1], 300.0, 450.0)]
    found = judge(CHECK, "supply", Value(200.0, "V"), 200.0, one)
    assert (found.said, found.present) == ("in no band of note", set())


def test_the_error_of_a_limit_that_is_measured_too_adds_as_a_right_angle() -> None:
    """3 V on the reading and 4 V on the limit are 5 V together: 454.9 V can't be told from 450, 455.1 V can."""
    bands = [replace(one, error=4.0) if one.band.above == 450 else one for one in BANDS]
    for volts, settled in ((454.9, False), (455.1, True)):
        found = judge(CHECK, "supply", Value(volts, "V", error=3.0), volts, bands)
        assert (found.doubt is None) is settled


def test_a_doubt_says_how_good_a_meter_would_have_to_be() -> None:
    """2 V from the limit. Within a tenth of the error of it no meter helps; of a figure its largest error is named."""

    def settle(volts: float, error: float, figure: Figure | None = None) -> str:
        doubt = judge(CHECK, "supply", Value(volts, "V", figure, error=error), volts, BANDS).doubt
        assert doubt is not None
        return doubt.settle

    assert settle(448.0, 3.6) == "the limit is 450 V; measure again with a meter good to ± 2 V, 0.45 %"
    right_there = "the limit is 450 V, and it is right at the limit: no better meter settles that, other checks may"
    assert settle(450.3, 3.6) == right_there
    assert settle(450.4, 3.6) != right_there
    worked = Figure("supply", 448.0, "V", (), (), "common-practice", error=3.6, error_from="plate_V")
    assert settle(448.0, 3.6, worked) == (
        "the limit is 450 V; the figure would have to be good to ± 2 V, 0.45 %; most of the error comes from plate V: "
        "a better meter, or parts measured, there"
    )
    assert settle(448.0, 3.6, replace(worked, error_from="")).endswith("good to ± 2 V, 0.45 %")


def test_a_reading_is_spoken_with_its_unit_and_a_missing_one_without() -> None:
    assert spoken(CHECK, "supply", Value(462.5, "V")) == "Supply 462.5 V"
    assert spoken(CHECK, "supply", Value(None, "V")) == "Supply"


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
    """300 V at 40.2 mA in a tube rated 12 W is 100.5 percent: both meters together are good to about 1.9."""
    log = job(amp={"power-tube": "6V6GT"}, then=[("idle", {"plate": "300V", "cathode": "40.2mA"})])
    facts = gather(base, log)
    assert facts.values["idle/dissipation"].error == pytest.approx(1.85, abs=0.1)
    assert "idle-over-rating" not in facts.latest()
    (doubt,) = facts.doubts
    assert "100.5 % ± 1.8" in doubt.text
    assert "most of the error comes from cathode mA" in doubt.settle
    assert facts.values["idle/dissipation"].figure is not None
    assert facts.values["idle/dissipation"].figure.verdict.startswith("can't tell")


def test_a_figure_made_from_a_figure_is_no_surer_than_that(job: Job) -> None:
    """8 V across 8 ohm are 8 W; two times 0.8 percent of volts and 2.8 of so few ohms make 3.2 percent of them, and of
    the share of a rating as well, not the 2 percent of a wattmeter."""
    base = shipped_knowledge()
    log = [
        Opened(at=AT, title="amp", fingerprint=""),
        Reading(at=AT, check="output-power", values={"load-volts": 8.0, "load-ohms": 8.0, "rated-watts": 15.0}),
    ]
    values = gather(base, log).values
    watts, share = values["output-power/watts"], values["output-power/of-rated"]
    assert watts.value == pytest.approx(8.0)
    assert watts.error / watts.value == pytest.approx(math.hypot(0.016, 0.0275), rel=0.01)
    assert share.error / share.value == pytest.approx(watts.error / watts.value, rel=0.01)


def test_measured_again_with_a_clear_answer_the_doubt_is_gone(base: KnowledgeBase, job: Job) -> None:
    facts = gather(base, job(then=[("pot-dc", "50.2 mV"), ("pot-dc", "61 mV")]))
    assert facts.doubts == ()
    assert facts.latest()["dc-on-pot"].present


def test_a_proof_that_can_not_tell_is_not_asked_for_ever(base: KnowledgeBase, job: Job, session: Session) -> None:
    """50.1 mV may be either side of 50: the proof is not asked again at once, and what it proves stays open."""
    mended: list[tuple[str, object]] = [
        ("look-at-plug", "yes"), ("pot-dc", "400 mV"), ("repair:change-capacitor", "capacitor-leaky"), ("hold:ready-for-power", True)
    ]  # fmt: skip
    asked = session.read(job("knob-crackle", then=mended)).next
    assert (asked.kind, asked.id) == ("proof", "pot-dc")
    now = session.read(job("knob-crackle", then=[*mended, ("pot-dc", "50.1 mV")]))
    assert now.facts.repairs[0].proven is None
    assert (now.next.kind, now.next.id) == ("proof", "again-knob-crackle"), "the complaint itself may tell"


def test_on_a_safety_check_what_may_hurt_is_taken_to_be_there() -> None:
    """0.25 ohm of protective earth is under 0.3 ohm, but the leads alone may make the difference: only under 0.2 passes."""
    shipped_base = shipped_knowledge()
    log: list[LogEntry] = [Opened(at=AT, title="job", fingerprint=shipped_base.fingerprint)]
    log.append(entry(shipped_base.checks["measure-protective-earth"], "0.25", AT, believed=True))
    facts = gather(shipped_base, log)
    assert facts.latest()["earth-poor"].present
    assert "for safety" in facts.latest()["earth-poor"].how
    assert "earth-good" not in facts.latest()
    assert facts.doubts[0].text.endswith("taken as the worse, for safety")
    assert not facts.latest()["earth-open"].present


# --- several quantities, and what may hurt


def changed(base: KnowledgeBase, check_id: str, **update: object) -> KnowledgeBase:
    area = base.areas["small"]
    check = area.checks[check_id].model_copy(update=update)
    return replace(base, areas={"small": area.model_copy(update={"checks": {**area.checks, check_id: check}})})


def test_only_what_may_hurt_is_feared_and_only_on_a_check_that_bears_on_safety(base: KnowledgeBase, job: Job) -> None:
    """A lost bias does damage; DC on a pot comes of a leaky capacitor, which hurts nobody here."""
    amp: dict[str, object] = {"power-tube": "6V6GT"}
    idle, pot = ("idle", {"plate": "300V", "cathode": "40.2mA"}), ("pot-dc", "50.2 mV")
    plain = gather(base, job(amp=amp, then=[idle, pot]))
    assert not plain.latest()
    assert {doubt.findings for doubt in plain.doubts} == {("idle-over-rating",), ("dc-on-pot",)}
    safe = gather(changed(changed(base, "idle", safety=True), "pot-dc", safety=True), job(amp=amp, then=[idle, pot]))
    assert {id_: said.present for id_, said in safe.latest().items()} == {"idle-over-rating": True}
    assert safe.latest()["idle-over-rating"].how.endswith("; taken as the worse, for safety")
    feared, open_ = safe.doubts
    assert feared.text.endswith("; taken as the worse, for safety")
    assert not open_.text.endswith("for safety")


def test_of_several_quantities_one_that_has_a_finding_is_enough_and_is_named(base: KnowledgeBase, job: Job) -> None:
    """Plate volts and dissipation both speak of an idle over the rating."""
    bands = (
        Band(of="plate", above=450, findings=("idle-over-rating",), text="more plate volts than it stands"),
        Band(of="dissipation", above=100, findings=("idle-over-rating",), text="over the rating"),
    )
    ours = changed(base, "idle", bands=bands)

    def told(plate: str, cathode: str) -> tuple[bool | None, str]:
        facts = gather(ours, job(amp={"power-tube": "6V6GT"}, then=[("idle", {"plate": plate, "cathode": cathode})]))
        said = facts.latest().get("idle-over-rating")
        return (said.present, said.how) if said else (None, "")

    assert told("300 V", "60 mA") == (True, "dissipation 150 %: over the rating")
    assert told("480 V", "10 mA") == (True, "Plate volts 480 V: more plate volts than it stands")
    assert told("300 V", "10 mA")[0] is False
    assert told("300 V", "40.2 mA") == (None, ""), "the volts say no, the dissipation can't tell: nothing is said"
    assert told("480 V", "25.1 mA")[0] is True, "the volts have it, whatever the dissipation"


def test_a_band_that_names_no_quantity_means_the_last_one(base: KnowledgeBase) -> None:
    """The only reading, or the figure that the readings were taken for."""
    assert bands_of(CHECK) == {"supply": list(CHECK.bands)}
    unnamed, named = Band(above=100, text="over"), Band(of="plate", above=450, text="over")
    assert bands_of(base.checks["idle"].model_copy(update={"bands": (unnamed, named)})) == {
        "dissipation": [unnamed], "plate": [named],
    }  # fmt: skip
    assert bands_of(base.checks["turn-it"]) == {}, "answers have no bands"
