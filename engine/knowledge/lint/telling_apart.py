"""Causes that look alike must be told apart, or be named as inseparable."""

from __future__ import annotations

from collections.abc import Iterator

from ...reference.errors import Problem
from ..telling_apart import WORDS_APART, named_inseparable, pairs
from .frame import Look, lint


@lint("warning")
def not_told_apart(look: Look) -> Iterator[Problem]:
    """Two causes share a symptom, and before the first of them can be confirmed no check settles a finding that one of
    them shows at least two how-often words more often than the other: the engine would have to guess. Correct what they
    show, add a check that separates them (something one would really do), make one cause of the two, or name them under
    `inseparable` with the reason. A cause is confirmed by a finding that it usually shows and that is its doing in at
    least half of the amps that show it.
    """
    named = named_inseparable(look.base)
    for pair in pairs(look.base):
        if pair.told_apart:
            break
        if frozenset((pair.one, pair.other)) not in named:
            message = f"nothing up to stage '{pair.stage}' tells it apart from '{pair.other}'"
            later = f"'{pair.ever.check}' does, but later." if pair.ever.enough else ""
            yield look.problem("causes", look.base.causes[pair.one], ("shows",), message, later, key=True)


@lint("warning")
def separable_after_all(look: Look) -> Iterator[Problem]:
    """Causes that `inseparable` names though a check tells them apart in time, or though they share no symptom: the
    entry says what is not so. Take it out, or narrow it.
    """
    found = {frozenset((pair.one, pair.other)): pair for pair in pairs(look.base)}
    for two, entry in named_inseparable(look.base).items():
        one, other = sorted(two) if len(two) > 1 else (*two, *two)
        pair = found.get(two)
        if pair is None and {one, other} <= look.base.causes.keys():
            message = f"'{one}' and '{other}' share no symptom on any one amp"
        elif pair is not None and pair.told_apart:
            how = f"'{pair.in_time.check}' tells '{one}' and '{other}' apart"
            message = f"{how} ({pair.in_time.words} words of how often; {WORDS_APART} are enough)"
        else:
            continue
        yield look.problem("inseparable", entry, ("causes",), message)
