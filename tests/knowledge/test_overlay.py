"""A shop's own layer over a small base: what it adds, amends and retires, what is refused, where each value is from.

The base is a crackling pot (conftest.py) and a mains plug without an earth pin, which raises a hold.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.knowledge.lint import Lint
from chopstick.engine.knowledge.overlay import origins
from chopstick.engine.reference.errors import KnowledgeError, Problem

from .conftest import as_file, at, write_area

EARTH = """\
area: earth
title: Earth
about: The earth pin and what follows from it.
symptoms:
  tingles: {name: It tingles, says: [it bites me, tingle from the strings], ask: Does it tingle?, safety: true}
findings:
  no-earth: {text: The plug has no earth pin, otherwise: never}
checks:
  look-at-plug:
    name: Look at the plug
    stage: look
    minutes: 1
    do: Look for the earth pin.
    normal: Three pins.
    safety: true
    ask: Is there an earth pin?
    answers: {"yes": {}, "no": {findings: [no-earth]}}
causes:
  earth-missing:
    name: No earth wire
    part: cord
    fault: missing
    commonness: uncommon
    hazard: shock
    group: cord
    shows: {no-earth: almost always, tingles: sometimes}
    repairs: [fit-cord]
repairs:
  fit-cord:
    name: Fit a three-wire cord
    steps: [Fit it.]
    minutes: 30
    skill: senior
    cautions: [mains, unplugged]
    keeps: the looks
    proof: {check: look-at-plug, gone: no-earth}
holds:
  earth-first: {text: No protective earth., ask: Has an earth been fitted?, blocks: first power}
rules:
  no-earth-holds:
    when: {finding: no-earth}
    then: [{hold: earth-first}]
    because: a fault would put the line on the chassis
"""

Shop = Callable[[str], list[Problem]]


@pytest.fixture
def base(root: Path) -> Path:
    write_area(root, "earth", pin=as_file(EARTH))
    return root


@pytest.fixture
def layer(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Layer]:
    """A shop's folder with one file in it."""
    outside = tmp_path_factory.mktemp("layers")

    def write(text: str, name: str = "shop") -> Layer:
        folder = outside / name
        (folder / "areas").mkdir(parents=True, exist_ok=True)
        (folder / "areas" / "ours.yaml").write_text(f"area: knobs\n{text}")
        return Layer("shop", name, folder)

    return write


@pytest.fixture
def shop(base: Path, layer: Callable[[str], Layer]) -> Shop:
    return lambda text: list(load.check(base, [layer(text)]))


def test_an_added_rule_is_a_rule_like_any_other(base: Path, layer: Callable[[str], Layer]) -> None:
    ours = "rules:\n  ours: {when: {finding: dc-on-pot}, then: [{advice: Look there.}], because: we have seen it}\n"
    loaded = load.load(base, [layer(ours)])
    assert loaded.rules["ours"].where.line == 3
    assert Path(loaded.rules["ours"].where.file).name == "ours.yaml"
    assert "ours" in loaded.areas["knobs"].rules
    assert loaded.fingerprint != load.load(base).fingerprint


def test_an_amendment_changes_the_named_fields_and_no_others(base: Path, layer: Callable[[str], Layer]) -> None:
    was = load.load(base).causes["track-dirty"]
    ours = "amend:\n  causes:\n    track-dirty: {commonness: rare, shows: {dc-on-pot: rarely}}\n"
    now = load.load(base, [layer(ours)]).causes["track-dirty"]
    assert (now.commonness, now.shows) == ("rare", {"crackle": "almost always", "dc-on-pot": "rarely"})
    assert now == was.model_copy(update={"commonness": "rare", "shows": now.shows})


def test_null_takes_a_field_or_a_name_away(base: Path, layer: Callable[[str], Layer]) -> None:
    ours = "amend:\n  causes:\n    capacitor-leaky: {shows: {crackle: null, dc-on-pot: usually}}\n"
    problems = load.check(base, [layer(ours)])
    assert [problem.lint for problem in problems] == ["unreachable-cause"]


def test_a_retired_rule_is_gone(base: Path, layer: Callable[[str], Layer]) -> None:
    assert "dc-says-capacitor" not in load.load(base, [layer("retire: {rules: [dc-says-capacitor]}\n")]).rules


def test_what_a_retirement_leaves_without_use_is_only_a_warning(shop: Shop) -> None:
    problems = shop("retire: {causes: [track-dirty], checks: []}\namend: {repairs: {clean-it: {minutes: 6}}}\n")
    assert [(problem.lint, problem.severity) for problem in problems] == [("unused-entry", "error")]
    problems = shop("retire: {causes: [track-dirty]}\n")
    assert [(problem.lint, problem.severity) for problem in problems] == [("unused-entry", "warning")]


def test_the_players_words_are_added_to_those_that_are_there(base: Path, layer: Callable[[str], Layer]) -> None:
    says = load.load(base, [layer("words: {crackle: [it goes krrr]}\n")]).symptoms["crackle"].says
    assert says == ("it crackles", "scratchy pot", "it goes krrr")


def test_a_later_layer_wins_and_the_rest_shows_through(base: Path, layer: Callable[..., Layer]) -> None:
    user = layer("amend: {repairs: {clean-it: {minutes: 7, skill: senior}}}\n", "user")
    ours = layer("amend: {repairs: {clean-it: {minutes: 9}}}\n", "shop")
    repair = load.load(base, [user, ours]).repairs["clean-it"]
    assert (repair.minutes, repair.skill) == (9, "senior")


def test_each_effective_value_tells_the_file_and_line_it_is_from(base: Path, layer: Callable[..., Layer]) -> None:
    user = layer("amend:\n  repairs:\n    clean-it:\n      minutes: 7\n      skill: senior\n", "user")
    ours = layer("amend:\n  repairs:\n    clean-it:\n      minutes: 9\n", "shop")
    merged = load.merged(base, [user, ours], [])
    told = {one.field: (one.value, one.layer, Path(one.where.file).name, one.where.line) for one in origins(
        merged, "repairs", "clean-it", [user, ours]
    )}  # fmt: skip
    assert told["minutes"] == (9, "shop", "ours.yaml", 5)
    assert told["skill"] == ("senior", "user", "ours.yaml", 6)
    assert told["keeps"] == ("the pot and its taper", "", "pot.yaml", 56)
    assert [one.layer for one in merged.changed("repairs", "clean-it")] == ["user", "shop"]


def test_a_circuit_is_amended_part_by_part(base: Path, layer: Callable[[str], Layer]) -> None:
    (base / "amps").mkdir()
    (base / "amps" / "practice.yaml").write_text("title: Practice\nparts:\n  R1: {ohm: 1M, nodes: [in, chassis]}\n")
    ours = layer("amend: {circuits: {practice: {parts: {R1: {ohm: 470k}}}}}\ncircuits: {other: {title: Other}}\n")
    circuits = load.merged(base, [ours], []).circuits
    assert circuits["practice"].value["parts"]["R1"] == {"ohm": "470k", "nodes": ["in", "chassis"]}
    assert circuits["practice"].where(("parts", "R1", "ohm")).file.endswith("ours.yaml")
    assert circuits["other"].value == {"title": "Other"}


def test_a_repair_is_priced_from_the_shops_own_list(base: Path, layer: Callable[[str], Layer]) -> None:
    loaded = load.load(base, [layer(
        "prices: {film-capacitor: {name: Film capacitor 630 V, each: 1.2, currency: EUR}}\n"
        "amend: {repairs: {change-it: {parts: [{part: capacitor, quantity: 2, price: film-capacitor}]}}}\n"
    )])  # fmt: skip
    (part,) = loaded.repairs["change-it"].parts
    price = loaded.price_of(part)
    assert price is not None
    assert (price.each, price.currency, part.quantity) == (pytest.approx(1.2), "EUR", 2)


MISTAKES = [
    # the layer's text, (line, column), words
    ("amend: {causes: {track-drity: {commonness: rare}}}\n", (2, 18), "Did you mean 'track-dirty'?"),
    ("retire: {checks: [turn-id]}\n", (2, 19), "Did you mean 'turn-it'?"),
    ("findings: {dc-on-pot: {text: Again}}\n", (2, 12), "exists already"),
    ("words: {crackel: [krr]}\n", (2, 9), "Did you mean 'crackle'?"),
    ("amend: {causes: {track-dirty: {grop: pots}}}\n", (2, 32), "Did you mean 'group'?"),
    ("amend: {causes: {track-dirty: {commonness: rrare}}}\n", (2, 44), "Did you mean 'rare'?"),
    ("amend: {causes: {track-dirty: {id: other}}}\n", (2, 32), "'id' is fixed"),
    ("amend: {causes: {track-dirty: {why: null}}}\n", (2, 32), "no 'why' to take away"),
    ("amend: {cuases: {track-dirty: {why: x}}}\n", (2, 17), "'symptoms', 'findings'"),
    ("rules: [1]\n", (2, 8), "valid dictionary"),
]


@pytest.mark.parametrize(("text", "place", "words"), MISTAKES, ids=[words for *_, words in MISTAKES])
def test_a_mistake_in_a_layer_is_named_at_its_place(shop: Shop, text: str, place: tuple[int, int], words: str) -> None:
    problems = [problem for problem in shop(text) if words in str(problem)]
    assert problems, f"only found: {shop(text)}"
    assert at(problems[0]) == ("ours.yaml", *place)


def test_a_new_area_needs_a_title(base: Path, layer: Callable[[str], Layer]) -> None:
    ours = layer("")
    (ours.path / "areas" / "ours.yaml").write_text("area: ours\nfindings: {odd: {text: Odd}}\n")
    assert any("a new one needs 'title' and 'about'" in str(problem) for problem in load.check(base, [ours]))


NEW_CHECK = (
    "checks: {look-twice: {name: Look, stage: look, minutes: 1, do: Look., normal: Fine., ask: Bad?, answers: "
    '{"yes": {findings: [no-earth]}, "no": {}}}}\n'
)
NEW_REPAIR = (
    "repairs: {blow: {name: Blow, steps: [Blow.], minutes: 1, skill: junior, keeps: all, "
    "proof: {check: turn-it, gone: crackle}}}\namend: {causes: {track-dirty: {repairs: [clean-it, blow]}}}\n"
)
CROWD = (
    "causes: {cord-dull: {name: Dull, part: cord, fault: dull, commonness: everyday, group: cord, "
    "shows: {tingles: usually}, repairs: [fit-cord]}}\n"
)
USED = "amend: {causes: {cord-gnawed: {repairs: [fit-cord, blow]}}}\n"
QUIET = "quiet: [safety-lowered, safety-retired, rule-lowers-safety, caution-missing]"
REFUSED = [
    # a way of lowering a safety matter, and the lint that refuses it
    ("retire: {holds: [earth-first]}\n", "safety-retired"),
    ("retire: {rules: [no-earth-holds]}\n", "safety-retired"),
    ("retire: {checks: [look-at-plug]}\n", "safety-retired"),
    ("retire: {findings: [no-earth]}\n", "safety-retired"),
    ("retire: {symptoms: [tingles]}\n", "safety-retired"),
    ("retire: {causes: [earth-missing]}\n", "safety-retired"),
    (f"amend: {{holds: {{earth-first: {{blocks: play, {QUIET}}}}}}}\n", "safety-lowered"),
    ("amend: {holds: {earth-first: {ask: Are you well?}}}\n", "safety-lowered"),
    ("amend: {rules: {no-earth-holds: {then: [{advice: Never mind.}]}}}\n", "safety-lowered"),
    ("amend: {rules: {no-earth-holds: {when: {denied: no-earth}}}}\n", "safety-lowered"),
    ("amend: {checks: {look-at-plug: {safety: false}}}\n", "safety-lowered"),
    ("amend: {checks: {look-at-plug: {stage: live, cautions: [live]}}}\n", "safety-lowered"),
    ("amend: {checks: {look-at-plug: {needs: {reverb: present}}}}\n", "safety-lowered"),
    ('amend: {checks: {look-at-plug: {answers: {"no": {findings: []}}}}}\n', "safety-lowered"),
    ("amend: {checks: {measure-it: {stage: look}}}\n", "safety-lowered"),
    (f"amend: {{checks: {{measure-it: {{cautions: [], {QUIET}}}}}}}\n", "safety-lowered"),
    (f"amend: {{checks: {{measure-it: {{cautions: [], {QUIET}}}}}}}\n", "caution-missing"),
    ("amend: {repairs: {fit-cord: {cautions: [unplugged]}}}\n", "safety-lowered"),
    ("amend: {causes: {earth-missing: {hazard: none}}}\n", "safety-lowered"),
    ("amend: {causes: {earth-missing: {commonness: rare}}}\n", "safety-lowered"),
    ("amend: {causes: {earth-missing: {shows: {no-earth: never}}}}\n", "safety-lowered"),
    ("amend: {symptoms: {tingles: {safety: false}}}\n", "safety-lowered"),
    ("amend: {causes: {earth-missing: {bars: nothing}}}\n", "safety-lowered"),
    ("amend: {findings: {no-earth: {text: The plug is fine}}}\n", "safety-lowered"),
    ("rules: {x: {when: {finding: dc-on-pot}, then: [{skip: look-at-plug}], because: slow}}\n", "rule-lowers-safety"),
    ("rules: {x: {when: {finding: dc-on-pot}, then: [{rule_out: earth-missing}], because: x}}\n", "rule-lowers-safety"),
    (
        "rules: {x: {when: {finding: dc-on-pot}, then: [{lower: earth-missing, by: strongly}], because: no}}\n",
        "rule-lowers-safety",
    ),
    ("rules: {x: {when: {finding: dc-on-pot}, then: [{forbid: fit-cord}], because: dear}}\n", "rule-lowers-safety"),
    (NEW_CHECK, "check-could-clear"),
    (
        'amend: {checks: {turn-it: {answers: {"no": {findings: [no-earth]}}}}}\n',
        "check-could-clear",
    ),
    (NEW_REPAIR, "repair-without-caution"),
    (CROWD, "hazard-crowded-out"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "lint"), REFUSED, ids=[f"{lint}-{n}" for n, (_, lint) in enumerate(REFUSED)])
def test_lowering_a_safety_matter_is_refused(
    base: Path, layer: Callable[[str], Layer], text: str, lint: str
) -> None:
    with pytest.raises(KnowledgeError) as refused:
        load.load(base, [layer(text)])
    ours = [problem for problem in refused.value.problems if problem.lint == lint]
    assert ours, refused.value.problems
    assert at(ours[0])[0] == "ours.yaml"


GNAWED = """\
findings: {gnawed: {text: The cord is gnawed.}}
checks:
  look-along-cord: {name: Look along the cord, stage: look, minutes: 1, do: Look., normal: Smooth., safety: true,
    ask: Is it gnawed?, answers: {"yes": {findings: [gnawed]}, "no": {}}}
amend: {causes: {earth-missing: {shows: {gnawed: rarely}}}}
causes:
  cord-gnawed: {name: Gnawed cord, part: cord, fault: gnawed, commonness: rare, hazard: shock, group: cord-itself,
    shows: {gnawed: almost always, tingles: usually}, repairs: [fit-cord]}
rules:
  gnawed-holds: {when: {finding: gnawed}, then: [{hold: earth-first}], because: gnawed cords bite}
"""


@pytest.mark.parametrize(
    ("text", "lint"),
    [
        ("retire: {rules: [gnawed-holds]}\n", "safety-retired"),
        ("amend: {checks: {look-along-cord: {safety: false}}}\n", "safety-lowered"),
        ("rules: {x: {when: {finding: dc-on-pot}, then: [{skip: look-along-cord}], because: no}}\n", "rule-lowers-safety"),
        (NEW_CHECK.replace("no-earth", "gnawed"), "check-could-clear"),
        (CROWD.replace("group: cord,", "group: cord-itself,"), "hazard-crowded-out"),
        (NEW_REPAIR.replace("amend: {causes: {track-dirty: {repairs: [clean-it, blow]}}}\n", USED), "repair-without-caution"),
    ],
)
def test_nor_may_a_layer_lower_what_a_layer_beneath_it_says_of_safety(
    base: Path, layer: Callable[..., Layer], text: str, lint: str
) -> None:
    shop, job = layer(GNAWED), layer(text, "job")
    assert load.check(base, [shop]) == ()
    problems = [one for one in load.check(base, [shop, job]) if one.severity == "error"]
    assert [one.lint for one in problems] == [lint]
    assert problems[0].where.file == str(job.path / "areas" / "ours.yaml")


STRICTER = [
    "amend: {holds: {earth-first: {blocks: cold}}}\n",
    "amend: {holds: {earth-first: {standing: true}}}\n",
    "amend: {checks: {measure-it: {cautions: [live, hot]}}}\n",
    "amend: {checks: {turn-it: {safety: true}}}\n",
    "amend: {causes: {track-dirty: {hazard: damage}}}\n",
    "amend: {causes: {earth-missing: {commonness: common, shows: {tingles: usually}}}}\n",
    "amend: {rules: {no-earth-holds: {then: [{hold: earth-first}, {check_first: look-at-plug}]}}}\n",
    "rules: {x: {when: {finding: dc-on-pot}, then: [{hold: earth-first}], because: to be sure}}\n",
]


@pytest.mark.parametrize("text", STRICTER)
def test_making_it_stricter_is_not_refused(shop: Shop, text: str) -> None:
    assert shop(text) == []


def test_every_safety_lint_is_shown_refusing_something() -> None:
    from chopstick.engine.knowledge.lint import safety

    ours = [one for one in vars(safety).values() if isinstance(one, Lint)]
    assert {lint.id for lint in ours} == {lint for _, lint in REFUSED} - {"caution-missing"}
    assert all(lint.always and lint.between_layers for lint in ours)


# --- files from outside ---


def test_a_link_in_a_layer_is_refused(base: Path, layer: Callable[[str], Layer]) -> None:
    ours = layer("")
    secret = ours.path.parent / "secret.yaml"
    secret.write_text("area: knobs\n")
    (ours.path / "areas" / "link.yaml").symlink_to(secret)
    assert any("a link" in str(problem) for problem in load.check(base, [ours]))


def test_a_linked_folder_in_a_layer_is_refused(base: Path, layer: Callable[[str], Layer]) -> None:
    elsewhere = layer("").path
    pack = elsewhere.parent / "pack"
    pack.mkdir()
    (pack / "areas").symlink_to(elsewhere / "areas")
    assert any("a link" in str(problem) for problem in load.check(base, [Layer("shop", "shop", pack)]))


def test_a_pipe_in_a_layer_is_not_waited_for(base: Path, layer: Callable[[str], Layer]) -> None:
    import os

    ours = layer("")
    os.mkfifo(ours.path / "areas" / "pipe.yaml")
    assert any("not a plain file" in str(problem) for problem in load.check(base, [ours]))


def test_a_crowd_of_files_is_refused(base: Path, layer: Callable[[str], Layer]) -> None:
    ours = layer("")
    for number in range(201):
        (ours.path / "areas" / f"n{number}.yaml").write_text("area: knobs\n")
    assert any("more than 200 files" in str(problem) for problem in load.check(base, [ours]))


def test_a_broken_layer_is_not_half_loaded(base: Path, layer: Callable[[str], Layer]) -> None:
    ours = layer("amend: {repairs: {clean-it: {minutes: 9}}}\nretire: {rules: [nothing-such]}\n")
    with pytest.raises(KnowledgeError):
        load.load(base, [ours])
    assert load.load(base).repairs["clean-it"].minutes == 5


def test_a_new_area_says_what_it_rests_on(root: Path, tmp_path: Path) -> None:
    folder = tmp_path / "shop" / "areas"
    folder.mkdir(parents=True)
    (folder / "hats.yaml").write_text(
        "area: hats\ntitle: Hats\nabout: Felt and straw.\nsource: common-practice\n"
        "rules: {hat-off: {when: {finding: dc-on-pot}, then: [{advice: Take your hat off.}], because: it may burn}}\n"
    )
    base = load.load(root, [Layer("shop", "shop", tmp_path / "shop")])
    assert base.rests_on(base.areas["hats"], base.rules["hat-off"]) == ("common-practice",)
