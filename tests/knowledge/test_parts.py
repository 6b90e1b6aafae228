"""The parts of the knowledge base: how they are named, how they fail, what they cost."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from chopstick.engine.bench import preferred
from chopstick.engine.knowledge import load, model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.knowledge.part_model import StandIn
from chopstick.engine.knowledge.part_use import users
from chopstick.engine.reference.errors import KnowledgeError, Problem

from ..shipped import shipped_knowledge
from .conftest import at

BASE = shipped_knowledge()
PARTS = """\
about: What the pot and its neighbor are.
parts:
  capacitor: {name: capacitor, faults: {leaky: [leaks], open: []}}
  coupling-capacitor: {name: coupling capacitor, also: [blocking capacitor], kind_of: capacitor}
  control: {name: control, also: [pot], faults: {dirty track: [dirty], worn: []}}
"""


def write_parts(root: Path, text: str = PARTS) -> None:
    (root / "parts").mkdir(exist_ok=True)
    (root / "parts" / "area.yaml").write_text("title: Parts\nabout: What there is.\n")
    (root / "parts" / "some.yaml").write_text(text)


def part(name: str | list[str], **more: object) -> model.Part:
    return model.Part.model_validate({"part": name, **more})


def layer(folder: Path, text: str) -> Layer:
    (folder / "areas").mkdir(parents=True, exist_ok=True)
    (folder / "areas" / "ours.yaml").write_text(text)
    return Layer("shop", "shop", folder)


# names


@pytest.mark.parametrize(
    ("name", "ids"),
    [
        ("film-capacitor", ["film-capacitor"]),
        ("Film capacitors", ["film-capacitor"]),
        ("matched power tubes", ["power-tube"]),
        ("phase inverter tube", ["inverter-tube"]),
        ("pot", ["control"]),
        ("film capacitor or control", ["film-capacitor", "control"]),
        ("film or mica capacitor", ["film-capacitor", "mica-capacitor"]),
        ("flux compensator", []),
    ],
)
def test_a_part_is_found_by_its_id_and_all_its_names(name: str, ids: list[str]) -> None:
    assert [one.id for one in BASE.parts_list.meant((name,))] == ids


def test_what_a_part_does_not_say_its_kind_says() -> None:
    parts = BASE.parts_list
    coupling = BASE.parts["coupling-capacitor"]
    assert [one.id for one in parts.lineage(coupling)] == ["coupling-capacitor", "film-capacitor", "capacitor"]
    assert {"leaky", "open", "drifted"} <= parts.faults(coupling).keys()
    assert parts.fault([BASE.parts["jack"]], "bad contact") == "poor contact"
    assert parts.stand_in(coupling) == parts.stand_in(BASE.parts["capacitor"])


def test_every_cause_and_repair_of_the_shipped_base_names_parts_and_faults_that_are_there() -> None:
    parts = BASE.parts_list
    for cause in BASE.causes.values():
        meant = parts.meant(cause.part)
        assert [one.id for one in meant] == list(cause.part), cause.id
        assert [parts.fault(meant, word) for word in cause.fault] == list(cause.fault), cause.id
    for repair in BASE.repairs.values():
        for one in repair.parts:
            assert [kind.id for kind in parts.meant(one.part)] == list(one.part), repair.id


def test_words_of_a_part_are_those_of_the_trade() -> None:
    words = BASE.parts_list.words
    assert words(part(["film-capacitor", "control"])) == "film capacitor or control"
    assert words(part("power-tube", which="matched")) == "power tube, matched"
    assert words(part("flux compensator")) == "flux compensator", "an old layer's own name is shown as it stands"


def test_a_circuit_role_is_that_of_the_part_and_of_every_kind_of_it() -> None:
    assert set(BASE.parts_list.roles(("control",))) >= {"* control", "treble control", "bias control"}
    assert BASE.parts_list.roles(("* bleeder",)) == ("* bleeder",), "what is no part stands for itself"


def test_what_names_a_part_is_known() -> None:
    used = users(BASE)
    assert "replace-control" in used["control"]
    assert used.keys() == BASE.parts.keys()


@pytest.mark.parametrize(
    ("kind", "sold"),
    [
        ("film-capacitor", preferred.FILM_V), ("electrolytic-capacitor", preferred.ELECTROLYTIC_V),
        ("resistor", preferred.RESISTOR_W),
    ],
)
def test_what_is_sold_is_the_same_for_stand_ins_and_for_the_bench(kind: str, sold: tuple[float, ...]) -> None:
    stand_in = BASE.parts_list.stand_in(BASE.parts[kind])
    assert stand_in is not None
    assert stand_in.rating is not None
    assert stand_in.rating.stock == sold


# prices


def priced(text: str) -> KnowledgeBase:
    """The shipped base with these prices; that a layer brings them is tried below."""
    where = {"file": "ours.yaml"}
    prices = {id_: model.Price(id=id_, where=where, **one) for id_, one in yaml.safe_load(text).items()}
    supply = BASE.areas["supply"].model_copy(update={"prices": prices})
    return replace(BASE, areas={**BASE.areas, "supply": supply})


def test_a_price_holds_for_all_names_and_kinds_of_a_part_unless_a_closer_one_does() -> None:
    base = priced(
        "  a: {name: A, each: 1, currency: EUR, part: Capacitors}\n"
        "  b: {name: B, each: 2, currency: EUR, part: film capacitor}\n",
    )
    each = {name: base.price_of(part(name)) for name in ("ceramic-capacitor", "coupling capacitor", "resistor")}
    assert {name: price and price.each for name, price in each.items()} == {
        "ceramic-capacitor": 1, "coupling capacitor": 2, "resistor": None,
    }  # fmt: skip


def test_of_several_that_hold_the_most_specific_goes() -> None:
    base = priced(
        "  any: {name: Any, each: 9, currency: EUR, part: electrolytic-capacitor}\n"
        "  low: {name: Low, each: 1, currency: EUR, part: electrolytic-capacitor, rating: 63 V}\n"
        "  mid: {name: Mid, each: 3, currency: EUR, part: electrolytic-capacitor, rating: 350 V}\n"
        "  big: {name: Big, each: 5, currency: EUR, part: electrolytic-capacitor, value: [33u, 100u]}\n"
        "  one: {name: One, each: 7, currency: EUR, part: electrolytic-capacitor, value: 47u, rating: 500 V}\n",
    )

    def each(**more: str) -> float:
        price = base.price_of(part("filter capacitor", **more))
        assert price is not None
        return price.each

    assert each() == 9
    assert each(rating="25 V") == 1
    assert each(rating="63 V") == 1, "what it stands is enough"
    assert each(rating="64 V") == 3
    assert each(rating="450 V") == 9
    assert each(rating="at least the node, often 450 V") == 9, "no sentence is read for a figure"
    assert each(rating="at least the node, often 450 V", stands="350 V") == 3
    assert each(value="33 uF") == each(value="100u") == 5
    assert each(value="22u") == 9
    assert each(value="47u", rating="450 V") == 7


def test_of_alternatives_each_must_have_a_price_and_the_dearest_counts() -> None:
    one = "  a: {name: A, each: 1, currency: EUR, part: film capacitor}\n"
    two = one + "  b: {name: B, each: 6, currency: EUR, part: control}\n"
    either = part(["film-capacitor", "control"])
    assert priced(one).price_of(either) is None
    price = priced(two).price_of(either)
    assert price is not None
    assert price.each == 6


def test_a_price_for_one_or_other_holds_where_both_are_named_and_nowhere_else() -> None:
    base = priced("  a: {name: A, each: 5, currency: EUR, part: film capacitor or control}\n")
    price = base.price_of(part(["control", "film-capacitor"]))
    assert price is not None
    assert price.each == 5
    assert base.price_of(part("control")) is None


def test_a_layer_may_add_a_part_and_price_it(tmp_path: Path) -> None:
    text = (
        "area: parts\nparts:\n  flux-coil: {name: flux coil, kind_of: choke}\n"
        "amend: {parts: {control: {also: [twiddler], faults: {haunted: []}}}}\n"
        "prices: {c: {name: C, each: 4, currency: EUR, part: choke}}\n"
    )
    base = load.load(layers=[layer(tmp_path / "shop", text)])
    price = base.price_of(part("flux coils"))
    assert price is not None
    assert price.each == 4
    assert [one.id for one in base.parts_list.meant(("twiddler",))] == ["control"]
    assert {"haunted", "worn"} <= base.parts["control"].faults.keys()


def test_the_example_price_list_prices_nearly_every_part() -> None:
    base = load.load(layers=[Layer("shop", "shop", load.shipped() / "examples" / "shop")])
    lines = [one for repair in base.repairs.values() for one in repair.parts]
    without = [base.parts_list.words(one) for one in lines if base.price_of(one) is None]
    assert len(without) <= 0.05 * len(lines), without


# what is told


def problems(root: Path) -> list[Problem]:
    return [one for one in load.check(root) if one.lint in LINTS]


LINTS = {"unknown-part", "unknown-fault", "unknown-kind", "part-twice", "unused-part", "unknown-electrode", "duplicate-id"}


def test_a_base_without_parts_names_them_as_it_likes(root: Path) -> None:
    assert problems(root) == []


def test_a_base_whose_parts_are_all_known_has_no_problem(root: Path) -> None:
    write_parts(root)
    assert problems(root) == []


CASES = [
    # what is changed, into what, lint, the file and line, words that must be said
    ("also: [pot], ", "also: [pots and pans], ", "unknown-part", "pot.yaml", 38, "there is no part 'pot'"),
    ("dirty track: [dirty]", "dirty tracks: []", "unknown-fault", "pot.yaml", 39, "Did you mean 'dirty tracks'?"),
    ("kind_of: capacitor}", "kind_of: capaciter}", "unknown-kind", "some.yaml", 4, "Did you mean 'capacitor'?"),
    ("name: capacitor,", "name: capacitor, kind_of: coupling-capacitor,", "unknown-kind", "some.yaml", 3, "itself"),
    ("also: [pot]", "also: [pot, Capacitors]", "part-twice", "some.yaml", 5, "is a part already"),
    ("parts:\n", "parts:\n  knob: {name: knob}\n", "unused-part", "some.yaml", 3, "names this part"),
]


@pytest.mark.parametrize(("old", "new", "lint", "file", "line", "words"), CASES)
def test_what_is_wrong_with_parts_is_told(
    root: Path, old: str, new: str, lint: str, file: str, line: int, words: str
) -> None:
    assert old in PARTS
    write_parts(root, PARTS.replace(old, new, 1))
    found = problems(root)
    told = [one for one in found if one.lint == lint]
    assert told, [str(one) for one in found]
    assert at(told[0])[:2] == (file, line)
    assert words in str(told[0])


def test_a_check_can_tell_only_pins_that_tubes_have(broken: Callable[[str, str], list[Problem]]) -> None:
    found = broken("    stage: live\n", "    stage: live\n    pins: {power-tube: control gird}\n")
    assert "Did you mean 'control grid'?" in next(str(one) for one in found if one.lint == "unknown-electrode")


def test_an_old_layer_with_names_of_its_own_still_works(tmp_path: Path) -> None:
    text = """\
area: supply
prices: {f: {name: F, each: 3, currency: EUR, part: flux compensator}}
amend: {repairs: {replace-control: {parts: [{part: flux compensator}, {part: film capacitors, rating: 400 V}]}}}
"""
    ours = layer(tmp_path / "shop", text)
    base = load.load(layers=[ours])
    first, second = base.repairs["replace-control"].parts
    price = base.price_of(first)
    assert price is not None
    assert price.each == 3
    assert [one.id for one in base.parts_list.meant(second.part)] == ["film-capacitor"]
    told = [one for one in load.check(layers=[ours]) if one.lint == "unknown-part"]
    assert {one.severity for one in told} == {"warning"}
    assert all("flux compensator" in one.message for one in told)


@pytest.mark.parametrize(
    "change",
    [
        "fuse: {stand_in: null}", "fuse: {stand_in: {never: null, keep: the current}}", "mains-fuse: {kind_of: null}",
        "mains-fuse: {stand_in: {keep: the current}}",
    ],
)
def test_a_layer_may_not_let_something_stand_in_for_a_fuse(tmp_path: Path, change: str) -> None:
    ours = layer(tmp_path / "shop", f"area: safety\namend: {{parts: {{{change}}}}}\n")
    with pytest.raises(KnowledgeError) as refused:
        load.load(layers=[ours])
    assert {one.lint for one in refused.value.problems} == {"safety-lowered"}


def test_a_layer_may_forbid_a_stand_in(tmp_path: Path) -> None:
    ours = layer(tmp_path / "shop", "area: supply\namend: {parts: {fuse: {stand_in: {never: Ask the owner of the bench.}}}}\n")
    fuse = load.load(layers=[ours]).parts["fuse"]
    assert fuse.stand_in == StandIn(never="Ask the owner of the bench.")
