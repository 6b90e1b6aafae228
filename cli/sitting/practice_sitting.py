"""One practice at the bench: the learner chooses, the amp answers."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field, replace

from ...engine.knowledge import model
from ...engine.practice.amps import Amp
from ...engine.practice.score import Unsafe, unsafe_in
from ...engine.reasoning import wording
from ...engine.reasoning.log import CANT_TELL, Answer, LogEntry, RepairDone
from ...engine.reasoning.pins import how
from ...engine.reasoning.session import Session, Standing
from ...engine.reasoning.steps import Step
from .. import desk
from ..screen import views
from ..screen.page import Page, PageBlock, Strip
from ..screen.prompts import Ended
from . import steering
from .bench_sitting import Sitting
from .entry_by_name import named
from .face import Face
from .interruptions import Changed, Stopped
from .steering_words import Key

PROPOSED = {"hold": "clear the hold: ", "move": "move the amp: "}
QUESTION = "What do you do?"


@dataclass
class Bench:
    """The log of a practice; it is kept nowhere."""

    log: list[LogEntry] = field(default_factory=list)
    number: int = 0


class Practising(Sitting):
    """A sitting at an amp that answers by itself. unsafe: moves that could have killed."""

    job: Bench  # type: ignore[assignment]

    def __init__(self, amp: Amp, session: Session, face: Face, seed: int, level: str, alone: bool) -> None:
        super().__init__(Bench(amp.opening(session, desk.now())), session, face, level)  # type: ignore[arg-type]
        self.amp, self.seed, self.alone = amp, seed, alone
        self.unsafe: list[Unsafe] = []

    def keep(self, *entries: LogEntry) -> None:
        self.job.log += entries

    def strip(self, now: Standing) -> Strip:
        told = super().strip(now)
        lines = tuple(line for line in told.lines if line[0] != "leading") if self.alone else told.lines
        return replace(told, status=(f"practice {self.seed}", *told.status), lines=lines)

    def run(self) -> int:
        """Sit until the learner finishes."""
        self.face.say(f"Practice {self.seed}: an amp has come to the bench. Find what is wrong, fix it, then: finish.")
        with suppress(Stopped, Ended):
            while True:
                now, entered = self.read(), len(self.job.log)
                with suppress(Changed):
                    self.do(now, now.next)
                if len(self.job.log) > entered:
                    self._tell(now, entered)
        return 0

    def do(self, now: Standing, step: Step) -> None:
        """Let the learner choose. Raises Stopped when they finish."""
        typed = self.ask(now, step, self._turn(now, step))
        word, _, rest = typed.partition(" ")
        word = word.lower()
        if typed in (CANT_TELL, "not this amp"):
            self.face.say("There is nothing to skip: choose something else, with do CHECK.")
        elif word in ("finish", "f"):
            raise Stopped
        elif word in ("go", "g", "yes") and not rest and not self.alone:
            self._go(now, step)
        elif word in ("do", "d") and rest:
            self._choose(now, rest)
        elif word == "find" and rest:
            self._find(rest)
        elif word in ("clear", "c"):
            self._clear(now, rest)
        else:
            self.face.say("Type go for what is proposed, do CHECK for another, repair NAME, find WORD, or finish.")

    def _turn(self, now: Standing, step: Step) -> Page:
        says = PageBlock("player", " / ".join(f'"{one.says}"' for one in now.complaints))
        amp = views.amp_said(now)
        rows = [says, PageBlock("amp", amp)] if amp else [says]
        words = ("do", "repair", "clear", "find", "finish")
        if self.alone:
            shows = PageBlock(
                "you can", "do CHECK, repair NAME, clear HOLD, find WORD (for their names), where, finish"
            )
            return Page(self.strip(now), "YOUR MOVE", f"{QUESTION} [{', '.join(words)}]", (), (*rows, shows), (), words)
        if step.kind in ("done", "held"):
            proposed, title = PageBlock("proposed", "nothing further: finish, or go on by yourself"), "PROPOSED: finish"
            cautions: tuple[str, ...] = ()
        else:
            name, at = wording.step_name(self.base, step)
            title = f"PROPOSED: {PROPOSED.get(step.kind, '')}{name} ({at})"
            proposed = PageBlock("why now", step.why)
            cautions = self._cautions(step)
        question = f"{QUESTION} [go, {', '.join(words)}]"
        return Page(self.strip(now), title, question, cautions, (*rows, proposed), (), ("go", *words))

    def _cautions(self, step: Step) -> tuple[str, ...]:
        if step.kind in ("hold", "move"):
            return (self.base.holds[step.id].text,)
        ids = (self.base.repairs if step.kind == "repair" else self.base.checks)[step.id].cautions
        return tuple(self.base.cautions[id_].text for id_ in ids)

    def _go(self, now: Standing, step: Step) -> None:
        if step.kind in ("done", "held"):
            raise Stopped
        if step.kind in ("hold", "move"):
            self._answered(now, step.id, step.prepared)
        elif step.kind == "repair":
            self.repair(now, step)
        else:
            self.check(now, step)

    # --- what the learner chose ---

    def _choose(self, now: Standing, wanted: str) -> None:
        found = named(wanted, {id_: one.name for id_, one in self.base.checks.items()})
        if len(found) == 1:
            self.check(now, Step("check", found[0], why="your choice"))
        else:
            self._which("check", wanted, {id_: self.base.checks[id_].name for id_ in found})

    def _clear(self, now: Standing, wanted: str) -> None:
        open_ = {hold.hold: hold.ask for hold in now.plan.open_holds()}
        found = named(wanted, open_) if wanted else tuple(open_)
        if len(found) == 1:
            self._answered(now, found[0])
        elif open_:
            self._which("open hold", wanted, {id_: open_[id_] for id_ in found or open_})
        else:
            self.face.say("No hold is open.")

    def _answered(self, now: Standing, id_: str, prepared: tuple[str, ...] = ()) -> None:
        """Clear a hold; one that is not as it should be yet is an unsafe move, and stays open."""
        hold = next(one for one in now.holds if one.hold == id_)
        if self.amp.holds(hold, self.job.log):
            self.keep(self.amp.answered(now, hold, self.job.log, desk.now(), prepared))
            return
        self._warn(Unsafe(hold.ask, "you cleared a hold before it was really so"))

    def _find(self, word: str) -> None:
        base = self.base
        checks = named(word, {id_: one.name for id_, one in base.checks.items()})
        repairs = named(word, {id_: one.name for id_, one in base.repairs.items()})
        rows = [("check", id_, base.checks[id_].name) for id_ in checks[:12]]
        rows += [("repair", id_, base.repairs[id_].name) for id_ in repairs[:12]]
        if rows:
            self.face.tell(lambda screen: screen.table(rows, indent=2))
        else:
            self.face.say(f"Nothing has '{word}' in its name.")

    def _which(self, kind: str, wanted: str, names: dict[str, str]) -> None:
        if not names:
            self.face.say(f"There is no {kind} '{wanted}'. find WORD lists what has a word in its name.")
            return
        self.face.say(f"Which {kind}? Type more of its name, or its id.")
        self.face.tell(lambda screen: screen.table(list(names.items())[:12], indent=2))

    def _warn(self, move: Unsafe) -> None:
        self.unsafe.append(move)
        self.face.say(f"UNSAFE: {move.why}. On a real amp this can kill. It was not done; it counts against you.")

    def _barred(self, now: Standing, work: model.Work, what: str) -> bool:
        if move := unsafe_in(now, work, what):
            self._warn(move)
        return move is not None

    # --- what the amp answers ---

    def check(self, now: Standing, step: Step) -> None:
        """Do a check: the amp answers."""
        check = self.base.checks[step.id]
        if self._barred(now, check, check.name):
            return
        entry = self.amp.entry(check, self.job.log, desk.now())
        if isinstance(entry, Answer) and entry.answer == CANT_TELL:
            self.face.say(f"{check.name}: this practice amp can't answer that; no minutes are counted.")
        self.keep(entry)

    def repair(self, now: Standing, step: Step) -> None:
        """Do a repair, whether or not it fixes anything."""
        repair = self.base.repairs[step.id]
        if self._barred(now, repair, repair.name):
            return
        cause = self.amp.mends(step.id, self.job.log) or step.cause
        self.keep(RepairDone(at=desk.now(), repair=step.id, cause=cause))
        proof = repair.proof_for(self.base.causes.get(cause))
        self.face.say(f"Done: {repair.name}. Its proof: {self.base.checks[proof.check].name}.")

    def steer(self, now: Standing, step: Step, page: Page, key: Key) -> None:
        """As at the bench; but what was done here is done, and a repair is chosen freely."""
        if key.word == "back":
            self.face.say("In practice what was done is done, as on a real amp.")
        elif key.word == "repair" and key.text:
            self._repair_named(now, key.text)
        elif key.word == "more":
            self.face.tell(lambda screen: screen.line(self._how(now, step)))
        else:
            steering.steer(self, now, step, page, key)

    def _how(self, now: Standing, step: Step) -> str:
        if step.id not in self.base.checks:
            return "There is nothing more to see here."
        return how(self.base, self.base.checks[step.id], now.facts.amp)

    def _repair_named(self, now: Standing, wanted: str) -> None:
        found = named(wanted, {id_: one.name for id_, one in self.base.repairs.items()})
        if len(found) != 1:
            self._which("repair", wanted, {id_: self.base.repairs[id_].name for id_ in found})
            return
        serves = [one.id for one in self.base.causes.values() if found[0] in one.repairs]
        likely = max(serves, key=lambda id_: now.ranking.probability.get(id_, 0.0))
        self.repair(now, Step("repair", found[0], likely, "your choice"))
        raise Changed
