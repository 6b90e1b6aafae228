"""The words that steer the bench, told apart from answers and readings."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

KEYS: dict[str, str] = {
    "back": "take back the last thing entered, and be asked it again (also: undo)",
    "skip": "can't tell; go on without it",
    "not this amp": "this amp has no such thing",
    "why": "why this now, and what else would be worth doing",
    "more": "the rest of what there is to see here (Enter does the same)",
    "caution": "the cautions of this step, in full",
    "?": "the words of the trade on this page, explained; ? WORD for one word",
    "note": "keep a note: note TEXT",
    "photo": "keep a photograph: photo FILE WHAT IT SHOWS",
    "again": "measure or look once more: again for the last check, again CHECK for another",
    "check": "another check now, by its name or id: check NAME",
    "gone": "a complaint that is gone: gone NAME",
    "amp": "something about the amp: amp FACT=VALUE",
    "complaint": "a further complaint, in the player's words: complaint TEXT",
    "withdraw": "take back a complaint that was not meant: withdraw, or withdraw NUMBER",
    "circuit": "choose the circuit it is built to, or change it: circuit NAME",
    "repair": "a repair now, ahead of the checks",
    "where": "where the job stands: complaints, ranking, holds",
    "stop": "stop here; everything entered is kept",
    "help": "these words",
}
WITH_TEXT = (
    "note", "photo", "again", "check", "complaint", "gone", "withdraw", "amp", "repair", "circuit", "?",
)  # fmt: skip
ALSO = {"undo": "back", "h": "help", "can't tell": "skip", "cant tell": "skip", "can’t tell": "skip"}
SHORT = ("back", "skip", "why", "more", "?", "note", "photo", "again", "stop", "help")  # on every page


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
    if not folded or folded in ("yes", "no", "y", "n") or folded in (answer.lower() for answer in answers):
        return None
    if folded in ALSO:
        return Key(ALSO[folded])
    if folded in KEYS:
        return Key(folded)
    if folded.startswith("?"):
        return Key("?", typed.strip()[1:].strip())
    first, _, rest = typed.strip().partition(" ")
    if first.lower() in WITH_TEXT and rest:
        return Key(first.lower(), rest.strip())
    if any(answer.lower().startswith(folded) for answer in answers) or not folded.replace(" ", "").isalpha():
        return None
    begun = list(dict.fromkeys(ALSO.get(word, word) for word in (*KEYS, "undo") if word.startswith(folded)))
    if len(begun) > 1:
        raise Unclear(f"'{typed}' could be {' or '.join(begun)}; type a little more")
    return Key(begun[0]) if begun else None


def shown(answers: Collection[str] = ()) -> tuple[str, ...]:
    """The keys named on a page; one that is also an answer there goes by its other name."""
    other = {word: also for also, word in ALSO.items() if also.isalpha() and len(also) > 1}
    named = (other.get(word, "") if word in answers else word for word in SHORT)
    return tuple(word for word in named if word)
