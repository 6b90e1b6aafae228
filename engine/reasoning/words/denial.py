"""What a sentence says is not there: 'no hum', "doesn't crackle any more", 'the reverb is fine'."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from .ideas import Idea

NO = frozenset(
    re.findall(
        r"\w+",
        """no not never without dont doesnt isnt arent wasnt werent didnt hasnt havent hadnt wont wouldnt cant couldnt
    aint neither nor zero hardly free nothing""",
    )
)
STOPPED = frozenset(("stopped", "stops", "quit"))
DENYING = NO | STOPPED | {"gone", "fixed", "cured", "disappeared", "went", "away", "go", "is", "anymore", "used"}
TROUBLE = "problem"
REACH = 4  # ideas and words that a no reaches over
OVER = (("gone",), ("went", "away"), ("go", "away"), ("no",), ("fixed",), ("is", "fixed"), ("disappeared",), ("cured",))
FINE = frozenset(re.findall(r"\w+", "fine ok okay good works work worked perfect quiet alright normal healthy great"))
ON_CONDITION = frozenset(
    re.findall(
        r"\w+",
        """until till unless when whenever if while once before after first as sometimes only then at with cold warm
    later touch touching turn but why how know stop just like past""",
    )
)


class Denied(NamedTuple):
    """kept: the ideas left; gone: those that are said not to be there. fine: the part says that something is well."""

    kept: tuple[Idea, ...]
    gone: tuple[Idea, ...] = ()
    fine: bool = False


def denied(words: Sequence[str], ideas: Sequence[Idea]) -> Denied:
    """The ideas of one part of a sentence, parted into what is there and what is not."""
    gone = tuple(idea for idea in ideas if idea.unwanted and _gone(words, idea, ideas))
    kept = tuple(idea for idea in ideas if idea not in gone and not (gone and _denies(words, idea)))
    if any(idea.name == TROUBLE for idea in gone):  # no problem with the reverb
        return Denied((), (*kept, *gone))
    well = not any(idea.unwanted for idea in kept) and _fine(words)
    return Denied(kept, gone, well)


def _denies(words: Sequence[str], idea: Idea) -> bool:
    """Whether an idea is only the word that denies another."""
    return all(word in DENYING for word in words[idea.at : idea.end])


def _gone(words: Sequence[str], idea: Idea, ideas: Sequence[Idea]) -> bool:
    before = words[max(0, idea.at - REACH - 1) : idea.at]
    after = words[idea.end :]
    if any(word in ("until", "till", "unless") for word in after):
        return False
    no = max((number for number, word in enumerate(before) if word in NO), default=None)
    if no is not None:
        between = before[no + 1 :]
        return not any(word in ("why", "how", "know", "stop", "when", "if", "normal", "get", "just", "only")
                       for word in between)  # fmt: skip
    if any(word in STOPPED for word in before[-1:]) or "used to" in " ".join(before):
        return not any(word in ("when", "if", "until") for word in words)
    return _over(words, idea, after, ideas)


def _over(words: Sequence[str], idea: Idea, after: Sequence[str], ideas: Sequence[Idea]) -> bool:
    """Whether it is said to be over: 'the hum is gone', with no condition under which it goes."""
    alone = all(one is idea or one.unwanted or one.name in ("dead", "fine") for one in ideas if one.end <= idea.end)
    if not alone or ON_CONDITION.intersection(words) or NO.intersection(word for word in after[:-1]):
        return False
    said = [word for word in after if word not in ("is", "are", "has", "have", "now", "problem", "all", "just", "it")]
    return any(tuple(said[: len(over)]) == over for over in OVER) and (said[:1] != ["no"] or len(said) == 1)


def _fine(words: Sequence[str]) -> bool:
    """Whether a part says that something is well: 'the reverb works'."""
    well = [number for number, word in enumerate(words) if word in FINE]
    if not well or ON_CONDITION.intersection(words):
        return False
    return not any(word in NO or word in ("longer", "too") for word in words[max(0, well[-1] - 3) : well[-1]])


def denials(part: Denied) -> Iterator[Idea]:
    """What a part denies: the ideas that are gone; what it calls well."""
    yield from part.gone
    if part.fine:
        yield from part.kept
