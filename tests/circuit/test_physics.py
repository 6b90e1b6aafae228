"""What tubes, meters and supplies do to the volts, by facts of the trade (common practice, no source) and identities."""

import numpy as np
import pytest
from chopstick.engine.circuit.advise import next_points
from chopstick.engine.circuit.dictionary import Dictionary, build_dictionary
from chopstick.engine.circuit.expected import Meter
from chopstick.engine.circuit.files import load_archetype
from chopstick.engine.circuit.netlist import Circuit
from chopstick.engine.circuit.rank import rank
from chopstick.engine.devices.supply import SupplySpec, curves

from .bench import STAGE, circuit


@pytest.fixture(scope="module")
def follower() -> Dictionary:
    return build_dictionary(load_archetype("fixed-bias-2xel34-cathode-follower").circuit)


@pytest.fixture(scope="module")
def tailed() -> Dictionary:
    return build_dictionary(load_archetype("cathode-biased-2xel84-long-tailed").circuit)


def reads(book: Dictionary, fault: str, point: str) -> float:
    owner = [one.id for one in book.faults].index(fault)
    row = int(np.flatnonzero(book.row_fault == owner)[0])
    return float(book.expected.mean[row, book.points.index(point)])


def test_a_dead_follower_has_no_volts_on_its_cathode(follower: Dictionary) -> None:
    """A cold cathode feeds neither plate nor grid, so the grid's volts don't come through."""
    assert follower.chart()["v2b.cathode"][0] > 150
    assert reads(follower, "V2b.dead", "v2b.cathode") < 20


def test_a_plate_shorted_to_its_cathode_takes_the_cathode_up_and_the_plate_down(tailed: Dictionary) -> None:
    ids = {fault.id for fault in tailed.faults}
    assert {"V1a.plate-cathode-short", "V3.screen-cathode-short", "V1a.heater-cathode-short"} <= ids
    sound = tailed.chart()
    assert reads(tailed, "V1a.plate-cathode-short", "v1a.plate") == pytest.approx(
        reads(tailed, "V1a.plate-cathode-short", "v1a.cathode"), abs=0.1
    )
    assert reads(tailed, "V1a.plate-cathode-short", "v1a.cathode") > 2 * sound["v1a.cathode"][0]
    assert reads(tailed, "V3.heater-cathode-short", "out.cathode") < 0.5


def test_the_contact_potential_is_not_known_to_tenths_of_a_volt() -> None:
    """Bypass shorted: grid and cathode at one potential, where a grid begins to draw current. What a plate reads there
    can't be told within a few volts."""
    book = build_dictionary(circuit())
    owner = [one.id for one in book.faults].index("C4.shorted")
    row = int(np.flatnonzero(book.row_fault == owner)[0])
    at = book.points.index("v1a.plate")
    assert np.sqrt(book.expected.covariance[row, at, at]) > 6.0


def test_a_low_range_reads_millivolts() -> None:
    """A one-ohm sense resistor: 35 mV are read as surely as 35 V; on one range of a moving-coil meter they say nothing."""
    meter = Meter()
    assert np.sqrt(meter.variance(np.array(0.035))) < 0.001
    assert np.sqrt(meter.variance(np.array(35.0))) == pytest.approx(np.hypot(0.35, 0.05) / np.sqrt(3), rel=0.01)
    assert np.sqrt(Meter.moving_coil(20e3, 50.0).variance(np.array(0.035))) > 0.5


def test_a_plate_without_a_feed_is_pulled_to_nothing_by_the_meter(tailed: Dictionary) -> None:
    """Its tube conducts up to where the cathode stands, but gives a meter nothing."""
    load = next(part for part, role in tailed.network.circuit.stages["inverter"].parts.items() if "load" in role)
    end = next(node for node in tailed.network.circuit.parts[load].nodes if node.endswith("plate"))
    assert reads(tailed, f"{load}.open", end) < 3.0


def test_a_dead_supply_holds_nothing_at_nil() -> None:
    book = build_dictionary(circuit())
    assert reads(book, "main.no-output", "bplus_1") == pytest.approx(0.0, abs=0.05)


def test_a_supply_without_its_reservoir_stands_on_the_next_capacitor() -> None:
    """Against a transient run of ngspice kept here as a figure: 5Y3GT, 255 V, 220 ohm, 470 ohm to the next capacitor of
    16 uF, 50 mA, 60 percent of it before the 470 ohm: 235.6 V; with no capacitor at all the mean of the wave is less."""
    from chopstick.engine.devices.library import standard_library

    law = standard_library().rectifier("5Y3GT")
    spec = SupplySpec(255, 220, law.perveance, law.threshold_V, 2, 60, 0.0, next_ohm=470)
    alone = SupplySpec(255, 220, law.perveance, law.threshold_V, 2, 60, 0.0)
    with_next, without = curves([spec, alone])
    assert with_next.level(0.05) == pytest.approx(235.6, rel=0.01)
    assert without.level(0.05) < 0.93 * with_next.level(0.05)


def test_printed_volts_move_what_is_expected() -> None:
    plain = build_dictionary(circuit()).chart()
    higher = {point: 1.06 * volts for point, (volts, _) in plain.items() if point.startswith("bplus") or "plate" in point}
    told = build_dictionary(Circuit.model_validate({**STAGE, "printed": higher}))
    chart = told.chart()
    for point, volts in higher.items():
        assert chart[point][0] == pytest.approx(volts, rel=0.02)
    assert rank(told, higher).healthy > 0.8
    assert reads(told, "V1a.dead", "bplus_2") > 1.03 * reads(build_dictionary(circuit()), "V1a.dead", "bplus_2")


def test_printed_volts_stand_at_test_points_only() -> None:
    with pytest.raises(ValueError, match="printed: 'nowhere' is not a test point"):
        Circuit.model_validate({**STAGE, "printed": {"nowhere": 100}})


def test_readings_that_fit_nothing_name_what_comes_nearest_and_what_to_read_again(tailed: Dictionary) -> None:
    """All volts sound but for one impossible one: whatever is blamed, that one is to be taken again."""
    readings = {point: volts for point, (volts, _) in tailed.chart().items()}
    readings["bplus_2"] *= 0.5
    found = rank(tailed, readings)
    assert not found.explained
    assert len({one.fault for one in found.nearest}) == 5
    assert found.nearest[0].read_again == "bplus_2"


def test_the_nearest_are_each_by_themselves(tailed: Dictionary) -> None:
    found = rank(tailed, {point: reads(tailed, "V1a.dead", point) for point in tailed.points})
    assert found.nearest[0].fault == found.candidates[0].fault == "V1a.dead"
    fits = [one.fit for one in found.nearest]
    assert fits[0] < fits[1]


def test_advice_weighs_no_more_than_the_likeliest(tailed: Dictionary, monkeypatch: pytest.MonkeyPatch) -> None:
    """One reading leaves hundreds of faults possible; each pair of them would be weighed at every point."""
    from chopstick.engine.circuit import advise

    sizes: list[int] = []
    right = advise.information_bits
    monkeypatch.setattr(advise, "information_bits", lambda w, m, s: sizes.append(len(w)) or right(w, m, s))
    found = rank(tailed, {"v1a.plate": 150.0})
    assert len(next_points(tailed, found, ("v1a.plate",))) == len(tailed.points) - 1
    assert max(sizes) <= 31
