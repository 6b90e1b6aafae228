"""The bench's networks and supplies against ngspice, an independent circuit simulator."""

from __future__ import annotations

import math
import shutil
import subprocess
from pathlib import Path

import pytest
from chopstick.engine.bench import coupling, inverter, rectifier_swap, stage, supply, tone
from chopstick.engine.bench.laws import rectifier_law
from chopstick.engine.devices.library import standard_library
from chopstick.engine.devices.tubes import Triode
from chopstick.engine.reference.tables import load

INSTALL = "ngspice is not installed: apt-get install -y ngspice"


def run(folder: Path, circuit: str, control: str) -> list[float]:
    """Numbers that the control lines print, in order. Fails, never skips, when ngspice is missing."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.fail(INSTALL)
    file = folder / "circuit.cir"
    file.write_text(f"* bench\n{circuit}\n.control\nset noaskquit\n{control}\nquit\n.endc\n.end\n")
    done = subprocess.run([program, "-b", str(file)], capture_output=True, text=True, timeout=300, check=False)
    numbers = []
    for line in done.stdout.splitlines():
        name, equals, number = line.partition(" = ")
        if equals and name.strip().startswith("out"):
            numbers.append(float(number.split()[0]))
    assert numbers, done.stdout + done.stderr
    return numbers


def level_dB(folder: Path, circuit: str, node: str, frequency_Hz: float) -> float:
    """Level at a node in dB for a 1 V source, at one frequency."""
    control = f"ac lin 1 {frequency_Hz} {frequency_Hz}\nlet out = db(v({node}))\nprint out"
    return run(folder, circuit, control)[0]


@pytest.mark.parametrize("note_Hz", [82.4, 440, 2500, 8000])
@pytest.mark.parametrize(("treble", "bass", "mid"), [(50, 50, 50), (100, 10, 80), (10, 100, 20), (0, 0, 0)])
def test_tone_stack(tmp_path: Path, note_Hz: float, treble: float, bass: float, mid: float) -> None:
    t, m = 250e3 * treble / 100, 10e3 * mid / 100
    circuit = f"""
v1 in 0 ac 1
rs in 1 38k
c1 1 2 250p
rt1 2 3 {max(250e3 - t, 1e-3)}
rt2 3 5 {max(t, 1e-3)}
r1 1 4 100k
c2 4 5 100n
rb 5 6 {max(250e3 * bass / 100, 1e-3)}
rm1 6 7 {max(10e3 - m, 1e-3)}
rm2 7 0 {max(m, 1e-3)}
c3 4 7 47n
rl 3 0 1meg
"""
    worked = tone.stack_dB(note_Hz=note_Hz, treble_percent=treble, bass_percent=bass, mid_percent=mid)
    assert worked.value == pytest.approx(level_dB(tmp_path, circuit, "3", note_Hz), abs=0.01)


@pytest.mark.parametrize("note_Hz", [100, 1000, 6000])
def test_treble_bleed_and_tone_cut(tmp_path: Path, note_Hz: float) -> None:
    bleed = """
v1 in 0 ac 1
rs in 1 50k
r1 1 2 800k
r2 2 0 200k
c1 1 2 120p
rl 2 0 1meg
cl 2 0 150p
"""
    worked = tone.treble_bleed_dB(note_Hz=note_Hz, setting_percent=20, bleed_F=120e-12)
    assert worked.value == pytest.approx(level_dB(tmp_path, bleed, "2", note_Hz), abs=0.01)
    cut = "v1 in 0 ac 1\nrs in 1 50k\nr1 1 2 25k\nc1 2 0 22n\nrl 1 0 1meg"
    worked = tone.cut_dB(note_Hz=note_Hz, setting_percent=10)
    assert worked.value == pytest.approx(level_dB(tmp_path, cut, "1", note_Hz), abs=0.01)


@pytest.mark.parametrize("note_Hz", [20, 82.4, 400])
def test_coupling_networks_in_cascade(tmp_path: Path, note_Hz: float) -> None:
    # two networks, 22 nF into 470 k from 38.5 k and 100 nF into 220 k, a tube between them
    circuit = """
v1 in 0 ac 1
rs in 1 38.5k
c1 1 2 22n
r1 2 0 470k
e1 3 0 2 0 1
c2 3 4 100n
r2 4 0 220k
"""
    first = coupling.corner_Hz(coupling_F=22e-9, load_ohm=470e3, source_ohm=38.5e3).value
    second = coupling.corner_Hz(coupling_F=100e-9, load_ohm=220e3).value
    worked = coupling.loss_dB(frequency_Hz=note_Hz, corner_Hz=first, second_Hz=second).value
    middle = level_dB(tmp_path, circuit, "4", 1e6)
    assert worked == pytest.approx(level_dB(tmp_path, circuit, "4", note_Hz) - middle, abs=0.005)


def test_bypass_shelf_and_corner(tmp_path: Path) -> None:
    # a triode as mu x (grid - cathode) behind its plate resistance
    circuit = """
v1 g 0 ac 1
e1 k a g k 100
rp a p 62.5k
rl p 0 82.46k
rk k 0 1.5k
ck k 0 25u
"""
    high, low = level_dB(tmp_path, circuit, "p", 1e5), level_dB(tmp_path, circuit, "p", 1e-3)
    shelf = coupling.bypass_shelf_dB(cathode_resistor_ohm=1500, load_ohm=82_460)
    assert shelf.value == pytest.approx(low - high, abs=0.005)
    corner = coupling.bypass_corner_Hz(bypass_F=25e-6, cathode_resistor_ohm=1500, load_ohm=82_460).value
    zero = coupling.corner(25e-6, 1500)
    lift = 10 * math.log10((1 + (corner / zero) ** 2) / 2)  # the shelf's own law at its pole
    assert level_dB(tmp_path, circuit, "p", corner) - low == pytest.approx(lift, abs=0.01)


@pytest.mark.parametrize("note_Hz", [20, 82.4, 400, 3000])
def test_partly_bypassed_cathode(tmp_path: Path, note_Hz: float) -> None:
    # 1.5 k in all, 820 ohm of it behind 0.68 uF
    circuit = """
v1 g 0 ac 1
e1 k a g k 100
rp a p 62.5k
rl p 0 82.46k
rk1 k m 680
rk2 m 0 820
ck m 0 0.68u
"""
    known = {"cathode_resistor_ohm": 820.0, "unbypassed_ohm": 680.0, "load_ohm": 82_460.0}
    worked = coupling.bypass_level_dB(note_Hz=note_Hz, bypass_F=0.68e-6, **known)
    high, low = level_dB(tmp_path, circuit, "p", 1e6), level_dB(tmp_path, circuit, "p", 1e-3)
    assert worked.value == pytest.approx(level_dB(tmp_path, circuit, "p", note_Hz) - high, abs=0.01)
    assert coupling.bypass_shelf_dB(**known).value == pytest.approx(low - high, abs=0.01)


def test_inverters(tmp_path: Path) -> None:
    split = "v1 g 0 ac 1\ne1 k a g k 100\nrp a p 80k\nr1 p 0 56k\nr2 k 0 56k"
    gain = inverter.split_load_gain_ratio(load_ohm=56e3, mu=100, plate_resistance_ohm=80e3).value
    assert 20 * math.log10(gain) == pytest.approx(level_dB(tmp_path, split, "p", 1000), abs=0.001)
    assert 20 * math.log10(gain) == pytest.approx(level_dB(tmp_path, split, "k", 1000), abs=0.001)
    pair = """
v1 g 0 ac 1
e1 k a g k 100
rp1 a p 62.5k
r1 p 0 82k
e2 k b 0 k 100
rp2 b q 62.5k
r2 q 0 100k
rt k 0 10k
"""
    worked = inverter.long_tail_imbalance_percent(one_load_ohm=82e3, other_load_ohm=100e3, tail_ohm=10e3).value
    apart = level_dB(tmp_path, pair, "p", 1000) - level_dB(tmp_path, pair, "q", 1000)
    assert 20 * math.log10(1 + worked / 100) == pytest.approx(apart, abs=0.001)


def test_filter_sections(tmp_path: Path) -> None:
    by_resistor = "v1 in 0 ac 1\nr1 in o 10k\nc1 o 0 20u"
    worked = supply.section_ripple_ratio(filter_F=20e-6, resistance_ohm=10e3).value
    assert 20 * math.log10(worked) == pytest.approx(level_dB(tmp_path, by_resistor, "o", 120), abs=0.001)
    by_choke = "v1 in 0 ac 1\nl1 in o 5\nc1 o 0 20u"
    worked = supply.section_ripple_ratio(filter_F=20e-6, choke_H=5).value
    assert 20 * math.log10(worked) == pytest.approx(level_dB(tmp_path, by_choke, "o", 120), abs=0.001)


def test_capacitor_input_ripple(tmp_path: Path) -> None:
    # full wave, 400 V peak, 60 Hz, 50 ohm per side, 40 uF, 100 mA: the sum takes no charging time, so it reads high
    circuit = """
v1 a 0 sin(0 400 60)
v2 b 0 sin(0 -400 60)
r1 a c 50
r2 b d 50
d1 c o ideal
d2 d o ideal
.model ideal d(is=1e-9 n=1)
c1 o 0 40u ic=380
i1 o 0 0.1
"""
    control = (
        "tran 20u 0.5 0.3 20u uic\nmeas tran top max v(o)\nmeas tran foot min v(o)\nlet out = top - foot\nprint out"
    )
    simulated = run(tmp_path, circuit, control)[0]
    worked = supply.ripple_peak_to_peak_V(load_mA=100, reservoir_F=40e-6).value
    assert simulated < worked < simulated * 1.45


@pytest.mark.parametrize(
    ("rms_V", "ohm", "farads", "load_A", "mains_Hz", "rectifier", "rectification"),
    [
        (283, 50, 40e-6, 0.1, 60, "silicon", "full wave"),
        (330, 100, 20e-6, 0.1, 60, "5Y3GT", "full wave"),
        (330, 75, 16e-6, 0.14, 50, "5AR4", "full wave"),
        (250, 150, 10e-6, 0.06, 50, "6X4", "full wave"),
        (45, 1000, 25e-6, 0.002, 60, "silicon", "half wave"),
    ],
)
def test_ripple_and_peak_current_worked_through_the_cycle(
    tmp_path: Path, rms_V: float, ohm: float, farads: float, load_A: float, mains_Hz: float, rectifier: str,
    rectification: str,
) -> None:  # fmt: skip
    law = rectifier_law(rectifier)
    peak, threshold = rms_V * math.sqrt(2), law.threshold_V
    other = f"v2 b 0 sin(0 {-peak} {mains_Hz})\nr2 b d {ohm}\nb2 d o i={law.perveance}*pow(max(v(d,o)-{threshold},0),1.5)"
    circuit = f"""
v1 a 0 sin(0 {peak} {mains_Hz})
r1 a c {ohm}
b1 c o i={law.perveance}*pow(max(v(c,o)-{threshold},0),1.5)
{other if rectification == "full wave" else ""}
c1 o 0 {farads} ic={peak * 0.85}
i1 o 0 {load_A}
"""
    control = (
        "tran 20u 0.8 0.7 20u uic\nmeas tran top max v(o)\nmeas tran foot min v(o)\nlet across = v(a) - v(c)\nmeas tran high max across\n"
        f"let out1 = top - foot\nlet out2 = high / {ohm} * 1000\nprint out1 out2"
    )
    ripple_V, peak_mA = run(tmp_path, circuit, control)
    known = {"winding_rms_V": rms_V, "load_mA": 1000 * load_A, "source_per_plate_ohm": ohm, "mains_Hz": mains_Hz}
    worked = supply.cycle_ripple_V(**known, reservoir_F=farads, rectifier=rectifier, rectification=rectification)
    assert worked.value == pytest.approx(ripple_V, rel=0.03)
    if rectification == "full wave" and rectifier != "silicon":
        share = rectifier_swap.peak_plate_percent(**known, first_capacitor_F=farads, rectifier=rectifier)
        assert share.value == pytest.approx(100 * peak_mA / _peak_limit_mA(rectifier), rel=0.03)


def _peak_limit_mA(rectifier: str) -> float:
    return next(one.peak_plate_mA for one in load().rectifier(rectifier).limits if one.peak_plate_mA)


def test_choke_input_ripple(tmp_path: Path) -> None:
    # 10 H and 20 uF after a full-wave rectified sine, 300 V on a load of 3 k
    peak = 300 * math.pi / 2
    circuit = f"""
b1 in 0 v={peak}*abs(sin(2*3.14159265*60*time))
l1 in o 10 ic=0.1
c1 o 0 20u ic=300
r1 o 0 3k
"""
    control = (
        "tran 20u 2 1.9 20u uic\nmeas tran top max v(o)\nmeas tran foot min v(o)\n"
        "let out = (top - foot) / 2 / sqrt(2)\nprint out"
    )
    simulated = run(tmp_path, circuit, control)[0]
    worked = supply.choke_ripple_rms_V(output_V=300, choke_H=10, filter_F=20e-6).value
    assert worked == pytest.approx(simulated, rel=0.05)


def test_bleed_time(tmp_path: Path) -> None:
    circuit = "c1 o 0 100u ic=450\nr1 o 0 220k"
    control = "tran 50m 60 uic\nmeas tran out when v(o)=50"
    worked = supply.bleed_s(start_V=450, capacitance_F=100e-6, bleeder_ohm=220e3).value
    assert worked == pytest.approx(run(tmp_path, circuit, control)[0], rel=0.002)


def test_rectifier_swap(tmp_path: Path) -> None:
    # two power-law diodes behind 330 V RMS a side, 40 uF, a load that draws in proportion
    def volts(rectifier: str) -> float:
        perveance = 0.125 / rectifier_swap.rectifier_drop_V(rectifier=rectifier, load_mA=125).value ** 1.5
        circuit = f"""
v1 a 0 sin(0 {330 * math.sqrt(2)} 60)
v2 b 0 sin(0 {-330 * math.sqrt(2)} 60)
r1 a c 100
r2 b d 100
b1 c o i=v(c,o)>0 ? {perveance}*v(c,o)**1.5 : 0
b2 d o i=v(d,o)>0 ? {perveance}*v(d,o)**1.5 : 0
c1 o 0 40u ic=400
rl o 0 5k
"""
        control = "tran 20u 1.2 1.0 20u uic\nmeas tran out avg v(o)"
        return run(tmp_path, circuit, control)[0]

    strong, weak = volts("5V4GA"), volts("5Y3GT")
    worked = rectifier_swap.new_supply_V(
        present_V=strong, load_mA=strong / 5, present="5V4GA", wanted="5Y3GT", source_per_plate_ohm=100
    ).value
    assert strong - worked == pytest.approx(strong - weak, rel=0.1)


@pytest.mark.parametrize(
    ("supply_V", "load_ohm", "cathode_ohm"), [(250, 100e3, 1500), (300, 220e3, 2700), (400, 100e3, 820)]
)
def test_operating_point_of_a_triode_stage(
    tmp_path: Path, supply_V: float, load_ohm: float, cathode_ohm: float
) -> None:
    # the same tube law, solved by the simulator: Glass Audio vol. 8 no. 5 (1996), constants as filed
    model = standard_library().tube("12AX7")
    assert isinstance(model, Triode)
    drive = f"v(p,k)/{model.kp}*ln(1+exp({model.kp}*(1/{model.mu}+v(0,k)/sqrt({model.kvb}+v(p,k)*v(p,k)))))"
    circuit = f"""
v1 b 0 {supply_V}
r1 b p {load_ohm}
r2 k 0 {cathode_ohm}
b1 p k i=2*pow(max({drive},1e-9),{model.x})/{model.kg1}
.nodeset v(p)={supply_V * 0.65} v(k)=1.5
"""
    simulated = run(tmp_path, circuit, "op\nlet out = v(p)\nprint out")[0]
    worked = stage.expected_plate_V(supply_V=supply_V, plate_load_ohm=load_ohm, cathode_resistor_ohm=cathode_ohm)
    assert worked.value == pytest.approx(simulated, abs=0.05)
