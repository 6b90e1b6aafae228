"""`chopstick figure` as it is used: in one line, by questions, piped, as JSON, with plots."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from pathlib import Path

import pytest
from chopstick.cli.main import app
from chopstick.cli.screen.plot import svg, terminal
from chopstick.engine.bench import catalogue, coupling, error, pot, stage
from chopstick.engine.bench.figure import Curve, Figure
from typer.testing import CliRunner, Result


def run(*words: str, typed: str = "") -> Result:
    return CliRunner().invoke(app, ["figure", *words], input=typed)


def test_in_one_line_with_the_sum_the_error_and_the_source() -> None:
    done = run("bias.plate_dissipation_percent", "plate_V=462.5", "cathode_mA=21", "tube=6V6GTA")
    assert done.exit_code == 0
    assert done.stdout.startswith("plate dissipation as a share of the rating: 63.07 % ± 1.2 %")
    for said in ("The sum", "Beware", "estimated from the sheet's ratio", "Rests on", "Source", "can kill"):
        assert said in done.stdout


def test_what_is_missing_is_asked_and_enter_leaves_out_what_may_be() -> None:
    done = run("bias.plate_dissipation_percent", "tube=EL84", typed="250 V\n53.5mA\n\n5.5\n\n\n")
    assert done.exit_code == 0
    assert "100 % ±" in done.stdout


def test_an_answer_in_the_wrong_unit_is_asked_again() -> None:
    done = run("coupling.corner_Hz", typed="22n\n470V\n470k\n\n")
    assert done.exit_code == 0
    assert "that is a voltage; ohms are wanted" in " ".join(done.stdout.split())
    assert "15.39 Hz" in done.stdout


def test_piped_input_may_end_where_only_optional_things_are_left() -> None:
    done = run("coupling.corner_Hz", "coupling_F=22n", typed="470k\n")
    assert done.exit_code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["coupling.corner_Hz", "coupling_F=22n"], "load_ohm is missing. It needs: coupling_F, load_ohm."),
        (["coupling.corner_Hz", "coupling_F=22n", "load_ohm=470V"], "that is a voltage; ohms are wanted"),
        (["coupling.corner_Hz", "coupling_F=22n", "load=470k"], "Did you mean 'load_ohm'?"),
        (["coupling.corner_Hz", "22n"], "is not NAME=VALUE"),
        (["coupling.corner_Hz", "coupling_F=22n", "coupling_F=22n"], "given twice"),
        (["coupling.corner_Hz", "coupling_F=22n", "load_ohm=0"], "must be more than zero"),
        (["coupling.korner_Hz"], "nearest: coupling.corner_Hz"),
        (["cupling"], "Did you mean 'coupling'?"),
        (["bias.plate_dissipation_percent", "plate_V=400", "cathode_mA=20", "tube=6V7"], "nearest: 6V6"),
        (["coupling.corner_Hz", "coupling_F=22n", "load_ohm=470k", "--svg", "x.svg"], "this figure has no plot"),
        (["coupling.loss_dB", "frequency_Hz=82", "corner_Hz=20", "--svg", "/no/such/folder/x.svg"], "/no/such/folder/x.svg: No such file or directory."),
    ],
)
def test_what_can_not_be_worked_out_says_why_and_ends_with_2(words: list[str], said: str) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert said in done.stderr


def test_subjects_and_their_calculations_are_listed() -> None:
    assert "rectifier_swap" in run().stdout
    assert "bias.pair_mismatch_percent" in run("bias").stdout
    told = json.loads(run("--json").stdout)
    assert told["shape"] == "chopstick figures 1"
    assert sorted(name for one in told["subjects"] for name in one["figures"]) == sorted(catalogue.names())


def test_json_has_its_documented_shape_and_keeps_questions_off_it() -> None:
    done = run("stage.expected_plate_V", "supply_V=300", "--json", typed="100k\n1k5\n\n")
    told = json.loads(done.stdout)
    assert told["shape"] == "chopstick figure 1"
    assert told["given"] == {"supply_V": 300, "plate_load_ohm": 100e3, "cathode_resistor_ohm": 1500}
    assert told["unit"] == "V"
    assert told["error"] > 0
    assert {line["name"] for line in told["curve"]["lines"]} >= {"load line", "operating point"}


def test_hostile_text_steers_no_terminal() -> None:
    done = run("bias.plate_dissipation_percent", "plate_V=400", "cathode_mA=20", "tube=\x1b[2J[red]x")
    assert done.exit_code == 2
    assert "\x1b" not in done.output


def test_plots_in_the_terminal_and_as_svg(tmp_path: Path) -> None:
    file = tmp_path / "line.svg"
    done = run(
        "stage.expected_current_mA", "supply_V=300", "plate_load_ohm=100k", "cathode_resistor_ohm=1k5", "--plot",
        "--svg", str(file),
    )  # fmt: skip
    assert done.exit_code == 0
    assert "plate mA" in done.stdout
    assert "operating point" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert ElementTree.fromstring(file.read_text()).tag.endswith("svg")


@pytest.mark.parametrize(
    "curve",
    [
        stage.load_line("12AX7", 300, 100e3, 1500),
        coupling.loss_dB(frequency_Hz=82, corner_Hz=20, second_Hz=7).curve,
        pot.taper_mid_percent(readings="0=5 2.5=7.5k 5=25k 7.5=78k 10=250k").curve,
    ],
)
def test_every_plot_stays_inside_its_picture(curve: Curve) -> None:
    tree = ElementTree.fromstring(svg(curve))
    points = [
        tuple(map(float, pair.split(",")))
        for line in tree.iter("{http://www.w3.org/2000/svg}polyline")
        for pair in line.attrib["points"].split()
    ]
    assert points
    assert all(0 <= x <= 640 and 0 <= y <= 400 for x, y in points)
    drawn = terminal(curve)
    assert max(map(len, drawn.splitlines())) <= 76
    assert "\x1b" not in drawn


def test_a_band_that_straddles_a_limit_says_it_cannot_tell() -> None:
    # EL84 class A point, 100 percent of its rating: a handheld meter can't say on which side it stands
    known = {"plate_V": 250.0, "cathode_mA": 53.5, "screen_mA": 5.5, "tube": "EL84"}
    worked = error.with_error(catalogue.find("bias.plate_dissipation_percent"), known)
    assert worked.error == pytest.approx(1.75, abs=0.05)
    assert worked.verdict == "can't tell: nothing of note or over the rating"
    assert worked.error_from == "the meter's scale"
    exact = error.with_error(
        catalogue.find("bias.plate_dissipation_percent"), known, {"plate_V": 0, "cathode_mA": 0, "screen_mA": 0}
    )
    assert exact.error is None
    assert exact.verdict == ""


def test_errors_of_unrelated_readings_add_as_squares() -> None:
    # textbook identity: 3 and 4 percent on a product make 5 percent
    function = catalogue.find("bias.plate_dissipation_W")
    known = {"plate_V": 400.0, "cathode_mA": 30.0, "screen_mA": 0.0}
    worked = error.with_error(function, known, {"plate_V": 12.0, "cathode_mA": 1.2})
    assert worked.error == pytest.approx(0.05 * worked.value)


@pytest.mark.parametrize(
    "worked",
    [
        stage.expected_plate_V(supply_V=300, plate_load_ohm=100e3, cathode_resistor_ohm=1500),
        pot.taper_mid_percent(readings="0=5 2.5=7.5k 5=25k 7.5=78k 10=250k"),
    ],
)
def test_a_plot_is_one_svg_element_that_a_page_can_take_in(worked: Figure) -> None:
    """No declaration, no ids, no script, no link to elsewhere; what is named in it is escaped."""
    assert worked.curve is not None
    text = svg(replace(worked.curve, title="<script>alert('12AX7 & co')</script>\x07"))
    assert text.startswith("<svg ")
    assert text.rstrip().endswith("</svg>")
    tree = ElementTree.fromstring(f"<body>{text}{text}</body>")
    names = {element.tag.rpartition("}")[2] for element in tree.iter()}
    assert names <= {"body", "svg", "title", "rect", "text", "path", "polyline", "circle"}
    attributes = {name for element in tree.iter() for name in element.attrib}
    assert not attributes & {"id", "href", "style", "onload", "class"}


def test_a_word_is_known_with_a_hyphen_too_and_two_to_one_is_no_riddle() -> None:
    assert run("pot.best_spread_percent", "control=Tone-Shunt").exit_code == 0
    assert "Verdict: within two to one" in run("transformer.load_mismatch_ratio", "load_ohm=16", "tap_ohm=8").stdout
    assert "Verdict: mismatched" in run("transformer.load_mismatch_ratio", "load_ohm=16", "tap_ohm=4").stdout


def test_the_scale_of_one_meter_drops_out_where_its_readings_are_compared() -> None:
    # 300 V and 310 V, each good to 0.8 percent: as unrelated errors 1.1 percent, on one meter 0.42
    worked = error.with_error(catalogue.find("compare.difference_percent"), {"one_V": 300.0, "other_V": 310.0})
    assert worked.error == pytest.approx(0.3 * 2**0.5, rel=0.01)
    apart = error.with_error(
        catalogue.find("compare.difference_percent"), {"one_V": 300.0, "other_V": 310.0}, {"one_V": 2.4, "other_V": 2.48}
    )
    assert apart.error == pytest.approx(0.8 * 2**0.5, rel=0.01)
