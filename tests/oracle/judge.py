"""Each step judged: what is entered, after what was entered before it, and what is about to be offered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase, holds_true
from chopstick.engine.reasoning.deduce import Deducer, Deduction
from chopstick.engine.reasoning.facts import Facts, gather
from chopstick.engine.reasoning.log import (
    CANT_TELL,
    Answer,
    HoldAnswered,
    Log,
    LogEntry,
    Reading,
    chosen_circuit,
    standing,
    taken_back,
)
from chopstick.engine.reasoning.session import Session, Standing

from .amp import Amp, checks_told, hands_of, move_to, power_for, stands, volts_missing, work_of
from .danger import Danger, Dangers

BEFORE_POWER = "untold/before-power"  # all that is due before power, taken on at once
ASKED_AT_RARE_AMPS = frozenset({"kit-built"})  # of an amp that is not known to be one, nothing is asked of its kind


@dataclass(frozen=True)
class Breach:
    """entry: its number in the log; that of the next entry for a step that is offered. kind: what is broken."""

    entry: int
    about: str
    kind: str
    why: str

    def __str__(self) -> str:
        return f"entry {self.entry}, {self.about}: {self.kind}: {self.why}"


class Oracle:
    """Judges logs on one session's knowledge base and the circuits it knows."""

    def __init__(self, session: Session, deducer: Deducer | None = None) -> None:
        self._session = session
        self._deducer = deducer or Deducer(session.base)
        self._dangers: dict[int, tuple[KnowledgeBase, Dangers]] = {}

    def walk(self, log: Log, start: int = 0) -> list[Breach]:
        """Every breach in what was entered, from an entry on."""
        return [breach for at in range(start, len(log)) for breach in self.entered(log[:at], log[at])]

    def entered(self, log: Log, entry: LogEntry) -> list[Breach]:
        """What is wrong with an entry after a log. For a `can't tell`, nothing need have been done."""
        base, nodes = self._base(log)
        if isinstance(entry, Answer) and entry.answer == CANT_TELL:
            return []
        work = work_of(base, entry)
        if work is None and not (isinstance(entry, HoldAnswered) and entry.cleared):
            return []
        before = self._before(base, nodes, log)
        if work is not None:
            return list(before.work(work))
        assert isinstance(entry, HoldAnswered)
        return list(before.confirmed(entry))

    def offered(self, now: Standing, log: Log) -> list[Breach]:
        """What is wrong with the step that a session offers after a log."""
        step = now.next
        base, nodes = self._base(log)
        if step.kind == "move":
            before = _Before(self, base, nodes, log, now.facts, now.deduction)
            return list(before.moved(base.moves[step.id], step.prepared))
        if step.kind not in ("check", "proof", "repair"):
            return []
        work = base.repairs[step.id] if step.kind == "repair" else base.checks[step.id]
        return list(_Before(self, base, nodes, log, now.facts, now.deduction).work(work))

    def dangers(self, base: KnowledgeBase) -> Dangers:
        if id(base) not in self._dangers:
            self._dangers[id(base)] = base, Dangers(base)
        return self._dangers[id(base)][1]

    def _base(self, log: Log) -> tuple[KnowledgeBase, tuple[str, ...]]:
        """The knowledge with the checks of the chosen circuit, and the filter nodes that it has."""
        known = self._session.known(chosen_circuit(log))
        if isinstance(known, str):
            return self._session.base, ()
        return known.base, tuple(name for name in known.circuit.test_points if name.startswith("bplus_"))

    def _before(self, base: KnowledgeBase, nodes: tuple[str, ...], log: Log) -> _Before:
        facts = gather(base, log)
        return _Before(self, base, nodes, log, facts, self._deducer.deduce(facts))


class _Before:
    """All that is known before a step."""

    def __init__(
        self, oracle: Oracle, base: KnowledgeBase, nodes: tuple[str, ...], log: Log, facts: Facts, deduction: Deduction
    ) -> None:
        self.base, self.nodes, self.log, self.facts, self.deduction = base, nodes, log, facts, deduction
        numbered = list(enumerate(log, start=1))
        self.amp: Amp = stands(base, numbered, taken_back(numbered), nodes)
        self.dangers: list[Danger] = list(oracle.dangers(base).standing(log, facts, deduction))
        self.told = {check for check, _, told in checks_told(base, standing(log)) if told}
        self.last_told = {check: told for check, _, told in checks_told(base, standing(log))}
        self.yes: dict[str, HoldAnswered] = {
            entry.hold: entry for _, entry in standing(log) if isinstance(entry, HoldAnswered)
        }

    def work(self, work: model.Work) -> Iterator[Breach]:
        """What is wrong with a check or repair that is done now."""
        id_, hands = work.id, hands_of(work)
        if hands == "none":
            return  # a question to the player
        for hold in self._open_holds(work.stage):
            yield self._breach(id_, "open hold", hold)
        if work.stage in model.POWERED:
            yield from self._powered(work, id_, hands)
        elif hands != "outside" or work.stage == "cold":
            if not self.amp.safe_inside and move_to(self.base, "cold"):
                kind = "hands in" if self.amp.unplugged else "hands in, plugged in"
                yield self._breach(id_, kind, f"hands {hands}, the amp not unplugged, bled and measured")
        elif not self.amp.unplugged and move_to(self.base, "look"):
            yield self._breach(id_, "plugged in", "a look at an amp that is not unplugged")

    def _powered(self, work: model.Work, id_: str, hands: str) -> Iterator[Breach]:
        if self.amp.led != power_for(work.stage) and move_to(self.base, work.stage):
            yield self._breach(id_, "no move", f"{work.stage} work, the amp led to power: {self.amp.led}")
        if hands != "outside" and work.prepare is None:
            yield self._breach(id_, "hands in, plugged in", f"hands {hands} under power, and nothing prepared")
        elif hands != "outside" and id_ not in self.amp.prepared and self.base.moves:
            yield self._breach(id_, "not prepared", f"hands {hands}, not in before this power")
        yield from self._before_power(id_, work.stage)
        tubes_in = work.setup.get("power-tubes") != "out"
        for danger in self.dangers:
            if (danger.bars == "power tubes" and tubes_in) or (danger.bars == "play" and work.stage == "play"):
                yield self._breach(id_, "danger", f"{danger.finding}: {', '.join(danger.causes)}")

    def moved(self, move: model.Move, prepared: tuple[str, ...]) -> Iterator[Breach]:
        """What is wrong with a move that is made now."""
        for hold in self._open_holds(move.blocks):
            yield self._breach(move.id, "open hold", hold)
        if move.blocks in model.POWERED:
            new = set(prepared) - self.amp.prepared if self.amp.led != "none" else set(prepared)
            if new and not self.amp.safe_inside:
                yield self._breach(move.id, "hands in", f"for {sorted(new)}, the amp not unplugged, bled and measured")
            yield from self._before_power(move.id, move.blocks)

    def confirmed(self, entry: HoldAnswered) -> Iterator[Breach]:
        """What is wrong with a yes."""
        move, hold = self.base.moves.get(entry.hold), self.base.holds.get(entry.hold)
        if move is None and hold is not None and hold.standing:
            return
        if move is not None:
            yield from self.moved(move, entry.prepared)
            if wrong := volts_missing(move, entry, self.nodes):
                yield self._breach(move.id, "against a reading", wrong)
        elif hold is not None:
            for finding in self._read_against(hold):
                yield self._breach(hold.id, "against a reading", finding)
        elif entry.hold.startswith(("danger/", "untold/")) and not entry.reason.strip():
            yield self._breach(entry.hold, "no reason", "a danger taken on without one")

    def _before_power(self, id_: str, stage: model.Stage) -> Iterator[Breach]:
        """What stands before power of that stage, whoever asks for it."""
        for check in self._untold():
            yield self._breach(id_, "untold", check)
        if stage != "first power":
            for check in self._way():
                yield self._breach(id_, "no steps", f"full mains before {check}")
        for danger in self.dangers:
            if danger.bars == "power":
                yield self._breach(id_, "danger", f"{danger.finding}: {', '.join(danger.causes)}")

    def _way(self) -> Iterator[str]:
        move = move_to(self.base, "live")
        for check in move.through if isinstance(move, model.Move) else ():
            if check in self.base.checks and holds_true(self.base.checks[check].needs, self.facts.amp) is not False:
                taken_on = self._taken_on(f"untold/{check}") or self._taken_on(BEFORE_POWER)
                if check not in self.amp.stepped and not taken_on:
                    yield check

    def _untold(self) -> Iterator[str]:
        """The safety checks that are due before power and have told nothing."""
        amp, known = self.facts.amp, set(self.facts.latest())
        for one in self.base.checks.values():
            if (
                one.safety
                and one.stage not in model.POWERED
                and not self.last_told.get(one.id, False)
                and not known.issuperset(one.findings())  # a look over the whole list has settled it
                and holds_true(one.needs, amp) is not False
                and not (ASKED_AT_RARE_AMPS & set(one.needs) - set(amp))
                and all(
                    before in self.last_told or holds_true(self.base.checks[before].needs, amp) is False
                    for before in one.after
                )
                and not self._taken_on(f"untold/{one.id}")
                and not self._taken_on(BEFORE_POWER)
            ):
                yield one.id

    def _taken_on(self, hold: str) -> bool:
        return hold in self.yes and self.yes[hold].cleared and bool(self.yes[hold].reason.strip())

    def _open_holds(self, stage: model.Stage) -> Iterator[str]:
        reach = model.STAGES.index(stage)
        for id_ in self.deduction.holds:
            barred = model.STAGES.index(self.base.holds[id_].blocks) <= reach
            if barred and not (id_ in self.yes and self.yes[id_].cleared):
                yield id_

    def _read_against(self, hold: model.Hold) -> Iterator[str]:
        """What was measured, still stands, and raises the hold, through other rules as well."""
        latest, concluded = self.facts.latest(), {said.finding: said for said in self.deduction.findings}
        rules, seen = [self.deduction.holds.get(hold.id)], set[str]()
        while rules:
            rule = rules.pop()
            if rule is None or rule in seen:
                continue
            seen.add(rule)
            for leaf in self.base.rules[rule].when.leaves():
                said = latest.get(leaf.finding or "")
                if said is not None and said.present and isinstance(self.log[said.entry - 1], Reading):
                    yield said.finding
                if leaf.finding in concluded:
                    rules.append(concluded[leaf.finding].by)

    def _breach(self, about: str, kind: str, why: str) -> Breach:
        return Breach(len(self.log) + 1, about, kind, why)


class Watching(Session):
    """A session that keeps the breaches of the steps it offered, each at the moment it was offered."""

    def __init__(self, base: KnowledgeBase) -> None:
        super().__init__(base)
        self.offered = 0
        self.wrong: list[Breach] = []
        self.oracle = Oracle(self, self._deducer)

    def read(self, log: Log) -> Standing:
        now = super().read(log)
        self.offered += now.next.kind in ("check", "proof", "repair", "move")
        self.wrong += self.oracle.offered(now, log)
        return now
