"""One sitting at the bench: shows the next step, takes what is typed, keeps it, and says what it changed."""

from __future__ import annotations

from collections.abc import Collection
from contextlib import suppress

from ..engine.jobs.errors import JobError
from ..engine.jobs.store import Job
from ..engine.knowledge import model
from ..engine.knowledge.watch import Watch
from ..engine.reasoning import answers, explain
from ..engine.reasoning.log import (
    CANT_TELL,
    NOT_THIS_AMP,
    AmpFactsTold,
    Answer,
    Complaint,
    HoldAnswered,
    LogEntry,
    Note,
    Opened,
    Reading,
    RepairDone,
    Undone,
    standing,
)
from ..engine.reasoning.session import Session, Standing
from ..engine.reasoning.steps import Step
from . import desk, exits, glossary, moved, report, results, story, views
from .keys import KEYS, Key, Unclear, key_of, short_list
from .prompts import Ended, Prompt
from .screen import Screen


class Stopped(Exception):
    """The technician stopped. Everything entered is kept."""


class Changed(Exception):
    """The log was added to from within a question (undo, another check, a repair): read it again."""


class Sitting:
    """A job, the session that reads it, and the person at the bench."""

    def __init__(
        self, job: Job, session: Session, screen: Screen, prompt: Prompt, watch: Watch | None = None
    ) -> None:
        self.job, self.session, self.screen, self.prompt = job, session, screen, prompt
        self.watch = watch
        self.base = session.base
        self._later: set[str] = set()  # causes whose repair was put off for this sitting
        self._told_keys = False

    def read(self) -> Standing:
        return self.session.read(self.job.log)

    def run(self) -> int:
        """Sit until there is nothing more to do, the technician stops, or a hold bars the way; an exit code."""
        now = self.read()
        self._greet(now)
        try:
            while True:
                step = self._step(now)
                if step.kind == "done":
                    break
                with suppress(Changed):
                    self._do(now, step)
                self._renew()
                after = self.read()
                self._tell(now, after)
                now = after
        except (Stopped, Ended):
            self.screen.line()
            self.screen.line("Stopped. Everything entered is kept.")
            return self._close(brief=True)
        return self._close()

    def _renew(self) -> None:
        """Take in knowledge that was edited meanwhile; a broken file is told, and what there was stays in force."""
        told = self.watch.look() if self.watch else None
        if told is None:
            return
        if told.problems:
            self.screen.line("The knowledge has been changed and is broken; going on with what there was:", "bold")
            self.screen.bullets(told.problems, indent=2)
            return
        self.session, self.base = Session(told.base), told.base
        self.screen.line("The knowledge has been changed; the new one is in force.", "bold")

    def _greet(self, now: Standing) -> None:
        self.screen.heading(f"Job {self.job.number}: {now.facts.title}")
        if now.facts.fingerprint != self.base.fingerprint:
            self.screen.line("The knowledge base has changed since this job was opened; the ranking may differ.")
        entered = len(standing(self.job.log)) - 1
        if entered > len(now.facts.complaints):
            self.screen.line(f"Going on where it was left: {entered} entries so far.")
        if not now.complaints:
            self.screen.line("No complaint is on file yet. Add one: chopstick take JOB --complaint 'PLAYER'S WORDS'")

    def _close(self, brief: bool = False) -> int:
        now = self.read()
        report.ending(self.screen, now, self.job.log, brief)
        self.screen.line()
        number = self.job.number
        self.screen.line(f"To go on: chopstick bench {number}    To see it again: chopstick show {number}")
        return exits.HELD if now.next.kind == "held" else exits.DONE

    def _step(self, now: Standing) -> Step:
        """The next step, past repairs that were put off for now."""
        step = now.next
        if step.kind == "repair" and step.cause in self._later:
            waiting = (one for one in now.plan.repairs() if one.cause not in self._later)
            return next(waiting, Step("done"))
        return step

    def _do(self, now: Standing, step: Step) -> None:
        if step.kind in ("hold", "held"):
            self._hold(now, step)
        elif step.kind == "repair":
            self._repair(now, step)
        else:
            self._check(now, step)

    def _keep(self, *entries: LogEntry) -> None:
        try:
            kept = moved.keep(self.screen, self.prompt, self.base, self.job, entries)
        except JobError as error:
            self.screen.trouble(f"Not kept: {error}")
            raise Stopped from error
        if not kept:
            raise Changed

    # --- asking ---

    def _ask(self, now: Standing, step: Step, message: str, words: Collection[str] = ()) -> str:
        """What was typed, with the steering words dealt with. 'skip' and 'not this amp' come back as they are."""
        while True:
            typed = self.prompt.ask(message, [*words, *KEYS])
            if not typed:
                self.screen.line(f"Nothing was typed. {self._wanted(words)}")
                continue
            try:
                key = key_of(typed, words)
            except Unclear as error:
                self.screen.line(str(error))
                continue
            if key is None:
                return typed
            if key.word in ("skip", "not this amp"):
                return CANT_TELL if key.word == "skip" else NOT_THIS_AMP
            self._steer(now, step, key)

    def _wanted(self, words: Collection[str]) -> str:
        return f"Type one of: {', '.join(words)}; or help." if words else "Type the value, or help."

    def _steer(self, now: Standing, step: Step, key: Key) -> None:
        if key.word == "stop":
            raise Stopped
        if key.word == "undo":
            self._undo()
        elif key.word == "note":
            text = key.text or self.prompt.ask("note:")
            if text:
                self._keep(Note(at=desk.now(), text=text))
                self.screen.line("Noted.")
        elif key.word == "why":
            report.why_now(self.screen, now, step)
        elif key.word == "?":
            glossary.tell(self.screen, self.base, step, key.text)
        elif key.word == "where":
            report.where(self.screen, now)
        elif key.word == "again":
            self._again(now, key.text)
        elif key.word == "repair":
            self._repair_now(now, key.text)
        else:
            self.screen.pairs(KEYS.items(), indent=2)

    def _undo(self) -> None:
        undoable = [
            (number, entry)
            for number, entry in standing(self.job.log)
            if not isinstance(entry, Opened | AmpFactsTold | Complaint)
        ]
        if not undoable:
            self.screen.line("There is nothing to take back.")
            return
        number, entry = undoable[-1]
        self._keep(Undone(at=desk.now(), number=number))
        self.screen.line(f"Taken back: {results.entry_said(self.base, entry)}")
        raise Changed

    # --- checks ---

    def _check(self, now: Standing, step: Step) -> None:
        check = self.base.checks[step.id]
        self.screen.line()
        views.strip(self.screen, now, explain.minutes_spent(now, self.job.log), self.job.number)
        views.check(self.screen, now, step)
        if step.kind == "proof":
            done = next(one for one in now.facts.repairs if one.cause == step.cause)
            cause, repair = self.base.causes.get(done.cause), self.base.repairs[done.repair]
            if repair.proof_for(cause).check == check.id:
                self.screen.pairs([("proof of", results.proof_wants(self.base, repair.proof_for(cause)))])
        else:
            views.outcomes(self.screen, now, check.id)
        if not self._told_keys:
            self._told_keys = True
            self.screen.line(short_list())
        entry = self._answer(now, step, check) if check.answers else self._readings(now, step, check)
        self._keep(entry)

    def _answer(self, now: Standing, step: Step, check: model.Check) -> LogEntry:
        message = f"{check.ask} [{', '.join(check.answers)}]"
        while True:
            typed = self._ask(now, step, message, list(check.answers))
            try:
                return answers.entry(check, typed, desk.now())
            except answers.AnswerError as error:
                self.screen.line(str(error))

    def _readings(self, now: Standing, step: Step, check: model.Check) -> LogEntry:
        """Its readings one by one; a reading skipped is left out, and with none taken the check is skipped."""
        values: dict[str, object] = {}
        believed = False
        for name, reading in check.readings.items():
            doubted = ""  # a reading that was questioned: yes confirms it, anything else is read afresh
            while True:
                typed = self._ask(now, step, views.reading_prompt(reading), ["yes"] if doubted else [])
                if typed == NOT_THIS_AMP:
                    return answers.entry(check, NOT_THIS_AMP, desk.now())
                if typed == CANT_TELL:
                    break
                if doubted and typed.lower() in ("y", "yes"):
                    values[name], believed = doubted, True
                    break
                try:
                    answers.entry(check, {name: typed}, desk.now())
                    values[name] = typed
                    break
                except answers.Implausible as error:
                    doubted = typed
                    self.screen.line(f"{error} Type it again; or yes, if the meter really says so.")
                except answers.AnswerError as error:
                    self.screen.line(str(error))
        if not values:
            return answers.entry(check, CANT_TELL, desk.now())
        return answers.entry(check, values, desk.now(), believed)


    # --- holds and repairs ---

    def _hold(self, now: Standing, step: Step) -> None:
        views.hold(self.screen, self.base, step.id, step.why)
        if step.kind == "held":
            self.screen.line("Nothing more is offered until this is put right.", "bold")
        message = f"{self.base.holds[step.id].ask} [yes, no]"
        while True:
            typed = self._ask(now, step, message, ["yes", "no"]).lower()
            if typed == "yes":
                self._keep(HoldAnswered(at=desk.now(), hold=step.id, cleared=True))
                return
            if typed in ("no", "n", CANT_TELL, NOT_THIS_AMP):
                if step.kind == "held":
                    raise Stopped
                self._keep(HoldAnswered(at=desk.now(), hold=step.id, cleared=False))
                self.screen.line("The hold stays open. What can be done without it comes first.")
                return
            self.screen.line("A hold takes a whole word: yes when it is so, no when it is not (yet).")

    def _repair(self, now: Standing, step: Step) -> None:
        self.screen.line()
        views.strip(self.screen, now, explain.minutes_spent(now, self.job.log), self.job.number)
        views.repair(self.screen, results.repair_shape(now, step.id, step.cause, "proposed"))
        while True:
            typed = self._ask(now, step, "Is it done? [done, later]", ["done", "later"]).lower()
            if typed in ("done", "d", "yes", "y"):
                self._keep(RepairDone(at=desk.now(), repair=step.id, cause=step.cause))
                return
            if typed in ("later", "l", "no", "n", CANT_TELL, NOT_THIS_AMP):
                self._later.add(step.cause)
                return
            self.screen.line("Type done when the repair is done, later to leave it for now, or help.")

    def _repair_now(self, now: Standing, wanted: str) -> None:
        """A repair of the technician's own choosing, by its number in the ranking or its id."""
        offered = [(r, c.cause) for c in now.leading[:6] for r in now.deduction.repairs(self.base.causes[c.cause])]
        if not wanted:
            rows = [
                (f"{n}.", self.base.repairs[r].name, f"for: {self.base.causes[c].name} "
                 f"({views.percent(now.ranking.probability[c])})")
                for n, (r, c) in enumerate(offered, start=1)
            ]  # fmt: skip
            self.screen.table(rows, indent=2)
            wanted = self.prompt.ask("Which repair? (number or id; Enter for none)")
        if not wanted:
            return
        chosen = offered[int(wanted) - 1] if wanted.isdecimal() and 0 < int(wanted) <= len(offered) else None
        if chosen is None and wanted in self.base.repairs:
            causes = [id_ for id_, cause in self.base.causes.items() if wanted in cause.repairs]
            known = [id_ for id_ in causes if id_ in now.ranking.probability] or causes
            chosen = (wanted, max(known, key=lambda id_: now.ranking.probability.get(id_, 0.0)))
        if chosen is None:
            self.screen.line(f"There is no repair '{wanted}'.")
            return
        self._cleared_for(now, "cold")
        repair, cause = chosen
        self._later.discard(cause)
        self._repair(now, Step("repair", repair, cause, "chosen by the technician"))
        raise Changed

    def _again(self, now: Standing, wanted: str) -> None:
        """A check that was done, once more."""
        if wanted not in now.facts.done:
            self.screen.line(f"No check '{wanted}' has been done." if wanted else "Which check? Type: again CHECK")
            self.screen.table([(id_, self.base.checks[id_].name) for id_ in list(now.facts.done)[-8:]], indent=2)
            return
        self._cleared_for(now, self.base.checks[wanted].stage)
        self._check(self.read(), Step("check", wanted, why="chosen by the technician"))
        raise Changed

    def _cleared_for(self, now: Standing, stage: model.Stage) -> None:
        """Asks every hold that stands before a stage of work. Raises Changed when one stays open."""
        while (hold := now.plan.blocked_by(stage)) is not None:
            self._hold(now, Step("hold", hold.hold.id, why="stands before what you chose"))
            now = self.read()
            if now.facts.holds.get(hold.hold.id) is not True:
                raise Changed

    def _tell(self, before: Standing, after: Standing) -> None:
        """What the last entry changed."""
        last = self.job.log[-1]
        if isinstance(last, Answer | Reading):
            self.screen.line(f"-> {results.said_of(self.base, [last])}")
        known = {(one.one, one.other) for one in before.conflicts}
        story.changes(self.screen, before, after, last, len(self.job.log))
        if any((one.one, one.other) not in known for one in after.conflicts):
            self.screen.line("If one of them is a slip: undo, or again CHECK to do that check once more.", indent=4)
