"""Rules must be able to fire, and must not chase their own tails."""

from __future__ import annotations

from collections.abc import Iterator

from ..errors import Problem
from .frame import Look, lint
from .meaning import _asked


@lint("error")
def rule_cycle(look: Look) -> Iterator[Problem]:
    """Rules that conclude each other's conditions in a ring: what they say would rest on itself. Break the ring
    at the rule that states no new evidence.
    """
    base = look.base
    asks = {rule.id: set(_asked(rule.when)) for rule in base.rules.values()}
    gives = {rule.id: {c.conclude for c in rule.then if c.conclude} for rule in base.rules.values()}
    makers: dict[str, list[str]] = {}
    for id_, findings in gives.items():
        for finding in findings:
            makers.setdefault(finding, []).append(id_)
    after = {id_: sorted({m for f in asked for m in makers.get(f, ())}) for id_, asked in asks.items()}
    for ring in _rings(after):
        rule = base.rules[ring[0]]
        path = " <- ".join([*ring, ring[0]])
        yield look.problem("rules", rule, (), f"rules rest on each other in a ring: {path}", key=True)


@lint("error")
def unknown_value(look: Look) -> Iterator[Problem]:
    """A rule that asks for a reading or figure its check does not have can never fire."""
    for rule in look.base.rules.values():
        for name in _asked(rule.when):
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
