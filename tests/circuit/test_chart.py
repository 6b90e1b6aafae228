"""What-if: change a part, a tube, a rectifier or the mains, and see every test point and every limit."""

import pytest
from chopstick.engine.circuit.chart import changed, chart
from chopstick.engine.circuit.files import load_archetype
from chopstick.engine.circuit.network import compile_circuit
from chopstick.engine.circuit.response import ripple
from chopstick.engine.circuit.solve import Solver

AMP = load_archetype("fixed-bias-2x6v6gt-split-load").circuit


def points(circuit: object, fault: str = "") -> dict[str, float]:
    return {row.point: row.volts for row in chart(circuit, fault=fault).rows}  # type: ignore[arg-type]


def test_another_rectifier_raises_every_supply_node() -> None:
    # 5V4GA for 5Y3GT: less drop, so more plate volts (trade fact; drops 25 V at 175 mA against 50 to 60 V at 125 mA).
    sound, other = points(AMP), points(changed(AMP, {"main": "5V4GA"}))
    for node in ("bplus_1", "bplus_2", "bplus_3"):
        assert other[node] > sound[node] + 10


def test_a_smaller_bias_resistor_makes_the_bias_more_negative() -> None:
    sound, other = chart(AMP), chart(changed(AMP, {"R17": "24k"}))
    before, after = (next(r.volts for r in c.rows if r.point == "bias_feed") for c in (sound, other))
    assert after < before - 0.5
    assert other.tubes["V3"]["plate_mA"] < sound.tubes["V3"]["plate_mA"]


def test_mains_ten_per_cent_high_scales_the_unloaded_volts() -> None:
    sound, high = points(AMP), points(changed(AMP, {"mains": "132"}))
    assert high["bias_rectified"] == pytest.approx(1.1 * sound["bias_rectified"], rel=0.03)
    assert sound["bplus_1"] < high["bplus_1"] < 1.15 * sound["bplus_1"]


def test_limits_carry_their_rating_system_and_are_marked_when_broken() -> None:
    hot = chart(changed(AMP, {"R17": "180k", "main": "5AR4"}))
    over = {limit.of: limit for limit in hot.limits if limit.over}
    assert over["V3 plate dissipation"].system == "design center"
    assert over["V3 plate dissipation"].source == "awv-6v6gt-1944"
    sound = {limit.of: limit for limit in chart(AMP).limits}
    assert not sound["V3 plate dissipation"].over
    assert sound["main first filter capacitor"].limit == pytest.approx(20e-6)
    # Two 6V6GT on 220 k grid resistors: more than the 0.1 M the sheet allows with fixed bias (AWV 1944, seen).
    assert sound["V3 grid circuit resistance"].over
    assert sound["V3 grid circuit resistance"].value > 220e3
    assert sound["main heater winding"].value == pytest.approx(2.0)


def test_a_fault_stands_beside_the_sound_chart() -> None:
    sound, wrong = points(AMP), points(AMP, "R3.open")
    assert wrong["v1a.plate"] < 2 < sound["v1a.plate"]
    with pytest.raises(KeyError, match=r"Did you mean 'R3\.open'"):
        points(AMP, "R3.opn")


def test_what_can_not_be_changed_is_told() -> None:
    with pytest.raises(KeyError, match="nothing called 'R99' can be changed"):
        changed(AMP, {"R99": "1k"})
    with pytest.raises(ValueError, match="is not a unit known here"):
        changed(AMP, {"R3": "100q"})


def test_ripple_falls_along_the_filter() -> None:
    solver = Solver(compile_circuit(AMP))
    along = {r.node: r.peak_to_peak_V for r in ripple(solver, solver.healthy)}
    assert along["bplus_1"] > 10 * along["bplus_2"] > 100 * along["bplus_3"]
