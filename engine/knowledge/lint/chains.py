"""Rules must be able to fire, and must not chase their own tails."""

from __future__ import annotations

from collections.abc import Iterator

from ...reference.errors import Problem
from .frame import Look, lint
from .meaning import asked


@lint("error")
def rule_cycle(look: Look) -> Iterator[Problem]:
    """Rules that conclude each other's conditions in a ring: what they say would rest on itself. Break the ring
    at the rule that states no new evidence.
    """
    base = look.base
    makers: dict[str, list[str]] = {}
    for rule in base.rules.values():
        for finding in {conclusion.conclude for conclusion in rule.then if conclusion.conclude}:
            makers.setdefault(finding, []).append(rule.id)
    after: dict[str, list[str]] = {}
    for rule in base.rules.values():
        rests_on = {maker for finding in asked(rule.when) for maker in makers.get(finding, ())}
        rests_on |= {leaf.spoken for leaf in rule.when.leaves() if leaf.spoken and leaf.spoken in base.rules}
        after[rule.id] = sorted(rests_on)
    for ring in _rings(after):
        rule = base.rules[ring[0]]
        path = " <- ".join([*ring, ring[0]])
        yield look.problem("rules", rule, (), f"rules rest on each other in a ring: {path}", key=True)


@lint("error")
def unknown_value(look: Look) -> Iterator[Problem]:
    """A rule that asks for a reading or figure its check does not have can never fire."""
    for rule in look.base.rules.values():
        for name in asked(rule.when):
            check_id, slash, value = name.partition("/")
            check = look.base.checks.get(check_id)
            if slash and check is not None and value not in {**check.readings, **check.figures}:
                names = ", ".join([*check.readings, *check.figures]) or "none"
                message, hint = f"'{check_id}' has no value '{value}'.", f"It has: {names}."
                yield look.problem("rules", rule, ("when",), message, hint)


def _rings(after: dict[str, list[str]]) -> Iterator[list[str]]:
    """One ring for each set of nodes that can reach each other (depth-first, iterative)."""
    done: set[str] = set()
    for start in sorted(after):
        path: list[str] = []
        stack: list[tuple[str, Iterator[str]]] = []
        if start in done:
            continue
        stack.append((start, iter(after[start])))
        path.append(start)
        while stack:
            node, rest = stack[-1]
            for following in rest:
                if following in path:
                    yield path[path.index(following) :]
                elif following not in done:
                    stack.append((following, iter(after[following])))
                    path.append(following)
                    break
            else:
                stack.pop()
                path.pop()
                done.add(node)
