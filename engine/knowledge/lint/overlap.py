"""Rules compared with each other: one that another makes idle, and two that say opposite things at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from ...reference.errors import Problem
from .. import model
from ..conditions import TooWide, Way, ways
from .frame import Look, lint
from .possible import Comparisons, comes_with, comparisons_of

_ONCE = {"conclude", "rule_out", "check_first", "skip", "hold", "advice", "prefer", "forbid"}  # twice says no more
_OPPOSITE = {
    "raise": ("lower", "rule_out"),
    "lower": ("raise",),
    "rule_out": ("raise",),
    "check_first": ("skip",),
    "skip": ("check_first",),
    "prefer": ("forbid",),
    "forbid": ("prefer",),
}


@dataclass(frozen=True)
class _Read:
    rule: model.Rule
    ways: tuple[Way, ...]
    compared: Comparisons

    def comes_with(self, other: _Read) -> bool:
        """Whether the other rule speaks whenever this one does."""
        return all(any(comes_with(way, self.compared, one, other.compared) for one in other.ways) for way in self.ways)


@lint("warning")
def rule_shadowed(look: Look) -> Iterator[Problem]:
    """Another rule speaks whenever this one does and says all of it already: this one changes nothing. Take it out,
    or narrow the other. (Odds are not counted: two rules that raise a cause raise it twice.)
    """
    read, saying = _read(look)
    for one in read:
        said = {(c.form, c.about) for c in one.rule.then}
        if not all(form in _ONCE for form, _ in said):
            continue
        for other in saying[min(said)]:
            if other is not one and said <= {(c.form, c.about) for c in other.rule.then} and one.comes_with(other):
                if other.comes_with(one) and other.rule.id > one.rule.id:
                    continue  # the two are alike: only the later is told
                message = f"says nothing that the rule '{other.rule.id}' ({other.rule.where}) does not say already"
                yield look.problem("rules", one.rule, (), message, key=True)
                break


@lint("warning")
def rule_contradiction(look: Look) -> Iterator[Problem]:
    """Two rules that speak together say opposite things: one raises a cause that the other lowers or rules out, one
    puts a check first that the other leaves out, one prefers a repair that the other forbids; or a rule concludes
    what its own condition has answered no. Decide which of them is right.
    """
    read, saying = _read(look)
    for one in read:
        for number, conclusion in enumerate(one.rule.then):
            place = ("then", number)
            if conclusion.conclude and any(f"denied:{conclusion.conclude}" in way.present for way in one.ways):
                yield look.problem("rules", one.rule, place, "concludes what its own condition has answered no")
            for against in _OPPOSITE.get(conclusion.form, ()):
                for other in saying.get((against, conclusion.about), ()):
                    if one.comes_with(other):
                        what = f"says '{conclusion.form}' of '{conclusion.about}', while the rule '{other.rule.id}'"
                        told = f"{what} ({other.rule.where}), which speaks whenever this one does, says '{against}'"
                        yield look.problem("rules", one.rule, place, told)


def _read(look: Look) -> tuple[list[_Read], dict[tuple[str, str], list[_Read]]]:
    """Every rule that can be run, and those that say each thing."""
    read: list[_Read] = []
    saying: dict[tuple[str, str], list[_Read]] = defaultdict(list)
    for rule in look.base.rules.values():
        try:
            one = _Read(rule, ways(rule.when), comparisons_of(rule.when))
        except TooWide:
            continue
        read.append(one)
        for said in {(c.form, c.about) for c in rule.then}:
            saying[said].append(one)
    return read, saying
