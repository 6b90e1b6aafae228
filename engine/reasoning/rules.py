"""Forward chaining over named facts. The only module that imports durable_rules, and the fence around it.

Callers turn readings and conditions into named atoms first, because durable_rules loses or mixes up numbers. It
does the chaining; this module deals it rules and facts in portions it can bear, turns absence into facts of its
own (its negation depends on the order of facts), and checks every outcome against the rules before handing it on.
What is fenced out was measured on durable-rules 2.0.28: tests/reasoning/test_rules.py shows each limit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property, partial
from itertools import count
from typing import Any

Atom = str

_ABSENT = "absent:"  # how the absence of an atom is written, as a fact and in a firing's reason
_MOST_CONDITIONS = 16  # in one alternative; durable_rules fails at 17
_MOST_BRANCHES = 60  # in one rule set; a fact that wakes 65 comparisons at once fails
_MOST_ATOMS = 480  # in one rule set; durable_rules fails at 512 and never returns from 513 on
_MOST_ROUNDS = 1_000  # from rule set to rule set; no chain of conclusions in a knowledge base is that long
_MOST_SALTS = 8  # one retry has been enough for every clash seen


class RuleError(Exception):
    """The rules cannot be run, or were not run truly; the message is for people."""


@dataclass(frozen=True)
class Alternative:
    """One way of satisfying a rule: every atom of `present` known, and none of `absent`."""

    present: frozenset[Atom]
    absent: frozenset[Atom] = frozenset()


@dataclass(frozen=True)
class Rule:
    """Concludes every atom of `gives` when any one alternative of `when` holds. The name is unique."""

    name: str
    when: tuple[Alternative, ...]
    gives: tuple[Atom, ...]


@dataclass(frozen=True)
class Firing:
    """A rule that fired, the sorted atoms it fired on (absences as `absent:<atom>`) and what it concluded."""

    rule: str
    because: tuple[Atom, ...]
    gives: tuple[Atom, ...]


@dataclass(frozen=True)
class Outcome:
    """All that is told or concluded, and why: each rule that fired, once, resting only on told facts, on
    absences and on what the firings before it conclude. The order depends on the set of facts alone."""

    facts: frozenset[Atom]
    firings: tuple[Firing, ...]


@dataclass(frozen=True)
class _Branch:
    """One alternative of one rule: what durable_rules runs as a rule. It waits for the strata below `stratum`."""

    index: int
    rule: Rule
    when: Alternative
    stratum: int

    @cached_property
    def needs(self) -> tuple[Atom, ...]:
        return tuple(sorted({*self.when.present, *(_ABSENT + atom for atom in self.when.absent)}))


@dataclass
class _State:
    """What one durable state (a `sid` in every rule set) was told and has answered."""

    sid: int
    sound: bool = False  # the last run ended well, so the next may go on from here
    told: frozenset[Atom] = frozenset()
    known: set[Atom] = field(default_factory=set)
    assumed: set[Atom] = field(default_factory=set)  # told as absent
    fired: set[int] = field(default_factory=set)
    waiting: list[tuple[str, Atom]] = field(default_factory=list)  # rule set, and the fact to tell it


def strata(rules: Sequence[Rule]) -> Mapping[Atom, int]:
    """The stratum of every atom: an absence is safe to conclude from once all strata up to its atom's are done.

    Raises RuleError naming the circle when an atom hangs on an absence that hangs on the atom itself.
    """
    stratum: dict[Atom, int] = {}
    readers: dict[Atom, list[tuple[Rule, Alternative]]] = {}
    for rule in rules:
        stratum.update(dict.fromkeys(rule.gives, 0))
        for when in rule.when:
            for atom in when.present | when.absent:
                readers.setdefault(atom, []).append((rule, when))
    stratum |= dict.fromkeys(readers, 0)
    # No path without a circle passes more absences than there are conclusions.
    ceiling = len({atom for rule in rules for atom in rule.gives})
    source: dict[Atom, tuple[Atom, str]] = {}
    waiting = [(rule, when) for rule in rules for when in rule.when if when.absent]
    while waiting:
        rule, when = waiting.pop()
        need, atom, how = max(
            [(stratum[atom], atom, "") for atom in when.present]
            + [(stratum[atom] + 1, atom, "the absence of ") for atom in when.absent]
        )
        for given in rule.gives:
            if need > stratum[given]:
                stratum[given] = need
                source[given] = (atom, f"'{given}' needs {how}'{atom}' (rule {rule.name})")
                if need > ceiling:
                    raise RuleError(_circle(given, source))
                waiting.extend(readers.get(given, ()))
    return stratum


def _circle(atom: Atom, source: Mapping[Atom, tuple[Atom, str]]) -> str:
    trail: list[Atom] = []
    while atom not in trail:
        trail.append(atom)
        atom = source[atom][0]
    steps = "; ".join(source[step][1] for step in trail[trail.index(atom) :])
    return f"the rules run in a circle through an absence: {steps}. Take one of these conditions out"


def _faults(rules: Sequence[Rule]) -> Iterator[str]:
    for name, uses in Counter(rule.name for rule in rules).items():
        if uses > 1:
            yield f"rule {name}: {uses} rules have this name; give each its own"
    for rule in rules:
        yield from _bad_atoms(f"rule {rule.name}", rule.gives)
        for when in rule.when:
            yield from _bad_atoms(f"rule {rule.name}", when.present | when.absent)
            conditions = len(when.present) + len(when.absent)
            if conditions == 0:
                yield f"rule {rule.name}: an alternative without conditions always holds; give it one"
            if conditions > _MOST_CONDITIONS:
                yield (
                    f"rule {rule.name}: {conditions} conditions in one alternative, and {_MOST_CONDITIONS} is the "
                    "most; let another rule conclude some of them together"
                )


def _bad_atoms(where: str, atoms: Iterable[Atom]) -> Iterator[str]:
    for atom in atoms:
        if not isinstance(atom, str):
            yield f"{where}: {atom!r} is no name; turn it into a named fact first"
        elif atom.startswith(_ABSENT):
            yield f"{where}: '{atom}' begins with '{_ABSENT}', which is kept for absences"


def _refuse(faults: Iterable[str]) -> None:
    if found := sorted(set(faults)):
        raise RuleError("\n".join(found))


def _deal(branches: Iterable[_Branch]) -> Iterator[list[_Branch]]:
    """Deal branches, in their order, into portions that one durable rule set can bear."""
    portion: list[_Branch] = []
    atoms: set[Atom] = set()
    for branch in branches:
        if portion and (len(portion) == _MOST_BRANCHES or len(atoms.union(branch.needs)) > _MOST_ATOMS):
            yield portion
            portion, atoms = [], set()
        portion.append(branch)
        atoms.update(branch.needs)
    if portion:
        yield portion


@cache
def _host() -> Any:
    """The durable host: the one piece of process state, since rule sets live in C until the process ends.

    Its timer threads (`_run`) could snatch an action from the thread that waits for it; nothing here needs them.
    """
    from durable.engine import Host

    return type("QuietHost", (Host,), {"_run": lambda _self: None, "numbers": count()})()


def _assert(assert_fact: Callable[[dict[str, str | int]], Any], atom: Atom, sid: int) -> Any:
    from durable.engine import MessageObservedException

    for salt in range(_MOST_SALTS):
        try:
            return assert_fact({"atom": atom, "sid": str(sid), "salt": salt})
        except MessageObservedException:  # our own record lets nothing through twice: this is a hash clash
            continue
    raise RuleError(f"durable_rules refuses the fact '{atom}' as a repeat, however it is salted")


class Chainer:
    """Runs one list of rules, in one thread; raises RuleError at once for rules that cannot be run.

    durable_rules is imported, and the rules compiled, at the first run only.
    """

    def __init__(self, rules: Sequence[Rule]) -> None:
        _refuse(_faults(rules))
        stratum = strata(rules)
        pairs = ((rule, when) for rule in rules for when in rule.when)
        self._branches = tuple(
            _Branch(index, rule, when, max((stratum[atom] + 1 for atom in when.absent), default=0))
            for index, (rule, when) in enumerate(pairs)
        )
        self._strata = range(1 + max((branch.stratum for branch in self._branches), default=0))
        self._state = _State(sid=0)

    def run(self, facts: Iterable[Atom]) -> Outcome:
        """All that follows from a set of facts: a pure function of that set, as seen from outside.

        Facts added since the last run are told alone. A fact taken away, or one that ends an absence relied on,
        costs a fresh durable state, whose memory never comes back: batches belong in worker processes. Raises
        RuleError when durable_rules fails, or fires other rules than the facts call for.
        """
        told = frozenset(facts)
        _refuse(_bad_atoms(told, "facts"))
        if not (self._state.sound and told >= self._state.told and self._chain(told)):
            self._state = _State(self._state.sid + 1)
            if not self._chain(told):
                ended = ", ".join(sorted(self._state.known & self._state.assumed))
                raise RuleError(
                    f"told as absent, yet concluded afterwards: {ended}. This is a fault in chopstick"
                )
        outcome = self._account()
        self._state.sound = True
        return outcome

    def _chain(self, told: frozenset[Atom]) -> bool:
        """Tell the state what is new and let durable_rules conclude; false if an absence told has ended."""
        state = self._state
        state.sound, state.told = False, told
        self._learn(told)
        for stratum in self._strata:
            self._carry()
            while absences := self._absences(stratum):
                state.assumed |= absences
                self._pass_on(sorted(_ABSENT + atom for atom in absences))
                self._carry()
        return not state.known & state.assumed

    def _absences(self, stratum: int) -> set[Atom]:
        """Absences that may be told in this stratum and matter now, so that as few as possible can end later."""
        state = self._state
        ready = (b.when for b in self._branches if b.stratum <= stratum and b.when.present <= state.known)
        return {atom for when in ready for atom in when.absent} - state.known - state.assumed

    def _learn(self, atoms: Iterable[Atom], inside: str = "") -> list[Atom]:
        """Record atoms and pass the new ones on to the rule sets other than `inside`; return the new ones."""
        new = sorted(set(atoms) - self._state.known)
        self._state.known.update(new)
        self._pass_on(new, inside)
        return new

    def _pass_on(self, facts: Iterable[Atom], inside: str = "") -> None:
        readers = ((name, fact) for fact in facts for name in self._readers.get(fact, ()))
        self._state.waiting.extend((name, fact) for name, fact in readers if name != inside)

    def _carry(self) -> None:
        """Carry facts from rule set to rule set until nothing is new."""
        state = self._state
        for _ in range(_MOST_ROUNDS):
            if not state.waiting:
                return
            facts, state.waiting = state.waiting, []
            for name, fact in facts:
                self._tell(name, fact)
        left = ", ".join(sorted({fact for _, fact in state.waiting}))
        raise RuleError(f"the rules still conclude something new after {_MOST_ROUNDS} rounds, last: {left}")

    def _tell(self, name: str, fact: Atom) -> None:
        try:
            reply = _assert(partial(_host().assert_fact, name), fact, self._state.sid)
        except MemoryError as error:
            raise RuleError("durable_rules has no room for another state; start a new process") from error
        except RuleError:
            raise
        except Exception as error:  # durable_rules raises nothing more exact
            raise RuleError(f"durable_rules cannot take the fact '{fact}': {error}") from error
        if reply and "exception" in reply:
            raise RuleError(f"a rule broke on the fact '{fact}': {reply['exception']}")

    @cached_property
    def _readers(self) -> Mapping[Atom, Sequence[str]]:
        """The rule sets that mention each fact. Asked for first in the first run, it registers them."""
        readers: dict[Atom, list[str]] = {}
        for portion in _deal(self._branches):
            name = f"chopstick-{next(_host().numbers)}"
            _host().register_rulesets(
                {name: {f"r{branch.index}": self._compiled(branch, name) for branch in portion}}
            )
            for fact in {fact for branch in portion for fact in branch.needs}:
                readers.setdefault(fact, []).append(name)
        return readers

    def _compiled(self, branch: _Branch, name: str) -> dict[str, Any]:
        def conclude(
            closure: Any,
        ) -> None:  # exactly one parameter, or durable_rules takes it as asynchronous
            self._state.fired.add(branch.index)
            for atom in self._learn(branch.rule.gives, inside=name):
                if name in self._readers.get(atom, ()):
                    _assert(closure.assert_fact, atom, self._state.sid)

        return {"all": [{f"c{i}": {"atom": fact}} for i, fact in enumerate(branch.needs)], "run": conclude}

    def _account(self) -> Outcome:
        """Order the firings by stratum and length of derivation, and check that durable_rules missed none."""
        state = self._state
        holding = [
            branch
            for branch in self._branches
            if branch.when.present <= state.known and not branch.when.absent & state.known
        ]
        if wrong := {branch.index for branch in holding} ^ state.fired:
            names = sorted({self._branches[index].rule.name for index in wrong})
            raise RuleError(f"durable_rules fired other rules than the facts call for: {', '.join(names)}")
        reached = set(state.told)
        firings: dict[str, Firing] = {}
        for stratum in self._strata:
            while ready := [
                branch
                for branch in holding
                if branch.stratum <= stratum
                and branch.rule.name not in firings
                and branch.when.present <= reached
            ]:
                for branch in ready:
                    rule = branch.rule
                    firings.setdefault(rule.name, Firing(rule.name, branch.needs, rule.gives))
                    reached.update(rule.gives)
        if reached != state.known:
            raise RuleError(f"concluded without a reason: {', '.join(sorted(state.known - reached))}")
        return Outcome(frozenset(reached), tuple(firings.values()))
