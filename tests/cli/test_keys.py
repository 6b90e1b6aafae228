"""Steering words never swallow an answer."""

from __future__ import annotations

import pytest
from chopstick.cli.sitting.steering_words import KEYS, Key, Unclear, key_of


@pytest.mark.parametrize(
    ("typed", "answers", "key"),
    [
        ("why", ("yes", "no"), Key("why")),
        ("WHY ", ("yes", "no"), Key("why")),
        ("u", ("yes", "no"), Key("back")),
        ("undo", ("back", "gone"), Key("back")),  # where an answer is called so, the other word does it
        ("back", ("back", "gone"), None),
        ("w", ("worn", "whole"), None),  # the beginning of an answer comes before that of a key
        ("stop", ("stops", "stays"), Key("stop")),  # a key typed whole comes before the beginning of an answer
        ("stops", ("stops", "stays"), None),
        ("repair", ("repair", "leave"), None),  # an answer typed whole comes before all
        ("n", ("yes", "no"), None),
        ("not this amp", ("yes", "no"), Key("not this amp")),
        ("can't tell", (), Key("skip")),
        ("note it hums when touched", ("no", "yes"), Key("note", "it hums when touched")),
        ("again plate-volts", (), Key("again", "plate-volts")),
        ("?", ("yes", "no"), Key("?")),
        ("? cold joint", ("yes", "no"), Key("?", "cold joint")),
        ("h", ("yes", "no"), Key("help")),
        ("? Plate load", ("yes", "no"), Key("?", "Plate load")),
        ("?taper", (), Key("?", "taper")),
        ("462.5", (), None),
        ("4k7", (), None),
        ("-38V", (), None),
        ("OL", (), None),
        ("nonsense", (), None),
    ],
)
def test_what_is_a_key_and_what_an_answer(typed: str, answers: tuple[str, ...], key: Key | None) -> None:
    assert key_of(typed, answers) == key


def test_the_beginning_of_two_keys_is_asked_about() -> None:
    with pytest.raises(Unclear, match="not this amp or note"):
        key_of("not")


def test_every_key_can_be_typed_whole() -> None:
    assert all(key_of(word) == Key(word) for word in KEYS)
