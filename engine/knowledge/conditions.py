"""What a rule's condition comes to: the ways of meeting it as sets of named yes/no facts, and whether it is met.

A plain condition becomes one atom, a text: `finding:ID` or `denied:ID`, which answers and other rules settle;
`spoken:RULE`; or a comparison, which is decided on the facts at hand. A condition that can't be decided yet is met
neither as it stands nor the other way round.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from .base import holds_true
from .entry import AmpValue
from .rule_model import Condition, Other

MOST_WAYS = 64  # of meeting one rule's condition
MOST_FACTS = 16  # in one way; the chainer fails at 17


class TooWide(ValueError):
    """A condition can be met in more ways, or asks for more at once, than can be run; the text is for people."""


@dataclass(frozen=True)
class Way:
    """One way of meeting a condition: every atom of `present`, and none of `absent`."""

    present: frozenset[str]
    absent: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Situation:
    """What is known when a condition is judged. known: findings and symptoms, true or denied. answers: answer key by
    check. values: by CHECK/NAME. since: minutes by check/ID and the like. spoken: rules that have spoken."""

    amp: Mapping[str, AmpValue] = field(default_factory=dict)
    complaints: frozenset[str] = frozenset()
    known: Mapping[str, bool] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, float] = field(default_factory=dict)
    since: Mapping[str, float] = field(default_factory=dict)
    spoken: frozenset[str] = frozenset()


def ways(condition: Condition, wanted: bool = True) -> tuple[Way, ...]:
    """Every way in which a condition can be met (or, with wanted false, be known not to be).

    Raises TooWide beyond MOST_WAYS, before it costs anything, and for more than MOST_FACTS at once.
    """
    found = tuple(dict.fromkeys(_ways(condition, wanted)))
    for way in found:
        if len(way.present) + len(way.absent) > MOST_FACTS:
            raise TooWide(f"asks for more than {MOST_FACTS} things at once; let another rule conclude some together")
    return found


def _ways(condition: Condition, wanted: bool) -> list[Way]:
    if condition.negated is not None:
        return _ways(condition.negated, not wanted)
    if parts := condition.parts():
        return _combined(condition, parts, wanted)
    if condition.unknown is not None:
        known = frozenset({f"finding:{condition.unknown}", f"denied:{condition.unknown}"})
        return [Way(frozenset(), known)] if wanted else [Way(frozenset({atom})) for atom in sorted(known)]
    if condition.spoken is not None:
        spoken = frozenset({f"spoken:{condition.spoken}"})
        return [Way(spoken) if wanted else Way(frozenset(), spoken)]
    return [Way(frozenset({atom(condition, wanted)}))]


def _combined(condition: Condition, parts: tuple[Condition, ...], wanted: bool) -> list[Way]:
    """`least` of the parts, each met as `part_wanted` says: all and any are counts too."""
    least, part_wanted = count_wanted(condition, len(parts), wanted)
    if least <= 0:
        return [Way(frozenset())]
    if least > len(parts):
        return []
    if math.comb(len(parts), least) > MOST_WAYS:
        raise TooWide(f"can be met in more than {MOST_WAYS} ways; split it into several rules")
    each = [_ways(part, part_wanted) for part in parts]
    found: list[Way] = []
    for chosen in itertools.combinations(each, least):
        if len(found) + math.prod(len(one) for one in chosen) > MOST_WAYS:
            raise TooWide(f"can be met in more than {MOST_WAYS} ways; split it into several rules")
        for together in itertools.product(*chosen):
            present = frozenset().union(*(way.present for way in together))
            absent = frozenset().union(*(way.absent for way in together))
            found.append(Way(present, absent))
    return found


def count_wanted(condition: Condition, parts: int, wanted: bool) -> tuple[int, bool]:
    """How many of its parts a combination needs, and whether they must be met or known not to be."""
    if condition.all is not None:
        least, met = parts, True
    elif condition.any is not None:
        least, met = 1, True
    elif condition.at_least is not None:
        least, met = condition.at_least, True
    else:
        least, met = parts - (condition.at_most or 0), False
    return (least, met) if wanted else (parts - least + 1, not met)


def comparisons(condition: Condition, wanted: bool = True) -> Iterator[tuple[str, Condition, bool]]:
    """Every comparison a condition makes: the atom that stands for it, the plain condition, and which way."""
    if condition.negated is not None:
        yield from comparisons(condition.negated, not wanted)
    elif parts := condition.parts():
        met = count_wanted(condition, len(parts), wanted)[1]
        for part in parts:
            yield from comparisons(part, met)
    elif is_comparison(condition):
        yield atom(condition, wanted), condition, wanted


def is_comparison(condition: Condition) -> bool:
    """Whether a plain condition is decided on the facts of the log, not by what rules conclude."""
    compared = (condition.complaint, condition.answer, condition.amp, condition.value, condition.since)
    return any(form is not None for form in compared)


def met(condition: Condition, now: Situation, wanted: bool = True) -> bool:
    """Whether a condition is met (or, with wanted false, known not to be) in a situation."""
    if condition.negated is not None:
        return met(condition.negated, now, not wanted)
    if parts := condition.parts():
        least, part_wanted = count_wanted(condition, len(parts), wanted)
        return sum(met(part, now, part_wanted) for part in parts) >= least
    if condition.finding is not None or condition.denied is not None:
        named = condition.finding or condition.denied or ""
        return now.known.get(named) is ((condition.finding is not None) == wanted)
    if condition.unknown is not None:
        return (condition.unknown not in now.known) is wanted
    if condition.spoken is not None:
        return (condition.spoken in now.spoken) is wanted
    return passes(condition, wanted, now)


def passes(leaf: Condition, wanted: bool, now: Situation) -> bool:
    """Whether a comparison comes out as wanted. One that can't be made yet passes neither way."""
    if leaf.complaint is not None:
        return (leaf.complaint in now.complaints) is wanted
    if leaf.answer is not None:
        given = now.answers.get(leaf.answer)
        return given is not None and (given in _listed(leaf.is_)) is wanted
    if leaf.amp is not None:
        return holds_true(leaf.amp, now.amp) is wanted
    value = now.values.get(leaf.value) if leaf.value is not None else now.since.get(leaf.since or "")
    above, below = (_bound(bound, now) for bound in (leaf.above, leaf.below))
    if value is None or above is None or below is None:
        return False
    return ((leaf.above is None or value > above) and (leaf.below is None or value < below)) is wanted


def _bound(bound: float | Other | None, now: Situation) -> float | None:
    """A bound as a number (0 for none at all, which nobody looks at); None when it is not known yet."""
    if not isinstance(bound, Other):
        return bound or 0.0
    value = now.values.get(bound.value)
    return None if value is None else value * bound.times + bound.plus


def _listed(words: str | tuple[str, ...] | None) -> tuple[str, ...]:
    return words if isinstance(words, tuple) else () if words is None else (words,)


def atom(leaf: Condition, wanted: bool = True) -> str:
    """The name of a plain condition as a yes/no fact; for a comparison it reads as a sentence."""
    no = "" if wanted else "not "
    if leaf.finding is not None or leaf.denied is not None:
        return f"{'finding' if (leaf.finding is not None) == wanted else 'denied'}:{leaf.finding or leaf.denied}"
    if leaf.complaint is not None:
        return f"complaint:{no}{leaf.complaint}"
    if leaf.answer is not None:
        return f"answer:{leaf.answer} {no}answered {' or '.join(_listed(leaf.is_))}"
    if leaf.amp is not None:
        return f"amp:{no}{', '.join(f'{fact} {_values(value)}' for fact, value in leaf.amp.items())}"
    bounds = [f"{word} {_spoken(bound)}" for word, bound in (("above", leaf.above), ("below", leaf.below))
              if bound is not None]  # fmt: skip
    if leaf.since is not None:
        return f"since:minutes since {leaf.since.replace('/', ' ')} {no}{' and '.join(bounds)}"
    return f"value:{leaf.value} {no}{' and '.join(bounds)}"


def _spoken(bound: float | Other) -> str:
    if not isinstance(bound, Other):
        return _number(bound)
    times = "" if bound.times == 1 else f"{_number(bound.times)} times "
    plus = "" if bound.plus == 0 else f" {'+' if bound.plus > 0 else '-'} {_number(abs(bound.plus))}"
    return f"{times}{bound.value}{plus}"


def _number(number: float) -> str:
    """To the last digit, since two comparisons that differ must not share a name."""
    return repr(number).removesuffix(".0")


def _values(value: object) -> str:
    parts: Iterable[object] = value if isinstance(value, tuple) else (value,)
    return " or ".join(map(str, parts))
