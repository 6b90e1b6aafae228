"""One sitting at the bench: what comes next is shown, what is typed is kept, and what it changed is said."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import NoReturn

from ...engine.bench.notation import NotationError, parse
from ...engine.jobs.store.errors import JobError
from ...engine.jobs.store.job import Job
from ...engine.knowledge.watch import Watch
from ...engine.late import late
from ...engine.reasoning import nodes, wording
from ...engine.reasoning.log import (
    CANT_TELL,
    NOT_THIS_AMP,
    Answer,
    HoldAnswered,
    LogEntry,
    Note,
    Photo,
    Reading,
    RepairDone,
    standing,
)
from ...engine.reasoning.session import Session, Standing
from ...engine.reasoning.steps import Step
from .. import desk, exits
from ..screen import report, story
from ..screen.page import Page, Strip
from ..screen.prompts import Ended
from ..screen.screen import Screen
from . import (
    confirmations,
    missing_facts,
    other_bench,
    steering,
    steering_words,
    step_page,
    typed_at_a_step,
)
from .at_the_bench import Confirmed
from .face import Face
from .interruptions import Changed, Stopped

with late():
    from ...engine.reports import repairs

HOLD_WORDS = "A hold takes a whole word: yes when it is so, no when it is not (yet)."


def _same(one: LogEntry, other: LogEntry) -> bool:
    """Whether two entries say the same, each in its own minute."""
    return one.model_copy(update={"at": other.at}) == other


class Sitting:
    """A job, the session that reads it, and the person at the bench. level: junior or senior."""

    def __init__(
        self, job: Job, session: Session, face: Face, level: str = "junior", watch: Watch | None = None
    ) -> None:
        self.job, self.session, self.face, self.level, self.watch = job, session, face, level, watch
        self.screen = face.screen
        self.base = session.base
        self.later: set[str] = set()  # causes whose repair was put off for this sitting
        self.not_known: set[str] = set()  # amp facts asked in this sitting, and not known
        self.confirmed = Confirmed()
        self.lost: list[LogEntry] = []  # what was entered and could not be kept
        self.why_lost = ""

    def read(self) -> Standing:
        now = self.session.read(self.job.log)
        self.base = now.base  # with the checks of the circuit, if one is chosen
        return now

    def strip(self, now: Standing) -> Strip:
        return step_page.strip(now, self.job.log, self.job.number)

    def run(self) -> int:
        """Sit until there is nothing more to do, the technician stops, or a hold bars the way; an exit code."""
        now = self.read()
        self._greet(now)
        try:
            if self.level == "junior":
                with suppress(Changed):
                    confirmations.holds_again(self, now)
                now = self.read()
            while True:
                step = self._step(now)
                if step.kind == "done":
                    break
                entered = len(self.job.log)
                with suppress(Changed):
                    self.do(now, step)
                self._renew()
                self._tell(now, entered)
                now = self.read()
        except (Stopped, Ended):
            self.screen.line()
            self.screen.line("Stopped." if self.lost else "Stopped. Everything entered is kept.")
            return self._close(brief=True)
        return self._close()

    def _renew(self) -> None:
        """Take in knowledge that was edited meanwhile; a broken file is told, and what there was stays in force."""
        told = self.watch.look() if self.watch else None
        if told is None:
            return
        if told.problems:
            self.face.say("The knowledge has been changed and is broken; going on with what there was:")
            for problem in told.problems:
                self.face.say(str(problem))
            return
        circuits = self.session.circuits.anew()
        self.session = Session(told.base, self.level, self.session.experience, circuits)
        self.base = self.session.base
        self.face.say("The knowledge has been changed; the new one is in force.")

    def _greet(self, now: Standing) -> None:
        self.screen.heading(f"Job {self.job.number}: {now.facts.title}")
        if now.facts.fingerprint != self.base.fingerprint:
            self.face.say("The knowledge base has changed since this job was opened; the ranking may differ.")
        entered = len(standing(self.job.log)) - 1
        if entered > len(now.facts.complaints):
            self.face.say(f"Going on where it was left: {entered} entries so far.")
        if not now.complaints:
            self.face.say("No complaint is on file yet. Add one: chopstick take JOB --complaint 'PLAYER'S WORDS'")

    def _close(self, brief: bool = False) -> int:
        now = self.read()
        self.face.last_words()
        report.ending(self.screen, now, self.job.log, brief)
        self.screen.line()
        number = self.job.number
        self.screen.line(f"To go on: chopstick bench {number}")
        self.screen.line(f"To see it again: chopstick show {number}")
        if self.lost:
            lost = "; ".join(wording.entry_said(self.base, entry) for entry in self.lost)
            self.screen.trouble(f"NOT KEPT: {lost}. {self.why_lost} All else that was entered is kept.")
            return exits.INPUT
        return exits.HELD if now.next.kind == "held" else exits.DONE

    def _step(self, now: Standing) -> Step:
        """The next step, past repairs that were put off for now."""
        return now.next_but(self.later)

    def do(self, now: Standing, step: Step) -> None:
        """Show a step and keep what is said to it. Raises Changed when something else was entered instead."""
        if step.kind in ("hold", "held"):
            self.hold(now, step)
        elif step.kind == "move":
            self.move(now, step)
        elif step.kind == "repair":
            self.repair(now, step)
        else:
            self.check(now, step)

    def keep(self, *entries: LogEntry) -> None:
        try:
            kept = other_bench.keep(self.face, self.base, self.job, entries)
        except JobError as error:
            self._not_kept(entries, desk.with_help(error))
        if not kept:
            raise Changed
        self.lost = [one for one in self.lost if not any(_same(one, entry) for entry in entries)]

    def _not_kept(self, entries: tuple[LogEntry, ...], why: str) -> NoReturn:
        """Remember what is lost. A person may give an observation again, so the same question comes back; lines from a
        pipe would answer another question, and after a hold that is not on file nothing may come."""
        self.lost, self.why_lost = [*self.lost, *entries], f"{why.rstrip('.')}."
        again = all(isinstance(entry, Answer | Reading | Note | Photo) for entry in entries)
        if not again or not self.face.prompt.edits:
            raise Stopped
        self.face.say(f"NOT KEPT: {self.why_lost} Enter it again to try once more, or stop.")
        raise Changed

    def ask(self, now: Standing, step: Step, page: Page) -> str:
        """What was typed, with the steering words dealt with. 'skip' and 'not this amp' come back as they are."""
        page = replace(page, keys=steering_words.shown(page.words))
        while True:
            typed = self.face.ask(page, [*page.words, *steering_words.KEYS])
            if not typed:
                wanted = f"one of: {', '.join(page.words)}; or help" if page.words else "the value, or help"
                self.face.say(f"Nothing was typed. Type {wanted}.")
                continue
            try:
                key = steering_words.key_of(typed, page.words)
            except steering_words.Unclear as error:
                self.face.say(str(error))
                continue
            if key is None:
                return typed
            if key.word in ("skip", "not this amp"):
                return CANT_TELL if key.word == "skip" else NOT_THIS_AMP
            self.steer(now, step, page, key)

    def steer(self, now: Standing, step: Step, page: Page, key: steering_words.Key) -> None:
        """Do what a steering word says. Raises Stopped, or Changed when the log was added to."""
        steering.steer(self, now, step, page, key)

    def check(self, now: Standing, step: Step) -> None:
        """Ask a check and keep what it yields."""
        page = step_page.check(now, step, self.strip(now), self.level)
        said = confirmations.before(self, now, step, page)
        if said:
            self.keep(typed_at_a_step.skipped(now.base.checks[step.id], said))
        else:
            entries = typed_at_a_step.entries(self, now, step, page)
            self.keep(*entries)
            missing_facts.ask(self, step, [entry.check for entry in entries if isinstance(entry, Reading)])

    def move(self, now: Standing, step: Step) -> None:
        """Take the amp to another set-up, with all that it asks at once."""
        page = step_page.move(now, step, self.strip(now))
        move = now.base.moves[step.id]
        while True:
            typed = self.ask(now, step, page)
            entry = HoldAnswered(at=desk.now(), hold=step.id, cleared=True, prepared=step.prepared)
            if typed.lower() in ("no", "n", CANT_TELL, NOT_THIS_AMP):
                self.keep(entry.model_copy(update={"cleared": False, "prepared": ()}))
                self.face.say("The amp stays as it is. What can be done so comes first.")
                return
            if move.volts is None:
                if typed.lower() in ("yes", "y"):
                    self.keep(entry)
                    return
                self.face.say("Type yes when all of it is so, no when it is not (yet).")
                continue
            try:
                volts = [parse(word, "V").value for word in typed.replace(",", " ").split()]
            except NotationError as error:
                self.face.say(f"{error} Yes alone will not do: type what the meter read.")
                continue
            entry = entry.model_copy(update={"volts": nodes.named_volts(now, volts)})
            trouble = nodes.volts_trouble(now, move, entry)
            if trouble:
                self.face.say(trouble[0].upper() + trouble[1:])
            if len(entry.volts) >= max(1, len(nodes.filter_nodes(now))):
                self.keep(entry)
                return

    def hold(self, now: Standing, step: Step) -> None:
        """Ask a hold; only a whole yes clears it. A danger is opened by a check, a repair, or a reason in writing."""
        page = step_page.hold(now, step, self.strip(now), self.level)
        state = next(one for one in now.holds if one.hold == step.id)
        while True:
            typed = self.ask(now, step, page)
            word, _, reason = typed.strip().partition(" ")
            if (
                word.lower() == "because"
                and reason.strip()
                and state.kind in ("danger", "untold")
                and self.level == "senior"
            ):
                self.keep(HoldAnswered(at=desk.now(), hold=step.id, cleared=True, reason=reason.strip()))
                return
            if typed.lower() == "yes" and "yes" in page.words:
                self.keep(HoldAnswered(at=desk.now(), hold=step.id, cleared=True))
                return
            if typed.lower() in ("no", "n", CANT_TELL, NOT_THIS_AMP):
                if step.kind == "held":
                    raise Stopped
                self.keep(HoldAnswered(at=desk.now(), hold=step.id, cleared=False))
                self.face.say("The hold stays open. What can be done without it comes first.")
                return
            self.face.say(
                HOLD_WORDS if "yes" in page.words else "Yes alone does not open this: measure, repair, or no."
            )

    def repair(self, now: Standing, step: Step) -> None:
        """Propose a repair and keep that it was done."""
        page = step_page.repair(repairs.repair_of(now, step.id, step.cause, "proposed"), self.strip(now), self.level)
        if confirmations.before(self, now, step, page):
            self.later.add(step.cause)
            return
        while True:
            typed = self.ask(now, step, page).lower()
            if typed in ("done", "d", "yes", "y"):
                self.keep(RepairDone(at=desk.now(), repair=step.id, cause=step.cause))
                return
            if typed in ("later", "l", "no", "n", CANT_TELL, NOT_THIS_AMP):
                self.later.add(step.cause)
                return
            self.face.say("Type done when the repair is done, later to leave it for now, or help.")

    def _tell(self, before: Standing, entered: int) -> None:
        """What the entries since then changed."""
        after, log = self.read(), self.job.log
        known = {(one.one, one.other) for one in before.conflicts}
        new = any((one.one, one.other) not in known for one in after.conflicts)

        def writes(screen: Screen) -> None:
            for number, entry in enumerate(log[entered:], start=entered + 1):
                if isinstance(entry, Answer | Reading):
                    name = after.base.checks[entry.check].name if entry.check in after.base.checks else entry.check
                    screen.line(f"{name} -> {wording.said_of(after.base, [entry])}")
                if number < len(log):
                    story.entry_changes(screen, after, entry, number)
            if len(log) > entered:
                story.changes(screen, before, after, log[-1], len(log))
            if new:
                screen.line("If one of them is a slip: back, or again CHECK to do that check once more.", indent=4)

        typed = self.face.result(writes, self.strip(after)).lower()
        if typed in ("stop", "s"):
            raise Stopped
        if typed in ("back", "undo"):
            with suppress(Changed):
                steering.back(self)
