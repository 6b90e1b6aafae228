"""`chopstick circuit` from outside: charts, rankings from files with no prompts, starter files, troubles by line."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from chopstick.cli.commands.circuit import app
from chopstick.engine.reports.circuit import RankingOfCircuit, VoltageChart
from typer.testing import CliRunner, Result

AMP = "fixed-bias-2x6v6gt-split-load"


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def test_the_chart_beside_the_sound_one() -> None:
    ran = run("volts", AMP, "--change", "main=5AR4", "--change", "R17=24k", "--plot")
    assert ran.exit_code == 0
    assert "changed" in ran.output
    assert "v1a.plate" in ran.output
    assert "CAUTION" in ran.output
    assert "over a published limit" in ran.output.lower()


def test_the_chart_as_json_has_the_documented_shape() -> None:
    ran = run("volts", AMP, "--fault", "R3.open", "--json")
    shape = VoltageChart.model_validate_json(ran.stdout)
    point = next(p for p in shape.points if p.point == "v1a.plate")
    assert point.low_V < point.volts < point.high_V
    assert point.changed_V is not None
    assert point.changed_V < 2
    assert shape.fault == "R3.open"
    assert any(limit.system == "design center" for limit in shape.limits)


def test_many_readings_files_in_one_call(tmp_path: Path) -> None:
    first, second = tmp_path / "a.yaml", tmp_path / "b.yaml"
    first.write_text("v1a.plate: 255\nv1a.cathode: 5.8\nbplus_3: 258\n")
    second.write_text(
        "meter_ohm: 10M\nmains_V: 120\nreadings:\n  bias_feed: -0.3V\n  out_a.plate: 204\n  out_a.grid: -0.6\n"
    )
    ran = run("rank", AMP, "--readings", first, "--readings", second, "--json")
    assert ran.exit_code == 0
    shape = RankingOfCircuit.model_validate_json(ran.stdout)
    assert [result.file for result in shape.results] == [str(first), str(second)]
    assert shape.results[0].faults[0].fault == "R4.open"
    assert shape.results[0].faults[0].predicted["v1a.cathode"] == pytest.approx(5.8, abs=0.3)
    assert shape.results[0].faults[0].checks
    assert shape.results[1].faults[0].stage == "bias"
    assert shape.results[0].next_points[0].bits >= shape.results[0].next_points[-1].bits
    assert shape.not_converged == ()


def test_the_same_call_gives_the_same_answer(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_text("v1a.plate: 120\nbplus_3: 250\n")
    assert (
        run("rank", AMP, "--readings", file, "--json").stdout == run("rank", AMP, "--readings", file, "--json").stdout
    )


def test_a_ranking_for_people(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_text("v1a.plate: 255\nv1a.cathode: 5.8\nbplus_3: 258\n")
    ran = run("rank", AMP, "--readings", file)
    assert "R4.open" in ran.output
    assert "Read and predicted with R4.open" in ran.output
    assert "CAUTION" in ran.output


# A readings file with something wrong, and where and how that is told.
WRONG = [
    ("v1a.plat: 3\n", "a.yaml:1:1: error: v1a.plat: 'v1a.plat' is not a test point of this circuit. Did you mean 'v1a.plate'?"),
    ("v1a.plate: 4k7\n", "a.yaml:1:1: error: v1a.plate: '4k7'"),
    ("readings: {v1a.plate: 4}\nmetre_ohm: 1M\n", "a.yaml:2:1: error: metre_ohm: unknown key 'metre_ohm' Did you mean 'meter_ohm'?"),
    ("- 4\n", "a.yaml:1:1: error: readings are a mapping"),
    ("", "a.yaml:1:1: error: readings are a mapping"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "told"), WRONG)
def test_wrong_readings_are_told_by_line(tmp_path: Path, text: str, told: str) -> None:
    file = tmp_path / "a.yaml"
    file.write_text(text)
    ran = run("rank", AMP, "--readings", file)
    assert ran.exit_code == 1
    assert told in ran.output


def test_a_wrong_circuit_file_is_told_by_line(tmp_path: Path) -> None:
    file = tmp_path / "amp.yaml"
    file.write_text("title: x\nsummary: y\n")
    ran = run("volts", file)
    assert ran.exit_code == 1
    assert f"{file}:1:1: error: " in ran.output


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["volts", "single-ended-6v6"], "Did you mean 'single-ended-6v6gt'"),
        (["volts", AMP, "--fault", "R3.opn"], "Did you mean 'R3.open'"),
        (["volts", AMP, "--change", "R3"], "is not NAME=VALUE"),
        (["volts", AMP, "--change", "R399=1k"], "nothing called 'R399' can be changed"),
        (["volts", AMP, "--meter", "10q"], "is not a unit known here"),
    ],
)
def test_wrong_words_are_told(words: list[str], told: str) -> None:
    ran = run(*words)
    assert ran.exit_code == 2
    assert told in ran.output


def test_a_starter_file_is_a_circuit_file(tmp_path: Path) -> None:
    out = tmp_path / "mine.yaml"
    assert run("new", "single-ended-6v6gt", "--out", out).exit_code == 0
    assert out.read_text().startswith("# A circuit file.")
    assert run("volts", out, "--json").exit_code == 0
    again = run("new", "single-ended-6v6gt", "--out", out)
    assert again.exit_code == 2
    assert "is there already" in again.output
    assert "fixed-bias-2x6v6gt-split-load" in run("new").output


def test_what_each_capacitor_does_to_the_lows() -> None:
    ran = run("lows", "cathode-biased-2x6v6gt-split-load", "--to", "v1b.plate", "--corner", "60")
    assert ran.exit_code == 0
    assert "for 60 Hz" in ran.output
    assert "41 Hz" in ran.output


def test_json_is_plain_ascii() -> None:
    json.loads(run("volts", AMP, "--json").stdout.encode("ascii"))


def test_nothing_slow_is_imported_on_the_way() -> None:
    code = "import sys, chopstick.engine.circuit.rank; print([m for m in ('scipy', 'pandas', 'sympy') if m in sys.modules])"
    assert (
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "[]"
    )
