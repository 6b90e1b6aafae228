"""What the technician chooses to do at the bench in place of what is offered: another check, a check once more, a
repair, a word on the amp, or a complaint that is gone. Whatever stands before it is asked first."""

from __future__ import annotations

from ...engine.knowledge import model
from ...engine.reasoning import wording
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.gate import stands_before
from ...engine.reasoning.log import AmpFactsTold, Answer, HoldAnswered
from ...engine.reasoning.session import Standing
from ...engine.reasoning.set_up import prepared_first
from ...engine.reasoning.steps import Step
from .. import desk
from ..screen.page import Page
from . import amp_words
from .at_the_bench import AtTheBench
from .entry_by_name import named
from .interruptions import Changed


def repair(sitting: AtTheBench, now: Standing, page: Page, wanted: str) -> None:
    """A repair of the technician's own choosing, by its number in the ranking or its id."""
    base = now.base
    offered = [(r, c.cause) for c in now.leading[:6] for r in now.deduction.repairs(base.causes[c.cause])]
    if not wanted:
        rows = [
            (f"{n}.", base.repairs[r].name, f"for: {base.causes[c].name} "
             f"({wording.percent(now.ranking.probability[c])})")
            for n, (r, c) in enumerate(offered, start=1)
        ]  # fmt: skip
        sitting.face.tell(lambda screen: screen.table(rows, indent=2))
        wanted = sitting.face.ask(page.asking("Which repair? (number or id, or none)"))
    if wanted.lower() in ("", "none", "no"):
        return
    chosen = offered[int(wanted) - 1] if wanted.isdecimal() and 0 < int(wanted) <= len(offered) else None
    if chosen is None and wanted in base.repairs:
        causes = [id_ for id_, cause in base.causes.items() if wanted in cause.repairs]
        known = [id_ for id_ in causes if id_ in now.ranking.probability] or causes
        chosen = (wanted, max(known, key=lambda id_: now.ranking.probability.get(id_, 0.0)))
    if chosen is None:
        sitting.face.say(f"There is no repair '{wanted}'.")
        return
    repair, cause = chosen
    cleared_for(sitting, now, base.repairs[repair])
    sitting.later.discard(cause)
    sitting.repair(sitting.read(), Step("repair", repair, cause, "chosen by the technician"))
    raise Changed


def again(sitting: AtTheBench, now: Standing, wanted: str) -> None:
    """A check that was done, once more: by its id, a part of its name, or the last one."""
    base = now.base
    done = sorted(now.facts.done, key=lambda id_: now.facts.done_at[id_])
    named = [id_ for id_ in done if wanted.lower() in base.checks[id_].name.lower()]
    known = [wanted] if wanted in done else named if wanted else done[-1:]
    if len(known) != 1:
        sitting.face.say(f"No check '{wanted}' has been done." if not known and wanted else "Which? Type: again CHECK")
        rows = [(id_, base.checks[id_].name) for id_ in (known or done)[-8:]]
        sitting.face.tell(lambda screen: screen.table(rows, indent=2))
        return
    cleared_for(sitting, now, base.checks[known[0]])
    sitting.check(sitting.read(), Step("check", known[0], why="chosen by the technician"))
    raise Changed


def cleared_for(sitting: AtTheBench, now: Standing, work: model.Work) -> None:
    """Asks every hold and move that stands before a check or repair. Raises Changed when one stays open."""
    while (hold := stands_before(now, work)) is not None:
        why = "stands before what you chose"
        if hold.hold in now.base.moves:
            power = now.base.moves[hold.hold].blocks in model.POWERED
            sitting.move(
                now, Step("move", hold.hold, why=why, prepared=(work.id,) if power and prepared_first(work) else ())
            )
        elif hold.to_be_asked:
            sitting.hold(now, Step("hold", hold.hold, why=why))
        else:
            sitting.face.say(hold.text if hold.kind == "untold" else f"{hold.text} {hold.against or hold.ask}")
            raise Changed
        now, said = sitting.read(), sitting.job.log[-1]
        too_high = isinstance(said, HoldAnswered) and said.cleared  # bled and read again, the move opens the way
        if now.facts.holds.get(hold.hold) is not True and not too_high:
            raise Changed


def check(sitting: AtTheBench, now: Standing, wanted: str) -> None:
    """Another check than the one that is offered, by its id or words of its name."""
    names = {one.id: one.name for one in now.base.written.values() if now.plan.applicable(one)}
    found = named(wanted, names) if wanted else ()
    if len(found) != 1:
        sitting.face.say(f"No check has '{wanted}' in its name." if wanted and not found else "Which? Type: check NAME")
        sitting.face.tell(lambda screen: screen.table([(id_, names[id_]) for id_ in found[:12]], indent=2))
        return
    cleared_for(sitting, now, now.base.checks[found[0]])
    sitting.check(sitting.read(), Step("check", found[0], why="chosen by the technician"))
    raise Changed


def gone(sitting: AtTheBench, now: Standing, wanted: str) -> None:
    """A complaint of this job that is not there any more: asked by its own question, with what must come before."""
    names = {one.symptom: one.name for one in now.complaints if one.symptom in now.base.again}
    found = named(wanted, names) if wanted else tuple(names)
    if len(found) != 1:
        sitting.face.say("Which complaint is gone? Type: gone NAME" if names else "There is no complaint to be gone.")
        sitting.face.tell(lambda screen: screen.table(list(names.items()), indent=2))
        return
    asked = now.base.again[found[0]]
    cleared_for(sitting, now, asked)
    sitting.keep(Answer(at=desk.now(), check=asked.id, answer="no"))
    raise Changed


def amp_fact(sitting: AtTheBench, wanted: str) -> None:
    """Something about the amp, as FACT=VALUE."""
    try:
        told = amp_words.amp_facts(sitting.base, wanted.split())
    except AnswerError as error:
        sitting.face.say(str(error))
        return
    if not told:
        sitting.face.say("What of the amp? Type: amp FACT=VALUE, as in amp rectifier=5Y3GT")
        return
    entry = AmpFactsTold(at=desk.now(), amp=told)
    sitting.keep(entry)
    sitting.face.say(f"Kept of the amp: {wording.entry_said(sitting.base, entry)}")
    raise Changed
