"""Forward chaining over named facts. The only module that imports durable_rules, and the fence around it.

Callers turn readings and conditions into named atoms first, because durable_rules loses or mixes up numbers. It
does the chaining; this module deals it rules and facts in portions it can bear, turns absence into facts of its
own (its negation depends on the order of facts), and checks every outcome against the rules before handing it on.
What is fenced out was measured on durable-rules 2.0.28: tests/reasoning/test_rules.py shows each limit.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property, partial
from itertools import count
from typing import Any

from ..late import late

with late():
    from durable import engine

Atom = str
_Fact = dict[str, str | int]  # as durable_rules takes it

_ABSENT = "absent:"  # how the absence of an atom is written, as a fact and in a firing's reason
_MOST_CONDITIONS = 16  # in one alternative; durable_rules fails at 17
_MOST_BRANCHES = 30  # in one rule set: 480 atoms at most; durable_rules fails or hangs from 512 on
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
class ChainedRule:
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
    rule: ChainedRule
    when: Alternative
    stratum: int

    @cached_property
    def needs(self) -> tuple[Atom, ...]:
        return tuple(sorted({*self.when.present, *(_ABSENT + atom for atom in self.when.absent)}))


@dataclass
class _State:
    """What one durable state (one `sid` in every rule set) was told and has answered."""

    sid: int
    sound: bool = False  # the last run ended well, so the next may go on from here
    told: frozenset[Atom] = frozenset()
    known: set[Atom] = field(default_factory=set)  # told, concluded, or told as absent
    fired: set[int] = field(default_factory=set)
    waiting: list[tuple[str, Atom]] = field(default_factory=list)  # rule set, and the fact to tell it
    entered: list[tuple[str, _Fact]] = field(default_factory=list)  # rule set, and the fact as it was told


def strata(rules: Sequence[ChainedRule]) -> Mapping[Atom, int]:
    """The stratum of every atom: its absence can be told for sure once all strata up to its own are complete.

    Raises RuleError naming the circle when an atom hangs on an absence that hangs on the atom itself.
    """
    ways = [(rule, when) for rule in rules for when in rule.when]
    readers: dict[Atom, list[tuple[ChainedRule, Alternative]]] = defaultdict(list)
    for rule, when in ways:
        for atom in when.present | when.absent:
            readers[atom].append((rule, when))
    stratum = dict.fromkeys([*readers, *(atom for rule in rules for atom in rule.gives)], 0)
    source: dict[Atom, tuple[Atom, str]] = {}
    waiting = [(rule, when) for rule, when in ways if when.absent]
    while waiting:
        rule, when = waiting.pop()
        present = ((stratum[atom], atom, "") for atom in when.present)
        absent = ((stratum[atom] + 1, atom, "the absence of ") for atom in when.absent)
        need, atom, how = max((*present, *absent))
        for given in rule.gives:
            if need > stratum[given]:
                stratum[given] = need
                source[given] = atom, f"'{given}' needs {how}'{atom}' (rule {rule.name})"
                if need > len(stratum):  # more absences than atoms: the way here has passed itself
                    trail = [given]
                    while (atom := source[trail[-1]][0]) not in trail:
                        trail.append(atom)
                    circle = "; ".join(source[step][1] for step in trail[trail.index(atom) :])
                    raise RuleError(f"rules run in a circle through an absence: {circle}. Drop one of these")
                waiting += readers[given]
    return stratum


def _faults(rules: Sequence[ChainedRule]) -> Iterator[str]:
    for name, uses in Counter(rule.name for rule in rules).items():
        if uses > 1:
            yield f"rule {name}: {uses} rules have this name; give each its own"
    for rule in rules:
        yield from _bad_atoms(f"rule {rule.name}", rule.gives)
        for when in rule.when:
            yield from _bad_atoms(f"rule {rule.name}", (*when.present, *when.absent))
            conditions = len(when.present) + len(when.absent)
            if not 0 < conditions <= _MOST_CONDITIONS:
                yield (
                    f"rule {rule.name}: an alternative has {conditions} conditions, and may have 1 to "
                    f"{_MOST_CONDITIONS}; let another rule conclude some of them together"
                )


def _bad_atoms(where: str, atoms: Iterable[Atom]) -> Iterator[str]:
    for atom in atoms:
        if not isinstance(atom, str) or atom.startswith(_ABSENT):
            yield f"{where}: {atom!r} is no atom; it must be a text, and not begin with '{_ABSENT}'"


def _refuse(faults: Iterable[str]) -> None:
    if found := sorted(set(faults)):
        raise RuleError("\n".join(found))


@cache
def _host() -> Any:
    """The durable host: the one piece of process state, since rule sets live in C until the process ends.

    Its timer threads (`_run`) could snatch an action from the thread that waits for it; nothing here needs them.
    """
    return type("QuietHost", (engine.Host,), {"_run": lambda _self: None, "numbers": count()})()


def _assert(assert_fact: Callable[[_Fact], Any], atom: Atom, sid: int) -> tuple[_Fact, Any]:
    """The fact as it was told, and the reply."""
    for salt in range(_MOST_SALTS):
        fact: _Fact = {"atom": atom, "sid": str(sid), "salt": salt}
        try:
            return fact, assert_fact(fact)
        except engine.MessageObservedException:  # our own record lets nothing through twice: this is a hash clash
            continue
    raise RuleError(f"durable_rules takes the fact '{atom}' for a repeat, however it is salted")


class Chainer:
    """Runs one list of rules, in one thread; raises RuleError at once for rules that cannot be run.

    durable_rules is imported, and the rules compiled, at the first run only.
    """

    def __init__(self, rules: Sequence[ChainedRule]) -> None:
        _refuse(_faults(rules))
        stratum = strata(rules)
        ways = ((rule, when) for rule in rules for when in rule.when)
        self._branches = tuple(
            _Branch(index, rule, when, max((stratum[atom] + 1 for atom in when.absent), default=0))
            for index, (rule, when) in enumerate(ways)
        )
        self._strata = range(1 + max((branch.stratum for branch in self._branches), default=0))
        self._state = _State(sid=0)

    def run(self, facts: Iterable[Atom]) -> Outcome:
        """All that follows from a set of facts: a pure function of that set, as seen from outside.

        Facts added since the last run are told alone. When a fact is taken away, or one ends an absence relied on,
        all are taken back and told anew. Raises RuleError when durable_rules fails, or fires other rules than the
        facts call for.
        """
        told = frozenset(facts)
        _refuse(_bad_atoms("facts", told))
        sound = self._state.sound
        if not (sound and told >= self._state.told and self._chain(told)):
            self._begin_again(sound)
            self._chain(told)
        outcome = self._account()
        self._state.sound = True
        return outcome

    def _begin_again(self, sound: bool) -> None:
        """Empty the durable state, so that its memory serves again; only one that is broken is left behind for a
        fresh one, since no memory ever comes back and there is room for 1,024."""
        sid = self._state.sid
        if sound:
            for name, fact in reversed(self._state.entered):
                _host().retract_fact(name, fact)
        else:
            sid += 1
        self._state = _State(sid)

    def _chain(self, told: frozenset[Atom]) -> bool:
        """Tell the state what is new and let durable_rules conclude; false if an absence told has ended."""
        state = self._state
        state.sound, state.told = False, told
        self._record(told)
        for stratum in self._strata:
            self._carry()
            while self._record(self._absences(stratum)):
                self._carry()
        return not any(_ABSENT + atom in state.known for atom in state.known)

    def _absences(self, stratum: int) -> set[Atom]:
        """The absences sure in this stratum, and only where they matter now: the fewer are told, the fewer end."""
        known = self._state.known
        ready = (b.when for b in self._branches if b.stratum <= stratum and b.when.present <= known)
        return {_ABSENT + atom for when in ready for atom in when.absent - known}

    def _record(self, facts: Iterable[Atom], inside: str = "") -> list[Atom]:
        """Enter facts as known; have the new ones carried to the rule sets other than `inside`; return them."""
        new = sorted(set(facts) - self._state.known)
        self._state.known.update(new)
        readers = ((name, fact) for fact in new for name in self._readers.get(fact, ()))
        self._state.waiting += [(name, fact) for name, fact in readers if name != inside]
        return new

    def _carry(self) -> None:
        """Carry facts from rule set to rule set until nothing is new."""
        for _ in range(_MOST_ROUNDS):
            facts, self._state.waiting = self._state.waiting, []
            if not facts:
                return
            for name, fact in facts:
                self._tell(name, fact)
        left = ", ".join(sorted({fact for _, fact in self._state.waiting}))
        raise RuleError(f"the rules still conclude something new after {_MOST_ROUNDS} rounds, last: {left}")

    def _tell(self, name: str, fact: Atom) -> None:
        try:
            entered, reply = _assert(partial(_host().assert_fact, name), fact, self._state.sid)
        except MemoryError as error:
            raise RuleError("durable_rules has no room for another state; start a new process") from error
        except Exception as error:  # durable_rules raises nothing more exact
            raise RuleError(f"the rules cannot take the fact '{fact}': {error}") from error
        self._state.entered.append((name, entered))
        if reply and "exception" in reply:  # durable_rules swallows what an action raises
            raise RuleError(f"a rule broke on the fact '{fact}': {reply['exception']}")

    @cached_property
    def _readers(self) -> Mapping[Atom, Sequence[str]]:
        """The rule sets that mention each fact; they are made when this is first asked for, in the first run."""
        readers: dict[Atom, list[str]] = defaultdict(list)
        for start in range(0, len(self._branches), _MOST_BRANCHES):
            portion = self._branches[start : start + _MOST_BRANCHES]
            name = f"chopstick-{next(_host().numbers)}"
            compiled = {f"branch-{branch.index}": self._compiled(branch, name) for branch in portion}
            _host().register_rulesets({name: compiled})
            for fact in {fact for branch in portion for fact in branch.needs}:
                readers[fact].append(name)
        return readers

    def _compiled(self, branch: _Branch, name: str) -> dict[str, Any]:
        def conclude(closure: Any) -> None:  # one parameter; an action with two is never waited for
            self._state.fired.add(branch.index)
            for atom in self._record(branch.rule.gives, inside=name):
                if name in self._readers.get(atom, ()):
                    entered, _ = _assert(closure.assert_fact, atom, self._state.sid)
                    self._state.entered.append((name, entered))

        return {"all": [{f"c{i}": {"atom": fact}} for i, fact in enumerate(branch.needs)], "run": conclude}

    def _account(self) -> Outcome:
        """Order the firings by stratum and length of derivation; check that durable_rules missed or added none."""
        state, reached = self._state, set(self._state.told)
        due = [b for b in self._branches if b.when.present <= state.known and not b.when.absent & state.known]
        firings: dict[str, Firing] = {}
        founded: set[int] = set()
        for stratum in self._strata:
            open_to = [branch for branch in due if branch.stratum <= stratum]
            while ready := [b for b in open_to if b.index not in founded and b.when.present <= reached]:
                for branch in ready:
                    rule = branch.rule
                    firings.setdefault(rule.name, Firing(rule.name, branch.needs, rule.gives))
                    reached.update(rule.gives)
                    founded.add(branch.index)
        if wrong := {self._branches[index].rule.name for index in founded ^ state.fired}:
            raise RuleError(f"durable_rules fired other rules than it should: {', '.join(sorted(wrong))}")
        return Outcome(frozenset(reached), tuple(firings.values()))
