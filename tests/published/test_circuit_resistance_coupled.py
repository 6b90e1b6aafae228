"""Resistance-coupled stages against the tables that tube makers printed.

Each row: one triode, plate load, cathode resistor bypassed, coupled to the grid resistor of the next stage. The gain
must come within 15 percent. Rows that miss are named here with the reason; a row that stops missing fails too.
"""

import numpy as np
import pytest
from chopstick.engine.circuit.netlist import Circuit
from chopstick.engine.circuit.network import compile_circuit
from chopstick.engine.circuit.response import Response
from chopstick.engine.circuit.solve import Solver

ALLOWED = 0.15

# Supply V, plate load Mohm, following grid resistor Mohm, cathode resistor ohm, gain.
BRIMAR_12AX7 = [  # Brimar (STC) 12AX7 application report VAD/513.5, March 1950, p. 3 (seen)
    (100, 0.1, 0.22, 4700, 35), (100, 0.1, 0.47, 4800, 41), (100, 0.22, 0.22, 7000, 39), (100, 0.22, 0.47, 7400, 45),
    (100, 0.47, 0.47, 12000, 48), (100, 0.47, 1.0, 13000, 52), (250, 0.1, 0.22, 1500, 43), (250, 0.1, 0.47, 1700, 47),
    (250, 0.22, 0.22, 2200, 49), (250, 0.22, 0.47, 2800, 54), (250, 0.47, 0.47, 4300, 57), (250, 0.47, 1.0, 5200, 61),
]  # fmt: skip
RCA_12AX7 = [  # RCA Receiving Tube Manual, resistance-coupled chart for 12AX7 (from memory)
    (180, 0.1, 0.22, 2000, 47), (180, 0.22, 0.47, 3500, 59), (180, 0.47, 1.0, 6700, 66), (300, 0.1, 0.1, 1300, 45),
    (300, 0.1, 0.22, 1500, 52), (300, 0.1, 0.47, 1700, 57), (300, 0.22, 0.47, 2800, 65), (300, 0.22, 1.0, 3100, 68),
    (300, 0.47, 1.0, 5200, 73), (300, 0.47, 2.2, 5900, 75),
]  # fmt: skip
BRIMAR_12AU7 = [  # Brimar (STC) 12AU7 application report, p. 3 (seen)
    (100, 0.047, 0.1, 1800, 11), (100, 0.1, 0.22, 3800, 11), (100, 0.22, 0.47, 9500, 11), (200, 0.047, 0.22, 1400, 12),
    (200, 0.1, 0.47, 3600, 12), (200, 0.22, 1.0, 10000, 12), (300, 0.047, 0.1, 1200, 12), (300, 0.1, 0.22, 3000, 12),
    (300, 0.22, 0.47, 8800, 12),
]  # fmt: skip
PHILIPS_ECC82 = [  # Philips ECC82 sheet 939 4715, p. 2 (seen)
    (100, 0.047, 0.15, 1200, 13.5), (250, 0.047, 0.15, 1200, 13.5), (400, 0.047, 0.15, 1200, 13.5),
    (100, 0.1, 0.33, 2200, 14), (250, 0.1, 0.33, 2200, 14), (400, 0.1, 0.33, 2200, 14),
]  # fmt: skip
US_MAKER_6SN7 = [  # a US maker's 6SN7GT sheet, 31 July 1945, plate 1585 (seen)
    (90, 0.1, 0.25, 3940, 13), (180, 0.1, 0.25, 2830, 14), (300, 0.1, 0.25, 2440, 14),
]  # fmt: skip
TABLES = {
    "12AX7 Brimar": ("12AX7", BRIMAR_12AX7), "12AX7 RCA": ("12AX7", RCA_12AX7), "12AU7 Brimar": ("12AU7", BRIMAR_12AU7),
    "12AU7 Philips": ("ECC82", PHILIPS_ECC82), "6SN7 US maker": ("6SN7GT", US_MAKER_6SN7),
}  # fmt: skip
ROWS = [(name, tube, row) for name, (tube, rows) in TABLES.items() for row in rows]
# Brimar's 250 V rows carry the cathode resistors of RCA's 300 V chart and gains 15 percent under it; Brimar's own
# worked example for one of them (250 V, 0.47 M, 4300 ohm) reckons 66 where its table prints 57. The gain printed there
# is not the small-signal one.
LARGE_SIGNAL = "12AX7 Brimar"
# The two points that settle the 6SN7GT's constants lie at 9 and 10 mA; these rows run under 1.5 mA, where the
# amplification factor of the real tube has fallen further than the fitted law's.
FAR_FROM_POINTS = "6SN7 US maker"
MISSES = {
    **{(LARGE_SIGNAL, row): "not the small-signal gain" for row in BRIMAR_12AX7 if row[0] == 250},
    **{(FAR_FROM_POINTS, row): "far below the fitted points" for row in US_MAKER_6SN7 if row[0] != 180},
}


def stage(tube: str, supply_V: float, load_ohm: float, next_ohm: float, cathode_ohm: float) -> Solver:
    return Solver(
        compile_circuit(
            Circuit.model_validate(
                {
                    "title": "stage",
                    "summary": "one resistance-coupled triode",
                    "input": "in",
                    "supplies": {"ht": {"node": "ht", "volts": supply_V}},
                    "parts": {
                        "R1": {"kind": "resistor", "ohm": 1e6, "nodes": ["in", "chassis"]},
                        "R2": {"kind": "resistor", "ohm": load_ohm, "nodes": ["ht", "plate"]},
                        "R3": {"kind": "resistor", "ohm": cathode_ohm, "nodes": ["cathode", "chassis"]},
                        "R4": {"kind": "resistor", "ohm": next_ohm, "nodes": ["out", "chassis"]},
                        "C1": {"kind": "capacitor", "farad": 100e-6, "nodes": ["cathode", "chassis"]},
                        "C2": {"kind": "capacitor", "farad": 1e-6, "nodes": ["plate", "out"]},
                    },
                    "tubes": {"V1": {"type": tube, "grid": "in", "plate": "plate", "cathode": "cathode"}},
                    "stages": {"one": {"title": "one"}},
                    "test_points": ["plate"],
                }
            )  # fmt: skip
        )
    )


def gain(tube: str, row: tuple) -> float:
    supply_V, load, following, cathode_ohm, _ = row
    solver = stage(tube, supply_V, load * 1e6, following * 1e6, cathode_ohm)
    return float(np.abs(Response(solver.healthy).gain("in", "out", [400.0]))[0])


@pytest.mark.parametrize(("table", "tube", "row"), ROWS, ids=lambda v: str(v).replace(" ", ""))
def test_the_gain_of_a_printed_row(table: str, tube: str, row: tuple) -> None:
    found, printed = gain(tube, row), row[-1]
    missed = abs(found / printed - 1.0) > ALLOWED
    assert missed == ((table, row) in MISSES), f"{table} {row}: {found:.1f} against {printed}"


@pytest.mark.parametrize(("supply_V", "load_ohm", "printed"), [(90, 0.2e6, 34), (250, 0.47e6, 45)])
def test_grid_leak_bias_as_the_6sl7gt_sheet_prints_it(supply_V: float, load_ohm: float, printed: float) -> None:
    # A US maker's 6SL7GT sheet, p. 2 (seen): 10 M grid resistor, no cathode resistor, 0.47 M following.
    # The bias is the tube's own grid current in 10 M, so this row checks the grid-current curve as well.
    solver = Solver(
        compile_circuit(
            Circuit.model_validate(
                {
                    "title": "stage", "summary": "grid-leak bias", "input": "in",
                    "supplies": {"ht": {"node": "ht", "volts": supply_V}},
                    "parts": {
                        "C1": {"kind": "capacitor", "farad": 1e-6, "nodes": ["in", "grid"]},
                        "R1": {"kind": "resistor", "ohm": 10e6, "nodes": ["grid", "chassis"]},
                        "R2": {"kind": "resistor", "ohm": 1e3, "nodes": ["in", "chassis"]},
                        "R3": {"kind": "resistor", "ohm": load_ohm, "nodes": ["ht", "plate"]},
                        "C2": {"kind": "capacitor", "farad": 1e-6, "nodes": ["plate", "out"]},
                        "R4": {"kind": "resistor", "ohm": 0.47e6, "nodes": ["out", "chassis"]},
                    },
                    "tubes": {"V1": {"type": "6SL7GT", "grid": "grid", "plate": "plate", "cathode": "chassis"}},
                    "stages": {"one": {"title": "one"}}, "test_points": ["plate"],
                }
            )
        )
    )  # fmt: skip
    found = float(np.abs(Response(solver.healthy).gain("in", "out", [400.0]))[0])
    assert found == pytest.approx(printed, rel=ALLOWED)


def test_the_worked_example_of_brimars_report() -> None:
    # Brimar (STC) 12AX7 report, pp. 3-4 (seen): 250 V, 0.47 M, 0.47 M following, 4300 ohm: 0.3 mA, gain 66.
    solver = stage("12AX7", 250, 0.47e6, 0.47e6, 4300)
    volts = dict(zip(solver.network.nodes, solver.healthy.volts[0], strict=True))
    assert volts["cathode"] / 4300 * 1e3 == pytest.approx(0.3, rel=0.1)
    assert gain("12AX7", (250, 0.47, 0.47, 4300, 66)) == pytest.approx(66, rel=0.05)


def test_a_gain_from_a_tutorial() -> None:
    # A tube tutorial page, example 4.1 (seen, secondary): mu 100, rp 80 k, 220 k, 470 k following, and a 150 k load: 65.2
    # is for the plate load and following resistor in parallel; with the fitted tube the stage runs near that point.
    mu, rp, load = 100.0, 80e3, 1 / (1 / 220e3 + 1 / 470e3)
    assert mu * load / (rp + load) == pytest.approx(65.2, rel=0.01)
    assert gain("12AX7", (250, 0.22, 0.47, 1500, 65.2)) == pytest.approx(65.2, rel=ALLOWED)


def test_how_many_rows_come_within_the_limit(capsys: pytest.CaptureFixture[str]) -> None:
    errors = {(table, row): gain(tube, row) / row[-1] - 1.0 for table, tube, row in ROWS}
    with capsys.disabled():
        for table in TABLES:
            own = np.array([abs(e) for (name, _), e in errors.items() if name == table])
            print(f"\n  {table}: {len(own)} rows, median {np.median(own):.1%}, worst {own.max():.1%}", end="")
    assert np.median(np.abs(list(errors.values()))) < 0.07
