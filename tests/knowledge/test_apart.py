"""How well causes are told apart: worked by hand on a small base."""

import math
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.telling_apart import Pair, confirmed_at, named_inseparable, pairs
from chopstick.engine.knowledge.useless_checks import idle

from .conftest import AREA


def _pairs(root: Path, *changes: tuple[str, str]) -> tuple[Pair, ...]:
    text = AREA
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (root / "areas" / "knobs" / "pot.yaml").write_text(text)
    return pairs(load.load(root))


def test_dc_on_the_pot_parts_a_dirty_track_from_a_leaky_capacitor(root: Path) -> None:
    """Almost always (0.95) against hardly ever (0.02). With DC the odds shift 0.95 / 0.02 = 47.5 times one way, without
    0.98 / 0.05 = 19.6 times the other; the mean of the logarithms over both causes is half of 0.93 times their sum."""
    (pair,) = _pairs(root)
    assert (pair.one, pair.other, pair.stage) == ("track-dirty", "capacitor-leaky", "live")
    assert (pair.in_time.check, pair.in_time.finding, pair.in_time.words) == ("measure-it", "dc-on-pot", 5)
    assert pair.told_apart
    assert pair.ever.factor == pytest.approx(math.exp(0.93 * (math.log(47.5) + math.log(19.6)) / 2))


def test_a_check_that_comes_after_one_of_them_can_be_confirmed_does_not_count(root: Path) -> None:
    """Both blacken the track, which one sees with the plug out; the DC that parts them is measured later."""
    seen = "  look-at-it:\n    name: Look at the track\n    stage: look\n    minutes: 1\n    do: Look.\n    normal: Clean.\n"
    seen += '    ask: Is it black?\n    answers: {"yes": {findings: [track-black]}, "no": {}}\n'
    (pair,) = _pairs(
        root,
        ("findings:\n  dc", "findings:\n  track-black:\n    text: The track is black\n  dc"),
        ("  measure-it:", seen + "  measure-it:"),
        ("shows: {crackle: almost always}", "shows: {crackle: almost always, track-black: usually}"),
        ("dc-on-pot: almost always}", "dc-on-pot: almost always, track-black: often}"),
    )
    assert (pair.stage, pair.in_time.words, pair.told_apart) == ("look", 1, False)
    assert (pair.ever.check, pair.ever.enough) == ("measure-it", True)


def test_a_finding_that_is_mostly_the_doing_of_others_confirms_nothing(root: Path) -> None:
    (root / "areas" / "knobs" / "pot.yaml").write_text(AREA)
    assert confirmed_at(load.load(root)) == {"track-dirty": ("play", ""), "capacitor-leaky": ("live", "dc-on-pot")}
    rarer = AREA.replace("shows: {crackle: almost always}", "shows: {crackle: almost always, dc-on-pot: usually}")
    (root / "areas" / "knobs" / "pot.yaml").write_text(rarer)
    assert confirmed_at(load.load(root))["capacitor-leaky"] == ("play", "")


def test_causes_of_amps_of_two_kinds_are_no_pair(root: Path) -> None:
    found = _pairs(
        root,
        ("commonness: everyday", "commonness: everyday\n    needs: {bias: fixed}"),
        ("commonness: common\n", "commonness: common\n    needs: {bias: cathode}\n"),
    )
    assert found == ()


def test_named_pairs_are_every_two_of_the_causes(root: Path) -> None:
    named = "inseparable:\n  alike:\n    causes: [track-dirty, capacitor-leaky]\n    because: so it is\nrules:"
    _pairs(root, ("rules:", named))
    base = load.load(root)
    assert named_inseparable(base) == {frozenset(("track-dirty", "capacitor-leaky")): base.inseparable["alike"]}


def test_a_check_that_others_make_idle_is_named(root: Path) -> None:
    """A second, slower way of hearing the crackle; as a proof it would be wanted all the same."""
    slow = "  turn-it-twice:\n    name: Turn the knob for long\n    stage: play\n    minutes: 9\n    do: Turn it.\n"
    slow += '    normal: Silence.\n    cautions: [loud]\n    ask: Does it?\n    answers: {"yes": {findings: [crackle]}, "no": {}}\n'
    text = AREA.replace("  measure-it:", slow + "  measure-it:")
    (root / "areas" / "knobs" / "pot.yaml").write_text(text)
    assert [(one.check, one.instead) for one in idle(load.load(root))] == [("turn-it-twice", ("turn-it",))]
    (root / "areas" / "knobs" / "pot.yaml").write_text(text.replace("{check: turn-it, gone", "{check: turn-it-twice, gone"))
    assert list(idle(load.load(root))) == []
