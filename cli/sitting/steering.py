"""What the steering words do at a question."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from ...engine.late import late
from ...engine.reasoning import wording
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.log import (
    AmpFactsTold,
    Answer,
    CircuitChosen,
    Complaint,
    HoldAnswered,
    Note,
    Photo,
    Reading,
    RepairDone,
    Undone,
    standing,
)
from ...engine.reasoning.session import Standing
from ...engine.reasoning.steps import Step
from .. import desk
from ..screen import glossary, report, volts
from ..screen.page import Page, PageBlock
from . import chosen, complaints, photos
from .at_the_bench import AtTheBench
from .interruptions import Changed, Stopped
from .steering_words import KEYS, Key

with late():
    from ...engine.jobs import entering

UNDOABLE = (AmpFactsTold, Answer, CircuitChosen, HoldAnswered, Note, Photo, Reading, RepairDone)


def steer(sitting: AtTheBench, now: Standing, step: Step, page: Page, key: Key) -> None:
    """Do what a steering word says. Raises Stopped, or Changed when the log was added to."""
    face = sitting.face
    if key.word == "stop":
        raise Stopped
    if key.word == "back":
        back(sitting)
    elif key.word == "note":
        _note(sitting, page, key.text)
    elif key.word == "photo":
        _photo(sitting, step, page, key.text)
    elif key.word == "why":
        face.tell(lambda screen: report.why_now(screen, now, step))
    elif key.word == "where":
        face.tell(lambda screen: report.where(screen, now))
    elif key.word == "more":
        face.more(page)
    elif key.word == "caution":
        face.tell(lambda screen: screen.pairs(("caution", text) for text in page.cautions or ("none for this step",)))
    elif key.word == "again":
        chosen.again(sitting, now, key.text)
    elif key.word == "check":
        chosen.check(sitting, now, key.text)
    elif key.word == "gone":
        chosen.gone(sitting, now, key.text)
    elif key.word == "amp":
        chosen.amp_fact(sitting, key.text)
    elif key.word == "repair":
        chosen.repair(sitting, now, page, key.text)
    elif key.word == "circuit":
        _circuit(sitting, now, page, key.text)
    elif key.word == "complaint":
        _complaint(sitting, now, page, key.text)
    elif key.word == "withdraw":
        _withdraw(sitting, page, key.text)
    elif key.word == "?":
        _glossary(sitting, now, step, key.text)
    else:
        face.tell(lambda screen: screen.pairs(KEYS.items(), indent=2))


def back(sitting: AtTheBench) -> None:
    """Take back the last thing entered at the bench. Raises Changed when there was one."""
    undoable = [(number, entry) for number, entry in standing(sitting.job.log) if isinstance(entry, UNDOABLE)]
    if not undoable:
        sitting.face.say("There is nothing to take back.")
        return
    number, entry = undoable[-1]
    sitting.keep(Undone(at=desk.now(), number=number))
    sitting.face.say(f"Taken back: {wording.entry_said(sitting.base, entry)}")
    raise Changed


def _note(sitting: AtTheBench, page: Page, text: str) -> None:
    text = text or _text(sitting, page, "note: (Enter for none)")
    if text:
        sitting.keep(Note(at=desk.now(), text=text))
        sitting.face.say("Noted.")


def _text(sitting: AtTheBench, page: Page, question: str) -> str:
    """What was typed to a question of its own; the page has one part, so that Enter alone is an answer."""
    return sitting.face.ask(replace(page, first=(), more=()).asking(question))


def _photo(sitting: AtTheBench, step: Step, page: Page, text: str) -> None:
    text = text or _text(sitting, page, "Which file, and what does it show? (Enter for none)")
    if not text:
        return
    try:
        photo = photos.entry(text, step.id if step.kind in ("check", "proof") else "")
    except AnswerError as error:
        sitting.face.say(str(error))
        return
    sitting.keep(photo)
    sitting.face.say(f"Kept: {wording.entry_said(sitting.base, photo)}")


def _glossary(sitting: AtTheBench, now: Standing, step: Step, word: str) -> None:
    if step.kind == "done" and not word:
        sitting.face.say("? WORD explains a word of the trade.")
    else:
        sitting.face.tell(lambda screen: glossary.tell(screen, now.base, step, word))


def _circuit(sitting: AtTheBench, now: Standing, page: Page, wanted: str) -> None:
    """Chooses the circuit the amp is built to, or another one."""
    offered = volts.nearest(sitting.session.circuits, now.facts.amp)
    if not wanted:
        rows = tuple((f"{number}.", name, text) for number, (name, text) in enumerate(offered.items(), start=1))
        shown = replace(page, first=(PageBlock("nearest", rows=rows, way="rows"),), more=())
        asked = "Which circuit? (number or name; none: not known; Enter leaves it as it is)"
        wanted = sitting.face.ask(shown.asking(asked))
    if not wanted:
        return
    name = list(offered)[int(wanted) - 1] if wanted.isdecimal() and 0 < int(wanted) <= len(offered) else wanted

    try:
        sitting.keep(entering.choice_of_circuit(sitting.session, name, desk.now()))
    except AnswerError as error:
        sitting.face.say(str(error))
        return
    raise Changed


def _complaint(sitting: AtTheBench, now: Standing, page: Page, text: str) -> None:
    """Adds what the player says besides. Raises Changed when it was taken."""
    text = text or _text(sitting, page, "What does the player say? (Enter for nothing)")
    known = [symptom for symptom, _, _ in now.facts.complaints]
    found = (
        complaints.asked(now.base, text, known, sitting.face.tell, partial(_text, sitting, page)) if text else []
    )
    if found:
        sitting.keep(*(Complaint(at=desk.now(), says=words, symptom=symptom) for words, symptom in found))
        raise Changed


def _withdraw(sitting: AtTheBench, page: Page, wanted: str) -> None:
    """Takes back a complaint, by its number in the list. Raises Changed when there is one."""
    made = [(number, entry) for number, entry in standing(sitting.job.log) if isinstance(entry, Complaint)]
    if not wanted:
        rows = [(f"{n}.", wording.entry_said(sitting.base, entry)) for n, (_, entry) in enumerate(made, start=1)]
        sitting.face.tell(lambda screen: screen.table(rows, indent=2))
        wanted = _text(sitting, page, "Which is to be taken back? (number; Enter for none)")
    if not wanted:
        return
    if not (wanted.isdecimal() and 0 < int(wanted) <= len(made)):
        sitting.face.say(f"There is no complaint '{wanted}'; there are {len(made)}.")
        return
    if len(made) == 1:
        sitting.face.say("It is the only complaint. Add the right one first: complaint TEXT")
        return
    number, entry = made[int(wanted) - 1]
    sitting.keep(Undone(at=desk.now(), number=number))
    sitting.face.say(f"Taken back: {wording.entry_said(sitting.base, entry)}")
    raise Changed
