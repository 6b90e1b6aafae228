"""What can be read beside the volts of a test point: names, figures, and what they say of faults."""

import numpy as np
import pytest
from chopstick.engine.circuit.advise import unread
from chopstick.engine.circuit.chart import signals
from chopstick.engine.circuit.dictionary import Dictionary, build_dictionary
from chopstick.engine.circuit.files import load_archetype
from chopstick.engine.circuit.logged import cold_inverse
from chopstick.engine.circuit.quantities import offered, quantity
from chopstick.engine.circuit.rank import rank
from chopstick.engine.circuit.response import Response

NAME = "single-ended-6v6gt"
CIRCUIT = load_archetype(NAME).circuit


@pytest.fixture(scope="module")
def book() -> Dictionary:
    return build_dictionary(CIRCUIT)


def row_of(book: Dictionary, fault: str) -> int:
    return next(k for k, owner in enumerate(book.row_fault) if owner >= 0 and book.faults[owner].id == fault)


def test_levels_are_those_of_the_response_at_each_faults_operating_point(book: Dictionary) -> None:
    """Two ways to the same volts: the batched one, and the nodal equations of one operating point."""
    bench = book.bench
    draw = np.random.default_rng(3).choice(len(book.severities), 40, replace=False)
    elements = book.network.elements
    for Hz in (40.0, 5000.0):
        gains = bench.signals.gains(book.network.node("in"), Hz)
        for row in draw.tolist():
            changes = tuple((elements[k].name, elements[k].farad * by) for k, by in book.severities[row].variant.farads)
            response = Response(bench.signals.solution, row, changes)
            other = np.array([response.gain("in", node, [Hz])[0] for node in book.network.nodes])
            assert np.abs(gains[row] - other).max() < 2e-3 * np.abs(other).max(), book.severities[row].label


@pytest.mark.parametrize(
    ("fault", "read"),
    [
        ("C3.open", {"v1a.plate at 1kHz": 1.0, "v1b.plate at 1kHz": 0.46, "v1b.cathode at 1kHz": 110.0}),
        ("C2.open", {"v1a.plate at 1kHz": 1.02, "v1b.plate at 1kHz": 0.0}),
    ],
)
def test_an_open_capacitor_is_found_by_the_signal(book: Dictionary, fault: str, read: dict[str, float]) -> None:
    """read: by how much each level differs from a good amp's; volts of a good amp besides."""
    good = {name: book.predicted(0, name) for name in read}
    volts = {point: book.predicted(0, point) for point in book.points}
    found = rank(book, volts | {name: good[name] * by for name, by in read.items()})
    assert fault in [one.fault for one in found.candidates[:2]]
    assert found.explained
    assert found.healthy < 0.05
    assert rank(book, volts | good).healthy > 0.5


def test_a_dried_filter_capacitor_is_found_by_ripple(book: Dictionary) -> None:
    row = row_of(book, "C7.dried") + 2
    names = [name for name in offered(CIRCUIT) if "ripple" in name]
    found = rank(book, {name: book.predicted(row, name) for name in names})
    assert found.candidates[0].fault.startswith("C7.")
    assert found.candidates[0].probability > found.healthy


def test_volts_across_a_part_and_the_current_through_it(book: Dictionary) -> None:
    ohm = CIRCUIT.parts["R8"].ohm
    drop = book.predicted(0, "across R8")
    ends = CIRCUIT.parts["R8"].nodes
    assert book.predicted(0, f"{ends[0]} to {ends[1]}" if "chassis" not in ends else ends[0]) == pytest.approx(
        drop, rel=1e-6
    )
    assert book.predicted(0, "through R8") == pytest.approx(drop / ohm, rel=1e-6)
    found = rank(book, {"across R8": 2.5 * drop})
    assert found.healthy < 0.2


def test_ohms_with_the_power_off_find_an_open_resistor(book: Dictionary) -> None:
    assert book.predicted(0, "ohms across R3") == pytest.approx(CIRCUIT.parts["R3"].ohm, rel=0.01)
    found = rank(book, {"ohms across R3": 15e6})
    assert found.candidates[0].fault == "R3.open"
    inverse = cold_inverse(book.network)
    assert inverse == pytest.approx(inverse.T)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("v1a.plat", "'v1a.plat' is not a test point of this circuit. Did you mean 'v1a.plate'"),
        ("gain V9 at 1kHz", "there is no tube 'V9'"),
        ("through C1", "a current is read over a resistor"),
        ("across R99", "there is no part 'R99'"),
        ("balance at 1kHz", "no two output grids"),
        ("nowhere at 1kHz", "no node 'nowhere'"),
    ],
)
def test_what_the_circuit_has_not_is_told(name: str, told: str) -> None:
    with pytest.raises(KeyError) as caught:
        quantity(CIRCUIT, name)
    assert told in caught.value.args[0]


def test_a_stages_gain_falls_by_what_its_own_cathode_feeds_back() -> None:
    """A bypass capacitor that is open leaves the gain divided by 1 + (mu + 1) R / (r + R load), some half
    (identity of a triode stage)."""
    good, open_ = signals(CIRCUIT), signals(CIRCUIT, "C3.open")
    place = next(k for k, row in enumerate(good.rows) if row.name == "gain V1b at 1kHz")
    assert 0.4 < open_.rows[place].reading / good.rows[place].reading < 0.6


def test_nothing_wrong_is_too_early_while_a_cheap_reading_would_show_a_fault(book: Dictionary) -> None:
    one = {"bplus_1": book.predicted(0, "bplus_1")}
    told = unread(book, rank(book, one), tuple(one))
    assert told
    assert "V1b.dead" in {fault for each in told for fault in each.faults}
    volts = {point: book.predicted(0, point) for point in book.points}
    assert {each.reading for each in unread(book, rank(book, volts), tuple(volts))} <= set(offered(CIRCUIT))
    assert unread(book, rank(book, volts), tuple(volts))
    heard = volts | {name: book.predicted(0, name) for name in offered(CIRCUIT)}
    assert unread(book, rank(book, heard), tuple(heard)) == []
