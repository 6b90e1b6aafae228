"""A known circuit on the command line and in a real terminal, on the shipped knowledge base."""

from __future__ import annotations

from pathlib import Path

import pytest
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.reasoning.log import CircuitChosen
from chopstick.engine.reports.standing import StandingOfJob

from .conftest import Run
from .terminal import Terminal

AMP = "cathode-biased-2x6v6gt-split-load"
FACTS = ("--amp", "power-tube=6V6GT", "--amp", "bias=cathode", "--amp", "inverter=split-load")
UNTOLD = ("--hold", "untold/before-power=yes", "--because", "all of it was done on another job of this amp")
HOLDS = ("--hold", "discharged=2V,1V,1V", "--hold", "ready-for-live=yes", *UNTOLD)


@pytest.fixture
def opened(run: Run) -> int:
    """The number of a job with a dead channel."""
    ran = run("intake", "--complaint", "one-channel-dead=the normal channel is dead", *FACTS, "--json", kb=None)
    assert ran.code == 0, ran.err
    return int(ran.json["number"])


def test_intake_names_the_nearest_circuit_and_how_to_choose_it(run: Run) -> None:
    ran = run("intake", "--complaint", "one-channel-dead=it is dead", *FACTS, kb=None)
    assert f"chopstick take 1 --circuit {AMP}" in ran.out
    chosen = run("intake", "--complaint", "one-channel-dead=it is dead", "--circuit", AMP, kb=None)
    assert "--circuit" not in chosen.out
    assert "circuit: cathode-biased" in run("show", "2", kb=None).out


def test_a_circuit_and_a_test_point_in_one_command(run: Run, opened: int) -> None:
    ran = run("take", str(opened), "--circuit", AMP, "v1a.plate=245", "bplus_3=248", *HOLDS, "--json", kb=None)
    assert ran.code == 0, ran.err
    told = StandingOfJob.model_validate(ran.json).circuit
    assert told is not None
    assert [(one.point, one.volts) for one in told.readings] == [("v1a.plate", 245.0), ("bplus_3", 248.0)]
    plate = told.readings[0]
    assert plate.low < plate.expected < plate.high < plate.volts
    assert [one.fault for one in told.suspects[:2]] == ["V1a.dead", "R4.open"]
    assert told.suspects[0].causes == ("preamp-socket-contacts-loose", "preamp-tube-dead")
    assert told.explained
    assert ran.json["ranking"][0]["cause"] == "preamp-tube-dead"


def test_no_live_point_before_its_holds(run: Run, opened: int) -> None:
    ran = run("take", str(opened), "--circuit", AMP, "v1a.plate=245", kb=None)
    assert ran.code == 3
    assert "First power on the limiter with all tubes out (limiter-bare)" in ran.err  # power comes in steps
    ran = run("take", str(opened), "--circuit", AMP, "v1a.plate=245", *UNTOLD, kb=None)
    assert ran.code == 3
    assert "--hold ready-for-live=yes" in ran.err
    assert run("show", str(opened), "--json", kb=None).json["circuit"] is None  # all or nothing


def test_a_circuit_that_is_not_there_is_refused_with_the_nearest(run: Run, opened: int) -> None:
    ran = run("take", str(opened), "--circuit", "single-ended-6v6", kb=None)
    assert ran.code == 2
    assert "Did you mean 'single-ended-6v6gt'?" in ran.err


def test_a_volt_of_another_amp_is_doubted(run: Run, opened: int) -> None:
    ran = run("take", str(opened), "--circuit", AMP, "v1a.cathode=560", *HOLDS, kb=None)
    assert ran.code == 2
    assert "hard to believe" in ran.err


def test_show_lays_predicted_beside_measured(run: Run, opened: int) -> None:
    run("take", str(opened), "--circuit", AMP, "v1a.plate=245", "bplus_3=248", "v1a.cathode=5.6", *HOLDS, kb=None)
    out = run("show", str(opened), kb=None).out
    assert "The volts against the circuit" in out
    row = next(line.split() for line in out.splitlines() if line.strip().startswith("v1a.cathode"))
    assert row == ["v1a.cathode", "5.6", "V", "1.233", "V", "5.6", "V"]
    why = run("show", str(opened), "--why", "cathode-resistor-open", kb=None).out
    assert "Input stage: the volts are not those of a good one" in why
    assert "with it" in why
    silent = run("show", str(opened), "--why", "bypass-capacitor-open", kb=None).out
    assert "no DC reading shows it" in " ".join(silent.split())
    told = run("show", str(opened), "--why", "preamp-tube-dead", "--json", kb=None).json["volts"]
    assert told["log_odds"] < -1  # a factor of six; the resistor itself stands at 97 percent
    assert not told["silent"]


def test_an_answer_file_names_volts_by_test_point(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "job.yaml"
    text = f"""\
job: A dead channel
circuit: {AMP}
complaints: [{{says: it is dead, symptom: one-channel-dead}}]
otherwise: healthy
holds: {{unplugged: "yes", discharged: 2 V, ready-for-first-power: "yes", ready-for-live: "yes"}}
checks: {{v1a.plate: 245, v1a.cathode: 0, bplus_3: 248}}
"""
    file.write_text(text)
    ran = run("bench", "--answers", str(file), "--json", kb=None)
    assert ran.json["circuit"]["circuit"] == AMP
    assert {one["point"]: one["volts"] for one in ran.json["circuit"]["readings"]}["v1a.plate"] == 245
    file.write_text(text.replace("v1a.plate", "v1a.plat"))
    wrong = run("bench", "--answers", str(file), kb=None)
    assert wrong.code == 2
    assert ":6:10: error: checks.v1a.plat: there is no check 'v1a.plat'" in wrong.err


def test_a_circuit_chosen_and_volts_typed_at_the_bench(jobs: Path, opened: int) -> None:
    bench = Terminal(jobs, "bench", str(opened), kb=None)
    bench.shows("MOVE: Unplug")
    bench.says("circuit", "Which circuit? (number or name; none: not known; Enter leaves it as it is)", AMP)
    bench.says("single-ended-6v6", "Did you mean 'single-ended-6v6gt'?")
    bench.says(f"circuit {AMP}", "MOVE: Unplug")
    bench.says("v1a.plate=245", "Type yes when all of it is so", "MOVE: Unplug")
    bench.says("yes", "CHECK: ", "amp: UNPLUGGED, still charged")
    bench.says("v1a.plate=245", "Not entered", "due before power", "CHECK: ")
    bench.says("back", "Taken back: Is the mains plug out and in sight?", "MOVE: Unplug")
    bench.says("back", f"Taken back: circuit: {AMP}")
    bench.says("circuit", "Which circuit?")
    bench.says("1", "MOVE: Unplug")
    bench.close()
    chosen = [entry.circuit for entry in open_store(jobs).find(opened).log if isinstance(entry, CircuitChosen)]
    assert chosen == [AMP, AMP]
