"""What may stand in for a part: facts of the trade (common practice, no source) and preferred values (IEC 60063)."""

from __future__ import annotations

import pytest
from chopstick.engine.bench.preferred import ELECTROLYTIC_V, FILM_V, RESISTOR_W
from chopstick.engine.jobs.shop.substitutes import substitutes
from chopstick.engine.knowledge.model import Part

from ..shipped import shipped_knowledge

BASE = shipped_knowledge()


def instead(
    part: str, value: str | None = None, rating: str | None = None, stands: str | None = None
) -> list[tuple[str, str]]:
    asked = Part(part=part, value=value, rating=rating, stands=stands)
    found = substitutes(asked, BASE.parts_list, BASE.reference)
    return [(one.value, one.rating) for one in found.instead]


@pytest.mark.parametrize(
    ("old", "new"),
    [("0.02u", "22 nF"), ("0.05u", "47 nF"), ("0.25u", "220 nF")],
)
def test_old_coupling_capacitors_become_the_nearest_preferred_value(old: str, new: str) -> None:
    """IEC 60063, series E6; common practice for amplifiers built before preferred values."""
    assert instead("film capacitor", old)[0][0] == new


def test_electrolytics_go_up_in_volts_and_to_the_nearest_value() -> None:
    found = instead("electrolytic capacitor", "25u", "25 V")
    assert ("22 uF", "25 V") in found
    assert ("25u", "35 V") in found
    assert all(float(rating.split()[0]) >= 25 for _, rating in found)


def test_the_figure_a_part_must_stand_counts_and_not_the_words_of_its_rating() -> None:
    assert instead("film capacitor", "as drawn", "usually 400 or 630 V", "630 V") == [
        ("as drawn", "1000 V"), ("as drawn", "1250 V"),
    ]  # fmt: skip
    assert instead("film capacitor", "as drawn", "usually 400 or 630 V") == []


def test_resistors_go_up_in_watts_only() -> None:
    assert instead("resistor", "100k", "0.5 W") == [("100k", "1 W"), ("100k", "2 W")]
    assert instead("resistor", "25k", "1 W")[0] == ("24 kΩ", "1 W")


def test_controls_keep_their_taper() -> None:
    found = substitutes(Part(part="control", value="250k, audio taper"), BASE.parts_list, BASE.reference)
    assert [one.value for one in found.instead] == ["220 kΩ"]
    assert "taper" in found.note


def test_tubes_of_the_same_family_stand_in() -> None:
    assert "ECC83" in {value for value, _ in instead("preamp tube", "12AX7")}


@pytest.mark.parametrize(
    "part",
    [
        Part(part="mains fuse", rating="slow, 2 A"),
        Part(part="capacitor", rating="class X2, 310 V"),
        Part(part=["varistor", "X capacitor"], rating="approved for the mains voltage"),
        Part(part="output transformer"),
        Part(part="filter choke"),
    ],
)
def test_nothing_stands_in_for_what_keeps_people_safe(part: Part) -> None:
    found = substitutes(part, BASE.parts_list, BASE.reference)
    assert found.instead == ()
    assert found.note.startswith("No stand-in")


def test_no_part_of_the_knowledge_base_is_ever_given_a_lower_rating() -> None:
    checked = 0
    for repair in BASE.repairs.values():
        for part in repair.parts:
            for one in substitutes(part, BASE.parts_list, BASE.reference).instead:
                if "higher rating" in one.because:
                    checked += 1
                    named = float(one.because.split()[4])
                    assert float(one.rating.split()[0]) > named
                    assert f"{named:g}" in (part.rating or "")
    assert checked > 30


def test_words_that_only_sound_like_a_part_are_not_taken_for_one() -> None:
    for word in ("tube shield", "tube socket", "control cleaner", "contact cleaner", "silicone tube ring"):
        assert BASE.parts_list.named(word), word
        assert substitutes(Part(part=word), BASE.parts_list, BASE.reference).note == "", word


def test_what_is_sold_agrees_with_the_ratings_that_the_figures_know() -> None:
    """kb/parts says which ratings are sold; the figures of ratings have the same ones."""
    for part, ratings in (("film-capacitor", FILM_V), ("electrolytic-capacitor", ELECTROLYTIC_V), ("resistor", RESISTOR_W)):
        rule = BASE.parts_list.stand_in(BASE.parts[part])
        assert rule is not None
        assert rule.rating is not None
        assert rule.rating.stock == ratings


def test_the_tube_fitted_says_the_family_where_the_part_does_not() -> None:
    found = substitutes(Part(part="power tubes", value="same type"), BASE.parts_list, BASE.reference, "EL84")
    assert "6BQ5" in {one.value for one in found.instead}
