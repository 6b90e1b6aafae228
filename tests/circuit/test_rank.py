"""The dictionary and the ranking as a technician uses them. The scored trial on many cases is in tests/faults."""

import numpy as np
import pytest
from chopstick.engine.circuit.advise import information_bits, next_points
from chopstick.engine.circuit.classes import alike, distances, fault_class
from chopstick.engine.circuit.dictionary import Dictionary, build_dictionary
from chopstick.engine.circuit.evidence import BOUND, POOR_BOUND, weigh
from chopstick.engine.circuit.expected import Meter, expect
from chopstick.engine.circuit.faults import Severity
from chopstick.engine.circuit.files import load_archetype
from chopstick.engine.circuit.netlist import Circuit
from chopstick.engine.circuit.rank import rank

from .bench import circuit


@pytest.fixture(scope="module")
def amp() -> Dictionary:
    return build_dictionary(load_archetype("cathode-biased-2x6v6gt-split-load").circuit)


def row_of(dictionary: Dictionary, fault: str, degree: int = 0) -> int:
    rows = [k for k, owner in enumerate(dictionary.row_fault) if owner >= 0 and dictionary.faults[owner].id == fault]
    return rows[degree]


def test_a_plate_at_the_supply_with_a_high_cathode_is_an_open_cathode_resistor(amp: Dictionary) -> None:
    ranking = rank(amp, {"v1a.plate": 234.0, "v1a.cathode": 5.6, "bplus_3": 236.0})
    assert ranking.candidates[0].fault == "R4.open"
    assert ranking.candidates[0].stage == "input"
    assert ranking.healthy < 0.01
    assert ranking.explained


def test_a_plate_at_the_supply_with_no_volts_on_the_cathode_is_a_tube_that_does_not_work(amp: Dictionary) -> None:
    ranking = rank(amp, {"v1a.plate": 234.0, "v1a.cathode": 0.02, "bplus_3": 236.0})
    assert ranking.candidates[0].fault in ("V1a.dead", "R4.shorted", "C1.shorted")
    ranking = rank(amp, {"v1a.plate": 234.0, "v1a.cathode": 0.0, "bplus_3": 236.0, "v1b.plate": 150.0})
    assert ranking.candidates[0].fault == "V1a.dead"


def test_positive_volts_on_an_output_grid_are_a_leaky_coupling_capacitor(amp: Dictionary) -> None:
    ranking = rank(amp, {"out_a.grid": 2.5, "out_b.grid": 0.0, "pi.plate": 185.0, "out.cathode": 17.9})
    leaders = [candidate.fault for candidate in ranking.candidates[:2]]
    assert "C5.leaky" in leaders  # a gassy tube gives the same
    same = fault_class(amp, ranking.candidates[leaders.index("C5.leaky")].row)
    assert {"C5.leaky", "V3.gassy"} <= set(same.faults)
    assert any("C5" in check and "lift one end" in check for check in same.checks)
    assert any("V3" in check and "swap" in check for check in same.checks)


def test_good_readings_leave_it_healthy(amp: Dictionary) -> None:
    ranking = rank(amp, {point: volts for point, (volts, _) in amp.chart().items()})
    assert ranking.healthy > 0.8
    assert ranking.best == ()


def test_two_faults_of_different_stages(amp: Dictionary) -> None:
    both = [amp.severities[row_of(amp, fault)].variant for fault in ("R3.open", "V2a.dead")]
    expected = expect(amp.solver, [Severity("both", both[0] | both[1])], amp.points, amp.meter)
    readings = dict(zip(amp.points, expected.mean[0].tolist(), strict=True))
    assert set(rank(amp, readings).best) == {"R3.open", "V2a.dead"}


def test_readings_that_nothing_explains_are_said_to_be_so(amp: Dictionary) -> None:
    ranking = rank(amp, {"bplus_1": 300.0, "bplus_2": 420.0, "bplus_3": 20.0, "v1a.plate": 400.0, "out_a.plate": 10.0})
    assert not ranking.explained


def test_a_stage_that_is_off_asks_for_one_explanation(amp: Dictionary) -> None:
    evidence = weigh(rank(amp, {"v1a.plate": 234.0, "v1a.cathode": 5.6, "bplus_3": 236.0}))
    assert [off.stage for off in evidence.off] == ["input"]
    off = evidence.off[0]
    assert off.explains["R4.open"] == pytest.approx(1.0)
    assert off.leak == pytest.approx(1.0 / BOUND, rel=0.01)
    assert off.explains["V1a.dead"] < 1e-6
    assert evidence.factors["R4.open"] == pytest.approx(1.0, rel=0.01)
    assert evidence.factors["V1a.dead"] == pytest.approx(1.0 / BOUND, rel=0.1)


def test_faults_that_explain_the_same_reading_share_the_explanation(amp: Dictionary) -> None:
    # The plate alone can't tell a dead tube from an open cathode resistor (a fact of the trade).
    off = weigh(rank(amp, {"v1a.plate": 234.0})).off[0]
    assert off.explains["V1a.dead"] > 0.5
    assert off.explains["R4.open"] > 0.2


def test_a_fault_elsewhere_is_not_held_against_what_another_stage_explains(amp: Dictionary) -> None:
    # Nothing read here depends on the second stage's bypass or, without grid current, on a grid leak of the output.
    factors = weigh(rank(amp, {"v1a.plate": 234.0, "v1a.cathode": 5.6, "bplus_3": 236.0})).factors
    assert factors["R13.drifted-up"] == pytest.approx(1.0, rel=0.05)
    assert factors["C3.open"] == pytest.approx(1.0, rel=0.05)


def test_a_gross_fault_beside_another_leaves_each_its_own_explanation(amp: Dictionary) -> None:
    both = [amp.severities[row_of(amp, *fault)].variant for fault in (("R3.open", 0), ("C5.leaky", 4))]
    expected = expect(amp.solver, [Severity("both", both[0] | both[1])], amp.points, amp.meter)
    readings = dict(zip(amp.points, expected.mean[0].tolist(), strict=True))
    off = {one.stage: one for one in weigh(rank(amp, readings)).off}
    assert off["input"].explains["R3.open"] == pytest.approx(1.0)
    assert off["output_a"].explains["C5.leaky"] == pytest.approx(1.0)
    for one in off.values():  # what moves no reading explains none
        assert one.explains["output_transformer.no-load"] == 0.0


def test_good_readings_speak_against_what_they_would_show(amp: Dictionary) -> None:
    evidence = weigh(rank(amp, {point: volts for point, (volts, _) in amp.chart().items()}))
    assert evidence.off == ()
    assert evidence.factors["V1a.dead"] == pytest.approx(1.0 / BOUND, rel=0.1)
    assert evidence.factors["C1.open"] == pytest.approx(1.0, rel=0.05)  # no DC reading shows an open bypass


def test_readings_that_fit_nothing_are_believed_less(amp: Dictionary) -> None:
    found = rank(amp, {"bplus_1": 300.0, "bplus_2": 420.0, "bplus_3": 20.0, "v1a.plate": 400.0, "out_a.plate": 10.0})
    evidence = weigh(found)
    assert not found.explained
    assert min(evidence.factors.values()) > 0.9 / POOR_BOUND
    assert all(off.leak > 0.9 / POOR_BOUND / (1 + 1 / POOR_BOUND) for off in evidence.off)


def test_better_figures_for_how_common_a_fault_is_are_taken(amp: Dictionary) -> None:
    readings = {"v1a.cathode": 0.8, "v1a.plate": 125.0, "bplus_3": 231.0}
    plain = {c.fault: c.probability for c in rank(amp, readings).candidates}
    told = {c.fault: c.probability for c in rank(amp, readings, priors={"C1.leaky": 1e-9}).candidates}
    assert plain["C1.leaky"] > 0.3
    assert told["C1.leaky"] < 1e-3


def test_no_readings_rank_by_how_common(amp: Dictionary) -> None:
    ranking = rank(amp, {})
    weights = [amp.fault(candidate.fault).weight for candidate in ranking.candidates]
    assert weights == sorted(weights, reverse=True)


def test_parts_side_by_side_form_a_class(amp: Dictionary) -> None:
    # R4 drifted low and C1 across it leaking are one resistance to any meter.
    same = alike(amp, row_of(amp, "R4.drifted-down", 2))
    assert "C1.leaky" in same
    assert distances(amp, row_of(amp, "R4.drifted-down", 2))["V2a.dead"] > 5


def test_an_unknown_point_is_told_with_the_nearest(amp: Dictionary) -> None:
    with pytest.raises(KeyError, match=r"'v1a\.plat' is not a test point of this circuit\. Did you mean 'v1a\.plate'"):
        rank(amp, {"v1a.plat": 1.0})


def test_the_meter_enters_every_reading() -> None:
    # A divider of two 1 M resistors is a source of 0.5 M: 10 M takes 5 percent off, 1 M a third (identity).
    model = {
        "title": "divider", "summary": "two resistors", "test_points": ["middle"], "tubes": {},
        "supplies": {"ht": {"node": "top", "volts": 300, "source_ohm": 1}},
        "parts": {
            "R1": {"kind": "resistor", "ohm": "1M", "nodes": ["top", "middle"]},
            "R2": {"kind": "resistor", "ohm": "1M", "nodes": ["middle", "chassis"]},
        },
        "stages": {"one": {"title": "one", "parts": {"R1": "upper", "R2": "lower"}}},
    }  # fmt: skip
    divider = Circuit.model_validate(model)
    for ohm in (10e6, 1e6):
        shown = build_dictionary(divider, Meter(ohm)).chart()["middle"][0]
        assert shown == pytest.approx(150 * ohm / (ohm + 0.5e6), rel=1e-3)
    assert Meter.moving_coil(20e3, 500.0).ohm == pytest.approx(10e6)


def test_a_bootstrapped_grid_reads_far_too_low(amp: Dictionary) -> None:
    # The grid leak of a split-load inverter returns to its own cathode load, so the node is a source of many megohms:
    # even a 10 M meter pulls it down by more than half (trade fact).
    true = build_dictionary(amp.network, Meter(1e12)).chart()["pi.grid"][0]
    assert amp.chart()["pi.grid"][0] < 0.5 * true


def test_a_tighter_part_gives_a_narrower_band() -> None:
    wide = build_dictionary(circuit(R3={"tolerance_percent": 20})).chart()["v1a.plate"][1]
    tight = build_dictionary(circuit(R3={"tolerance_percent": 1})).chart()["v1a.plate"][1]
    assert tight < wide


def test_the_next_point_is_the_one_that_tells_most(amp: Dictionary) -> None:
    # The first plate low on a sound supply: the cathode of that stage tells load from tube; another stage tells nothing.
    readings = {"v1a.plate": 90.0, "bplus_3": 229.0}
    worth = {w.point: w.bits for w in next_points(amp, rank(amp, readings), tuple(readings))}
    assert "v1a.plate" not in worth
    assert worth["v1a.cathode"] > 0.95 * max(worth.values())  # the grid may have drifted up as well
    assert worth["v1a.cathode"] > 5 * worth["out_b.grid"]


def test_information_of_two_far_means_is_one_bit() -> None:
    two = np.array([0.5, 0.5])
    assert information_bits(two, np.array([0.0, 100.0]), np.ones(2)) == pytest.approx(1.0, abs=1e-3)
    assert information_bits(two, np.array([0.0, 0.0]), np.ones(2)) == pytest.approx(0.0, abs=1e-3)
