"""The words that steer the bench, told apart from answers and readings."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

KEYS: dict[str, str] = {
    "why": "why this now, and what each outcome would mean",
    "skip": "can't tell; go on without it",
    "not this amp": "this amp has no such thing",
    "undo": "take back the last thing entered",
    "note": "keep a note: note TEXT",
    "again": "do a check once more: again CHECK",
    "repair": "a repair now, ahead of the checks",
    "where": "where the job stands: complaints, ranking, holds",
    "stop": "stop here; everything entered is kept",
    "?": "the words of the trade in what is on the screen; ? WORD explains one",
    "help": "these words",
}
WITH_TEXT = ("note", "again", "repair")


class Key(NamedTuple):
    word: str
    text: str = ""


class Unclear(ValueError):
    """The start of more than one word; the message names them."""


def key_of(typed: str, answers: Collection[str] = ()) -> Key | None:
    """The key that was typed, whole or by its beginning; None when it is meant as an answer.

    An answer typed whole comes first, then a key typed whole, then the beginning of an answer, then that of a key.
    Raises Unclear.
    """
    folded = " ".join(typed.lower().split())
    if folded == "h":
        return Key("help")
    if folded.startswith("?"):
        return Key("?", typed.strip()[1:].strip())
    if folded in ("can't tell", "cant tell", "can’t tell"):
        return Key("skip")
    if not folded or folded in (answer.lower() for answer in answers):
        return None
    first, _, rest = typed.strip().partition(" ")
    if folded in KEYS:
        return Key(folded)
    if first.lower() in WITH_TEXT and rest:
        return Key(first.lower(), rest.strip())
    if any(answer.lower().startswith(folded) for answer in answers) or not folded.replace(" ", "").isalpha():
        return None
    begun = [word for word in KEYS if word.startswith(folded)]
    if len(begun) > 1:
        raise Unclear(f"'{typed}' could be {' or '.join(begun)}; type a little more")
    return Key(begun[0]) if begun else None


def short_list() -> str:
    """The keys on one line."""
    return "keys: " + ", ".join(KEYS)
