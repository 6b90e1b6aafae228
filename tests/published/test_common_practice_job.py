"""One job of the trade as check values: common practice, no source.

A 2x6V6GT push-pull amp with a 5V4GA rectifier stood at 453.5 V on the plates; with tubes rated 14 W it idled at
62 and 65 percent. With a 5Y3GT and 22 k in place of 27 k in the bias supply it came down to 415 V, where tubes
rated 13.2 W idled at 63.4 and 64.8 percent. These figures are reserved for this file: whatever else needs an example
has a scenario of its own, worked out by one of the circuits, and the last test here holds it to that.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from chopstick.engine.bench import bias, bias_divider, compare, limits, rectifier_swap

ROOT = Path(__file__).parents[2]
RESERVED = re.compile(
    r"\b453[.,]5|\b415(\.0)? ?V\b|_V\W{1,4}415\b"
    r"|\b6(3\.4|4\.8) ?(%|percent)|\b6[25] ?(%|percent).{0,80}\b1(3\.2|4) W\b"
    r"|\b(22\.1|20\.6) ?mA|\b27 ?k\b.{0,60}\b22 ?k\b|\b22 ?k\b.{0,60}\b27 ?k\b"
    r"|rectifier: 5V4\w*,\s+rectifier-designed: 5Y3|rectifier-designed: 5Y3\w*,\s+rectifier: 5V4"
)


@pytest.mark.parametrize(
    ("plate_V", "rating_W", "percent", "plate_mA"),
    [
        (453.5, 14, 62, 19.14),
        (453.5, 14, 65, 20.07),
        (415, 13.2, 63.4, 20.17),
        (415, 13.2, 64.8, 20.61),
    ],
)
def test_idle_dissipation_of_the_amp(plate_V: float, rating_W: float, percent: float, plate_mA: float) -> None:
    share = bias.plate_dissipation_percent(plate_V=plate_V, cathode_mA=plate_mA, screen_mA=0, rating_W=rating_W)
    assert share.value == pytest.approx(percent, abs=0.05)
    back = bias.idle_current_mA(plate_V=plate_V, wanted_percent=percent, rating_W=rating_W)
    assert back.value == pytest.approx(plate_mA, abs=0.01)
    assert bias.idle_outside_percent(dissipation_percent=share.value).verdict == "within the usual window"


def test_the_ratings_of_the_two_sets_of_tubes_are_on_file() -> None:
    first = bias.plate_dissipation_percent(plate_V=453.5, cathode_mA=19.14, screen_mA=0, tube="6V6GTA")
    second = bias.plate_dissipation_percent(plate_V=415, cathode_mA=20.17, screen_mA=0, tube="6V6GT current production")
    assert first.value == pytest.approx(62, abs=0.05)
    assert second.value == pytest.approx(63.4, abs=0.05)


def test_about_100_V_over_the_plate_rating_and_150_over_the_screen_rating() -> None:
    # the ratings usually published for a 6V6: 350 V plate, 285 to 315 V screen; the screens stand a few volts
    # below the plates
    assert limits.plate_voltage_over_V(plate_V=453.5, tube="6V6GTA").value == pytest.approx(100, abs=5)
    by_sheet = [limits.screen_voltage_over_V(screen_V=450, tube=kind).value for kind in ("6V6GT", "6V6GTA")]
    assert min(by_sheet) < 150 < max(by_sheet)


def test_the_pair_was_matched() -> None:
    assert bias.pair_mismatch_percent(one_mA=19.14, other_mA=20.07).verdict == "matched"


def test_a_5y3gt_in_place_of_a_5v4ga_brings_the_supply_down_by_tens_of_volts() -> None:
    # 453.5 V came down to 415 V; the bias was changed as well, so 38.5 V is not the rectifier's alone
    swap = rectifier_swap.new_supply_V(present_V=453.5, load_mA=70, present="5V4GA", wanted="5Y3GT")
    assert swap.value == pytest.approx(415, abs=8)
    assert rectifier_swap.drop_in_count(
        present="5V4GA", wanted="5Y3GT", load_mA=70, first_capacitor_F=20e-6
    ).verdict == "drops in"  # fmt: skip


def test_the_amp_came_down_by_an_eleventh_or_so_with_the_weaker_rectifier() -> None:
    # 453.5 V to 415 V
    assert compare.drop_percent(before_V=453.5, after_V=415).value == pytest.approx(8.5, abs=0.05)
    assert compare.of_expected_percent(measured_V=415, expected_V=453.5).value == pytest.approx(91.5, abs=0.05)


def test_22_k_in_place_of_27_k_at_the_chassis_end_idles_the_tubes_hotter() -> None:
    change = bias_divider.change_V(source_V=-60, from_ohm=27_000, to_ohm=22_000, other_ohm=30_000)
    assert change.value > 0
    assert change.verdict == "hotter"
    assert bias_divider.change_V(
        source_V=-60, from_ohm=27_000, to_ohm=22_000, other_ohm=30_000, position="series"
    ).verdict == "colder"  # fmt: skip


def reserved(text: str) -> list[int]:
    """The numbers of the lines of a text that hold a figure of this job."""
    return [text[: found.start()].count("\n") + 1 for found in RESERVED.finditer(text)]


@pytest.mark.parametrize(
    "line", ["plate_V=415", '"plate_V": 415.0', "415 V", "plates at 453,5", "20.6mA", "27 k to 22 k"]
)
def test_a_figure_of_this_job_is_seen(line: str) -> None:
    assert reserved(line) == [1]


@pytest.mark.parametrize("line", ["R17: 27k", "22k in series", "4150 V", "65 percent of the rating", "1415 V"])
def test_a_figure_that_anybody_may_use_is_not(line: str) -> None:
    assert reserved(line) == []


def test_these_figures_stand_nowhere_else() -> None:
    kinds = (".md", ".py", ".yaml", ".yml", ".toml", ".json", ".txt")
    rooms = [path for room in ("kb", "cli", "engine", "tests") for path in sorted((ROOT / room).rglob("*"))]
    files = [path for path in [*ROOT.glob("*.md"), *rooms] if path.suffix in kinds and path != Path(__file__)]
    assert len(files) > 300
    assert {
        f"{path.relative_to(ROOT)}:{line}": "figures reserved for tests/published; use figures of our own"
        for path in files
        for line in reserved(path.read_text(encoding="utf-8"))
    } == {}
