"""`chopstick close`: the job is handed back, and says what it really was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import JobsFolder, Json, KnowledgeFolder, job_of, now, session_of
from ..screen.screen import Screen, clean

if TYPE_CHECKING:
    from ...engine.knowledge.base import KnowledgeBase
    from ...engine.reasoning.log import Closed, Log
    from ...engine.reasoning.session import Standing
    from ..screen.prompts import Prompt

with late():
    from ...engine.reasoning import answers
    from ...engine.reasoning import log as reasoning_log
    from ...engine.reasoning import minutes_spent as reasoning_minutes_spent
    from ...engine.reference import errors
    from ...engine.reports import closing as reports_closing
    from ..screen import closing as screen_closing
    from ..screen import prompts
    from ..sitting import agreement

JobToClose = Annotated[int, typer.Argument(metavar="JOB", help="Number of the job.")]
Was = Annotated[list[str] | None, typer.Option("--was", metavar="CAUSE", help="A cause it really had.")]
Other = Annotated[
    str | None, typer.Option("--other", metavar="TEXT", help="What it was, if no cause here covers it; or nothing.")
]
Left = Annotated[list[str] | None, typer.Option("--left", metavar="CAUSE", help="A cause left as it is.")]
Minutes = Annotated[float | None, typer.Option("--minutes", min=0, help="Bench minutes it really took.")]
Charged = Annotated[str | None, typer.Option("--charged", metavar="SUM", help="What the owner is charged.")]
Because = Annotated[
    str | None, typer.Option("--because", metavar="TEXT", help="Why it goes back with a hold open or a test not done.")
]
Proposed = Annotated[bool, typer.Option("--as-proposed", help="It was what was repaired, as far as it is proven.")]
Unsaid = Annotated[bool, typer.Option("--unsaid", help="Close it without saying what it was; it then teaches nothing.")]


@dataclass(frozen=True)
class ClosingWords:
    """The words of a `close` command."""

    was: Sequence[str] = ()
    other: str = ""
    left: Sequence[str] = ()
    minutes: float | None = None
    charged: str | None = None
    proposed: bool = False
    unsaid: bool = False
    reason: str = ""

    @property
    def says_what(self) -> bool:
        return bool(self.was or self.other or self.left or self.proposed or self.unsaid)


def close(
    job: JobToClose,
    was: Was = None,
    other: Other = None,
    left: Left = None,
    minutes: Minutes = None,
    charged: Charged = None,
    because: Because = None,
    as_proposed: Proposed = False,
    unsaid: Unsaid = False,
    as_json: Json = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
) -> None:
    """Close a job: what it really was, what is left, what it took.

    At a terminal it asks, and proposes what was repaired. Elsewhere it never asks: say it with the options.
    Closed jobs teach how common each cause is (chopstick jobs learned). To open it again: take JOB --undo.

    \b
    chopstick close 12
    chopstick close 12 --as-proposed --minutes 85 --charged 120
    chopstick close 12 --other "nothing wrong; the guitar cable"
    """
    ending = ClosingWords(was or (), clean(other or "").strip(), left or (), minutes, charged, as_proposed, unsaid,
                          clean(because or "").strip())  # fmt: skip
    code = _close(job, ending, as_json, jobs, kb)
    raise typer.Exit(code)


def _close(number: int, ending: ClosingWords, as_json: bool, jobs: Path | None, kb: Path | None) -> int:
    job = job_of(jobs, number)
    standing = session_of(kb, job).read(job.log)
    if standing.facts.closed:
        raise answers.AnswerError(f"job {number} is closed. To open it again: chopstick take {number} --undo")
    screen = Screen()
    open_ = reports_closing.not_to_go_back(standing)
    if open_ and not ending.reason:
        for sentence in open_:
            screen.trouble(f"chopstick: {sentence}")
        screen.trouble("It does not go back like this. To close it all the same, say why: --because REASON")
        return exits.HELD
    prompt = prompts.Prompt(screen)
    if not ending.says_what:
        if as_json or not prompt.at_terminal:
            raise answers.AnswerError(_say_what(standing, number))
        try:
            ending = _asked(screen, prompt, standing, job.log, ending)
        except prompts.Ended:
            screen.trouble("Stopped; the job is not closed.")
            return exits.INPUT
    entry = closed(standing, ending)
    before = list(job.log)
    job.append(entry)

    made = reports_closing.closing(standing, before, entry, number)
    if as_json:
        screen.json(made)
    else:
        screen_closing.tell(screen, made)
    return exits.DONE


def proposal(now_: Standing) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What it was, by the repairs whose proof did not fail; and what is sure but was not repaired."""
    was = tuple(dict.fromkeys(one.cause for one in now_.facts.repairs if one.proven is not False))
    return was, tuple(one.cause for one in now_.found if one.cause not in was)


def closed(now_: Standing, ending: ClosingWords) -> Closed:
    """The log entry. Raises AnswerError."""
    base = now_.base
    was, left = proposal(now_) if ending.proposed else ((), ())
    was = tuple(dict.fromkeys((*was, *(cause_named(base, word) for word in ending.was))))
    left = tuple(dict.fromkeys((*left, *(cause_named(base, word) for word in ending.left))))
    charged, currency = agreement.amount(ending.charged) if ending.charged else (None, "")
    at = now()
    days = base.shop.warranty_days
    return reasoning_log.Closed(
        at=at, reason=ending.reason, was=was, other=ending.other, left=tuple(id_ for id_ in left if id_ not in was),
        minutes=None if ending.minutes is None else in_minutes(ending.minutes),
        charged=charged, currency=(currency or base.shop.currency or "") if charged is not None else "",
        warranty_until=None if days is None or not now_.facts.repairs else (at + timedelta(days=days)).date(),
    )  # fmt: skip


def in_minutes(given: float) -> float:
    """Minutes that a job can have taken. Raises AnswerError for others."""
    if not 0 <= given <= reasoning_log.MOST:  # nor is what is no number at all
        raise answers.AnswerError(f"{given:g} is not a number of bench minutes; give it as in 85")
    return given


def cause_named(base: KnowledgeBase, word: str) -> str:
    """A cause by its id or its name. Raises AnswerError."""
    folded = word.strip().lower()
    if folded in base.causes:
        return folded
    found = [id_ for id_, cause in base.causes.items() if cause.name.lower() == folded]
    if len(found) == 1:
        return found[0]
    hint = errors.did_you_mean(folded, list(base.causes)) or "All of them: chopstick kb list causes."
    raise answers.AnswerError(f"there is no cause '{clean(word)}'. {hint} What no cause covers goes into --other.")


def _say_what(now_: Standing, number: int) -> str:
    was, _ = proposal(now_)
    named = ", ".join(was) or "nothing was repaired"
    return (
        f"say what it was: --was CAUSE, --left CAUSE, --other TEXT, --as-proposed ({named}), or --unsaid. "
        f"At a terminal, chopstick close {number} asks."
    )


def _asked(screen: Screen, prompt: Prompt, now_: Standing, log: Log, given: ClosingWords) -> ClosingWords:
    """The ending, asked for one thing at a time. Raises Ended."""
    base = now_.base
    was, left = proposal(now_)
    screen.line("What was it really? It teaches the tool how common each cause is.")
    if was:
        screen.bullets([f"{base.causes[id_].name} ({id_})" for id_ in was], indent=2)
    wanted = "Causes, with commas; Enter takes those above; none for none:" if was else "Causes, with commas:"
    named = _causes(screen, prompt, base, wanted, was)
    other = prompt.ask("Anything no cause here covers, or nothing wrong at all? (Enter: no)")
    if left:
        screen.line("These are sure, and were not repaired:")
        screen.bullets([f"{base.causes[id_].name} ({id_})" for id_ in left], indent=2)
    wanted = "Left as they are; Enter takes those above; none for none:" if left else "Any cause left as it is?"
    stays = _causes(screen, prompt, base, wanted, left)
    spent = reasoning_minutes_spent.minutes_spent(now_, log)
    minutes = given.minutes
    while minutes is None:
        typed = prompt.ask(f"Bench minutes it took? (Enter: {spent:.0f}, by the steps that were done)")
        try:
            minutes = in_minutes(float(typed.replace(",", "."))) if typed else spent
        except (ValueError, answers.AnswerError):
            screen.line("A number of minutes, as in 85.")
    charged = given.charged
    while charged is None:
        charged = prompt.ask("What is the owner charged? (Enter: leave it open)")
        try:
            agreement.amount(charged or "0")
        except answers.AnswerError as error:
            screen.line(str(error))
            charged = None
    return ClosingWords(named, other, stays, minutes, charged or None, unsaid=not (named or other or stays))


def _causes(
    screen: Screen, prompt: Prompt, base: KnowledgeBase, message: str, proposed: Sequence[str]
) -> tuple[str, ...]:
    while True:
        typed = prompt.ask(message, list(base.causes))
        if not typed:
            return tuple(proposed)
        if typed.lower() in ("none", "no", "nothing"):
            return ()
        try:
            return tuple(cause_named(base, word) for word in typed.split(",") if word.strip())
        except answers.AnswerError as error:
            screen.line(str(error))
