"""`chopstick take`: enter answers, readings, holds and repairs without prompts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import CircuitName, Details, JobsFolder, Json, KnowledgeFolder, job_of, session_of
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.reasoning.holds import HoldState
    from ...engine.reasoning.session import Session
    from ..sitting.given_on_the_line import Words

with late():
    from ...engine.reports import standing
    from ..sitting import agreement, given_on_the_line
    from . import show, take_sheet

Job = Annotated[int, typer.Argument(help="Number of the job.")]
Values = Annotated[
    list[str] | None,
    typer.Argument(metavar="CHECK=VALUE ...", help="Answers and readings; CHECK.READING=VALUE for one of several."),
]
Holds = Annotated[
    list[str] | None,
    typer.Option("--hold", metavar="ID=yes", help="Answer a hold or a move; volts of the filter nodes as ID=3V,1V."),
]
Because = Annotated[str | None, typer.Option("--because", metavar="TEXT", help="Why a danger is taken on, by whom.")]
Repairs = Annotated[
    list[str] | None, typer.Option("--repair", metavar="ID", help="A repair was done: ID, or ID:CAUSE.")
]
Complaints = Annotated[list[str] | None, typer.Option("--complaint", metavar="TEXT", help="A further complaint.")]
Withdraw = Annotated[
    list[str] | None, typer.Option("--withdraw", metavar="SYMPTOM", help="A complaint was not meant: it is taken back.")
]
AmpFacts = Annotated[list[str] | None, typer.Option("--amp", metavar="FACT=VALUE", help="Something about the amp.")]
Awaits = Annotated[
    list[str] | None, typer.Option("--await", metavar="PART[=DAY]", help="A part was ordered; the day it is due.")
]
ArrivedParts = Annotated[list[str] | None, typer.Option("--arrived", metavar="PART", help="A part awaited is here.")]
Approve = Annotated[str | None, typer.Option("--approve", metavar="WHO", help="The estimate was approved, by whom.")]
UpTo = Annotated[str | None, typer.Option("--up-to", metavar="SUM", help="With --approve: the most it may come to.")]
Decline = Annotated[str | None, typer.Option("--decline", metavar="WHO", help="The estimate was declined, by whom.")]
Notes = Annotated[list[str] | None, typer.Option("--note", metavar="TEXT", help="A note to keep with the job.")]
Photos = Annotated[
    list[str] | None, typer.Option("--photo", metavar="FILE", help="A photograph to keep: FILE, or FILE=WHAT IT SHOWS.")
]
Undo = Annotated[bool, typer.Option("--undo", help="First take back the last thing entered.")]
Sheet = Annotated[
    bool, typer.Option("--sheet", help="Type a filled-in checklist back, line by line; from a pipe too, as '7 ok'.")
]
SheetFile = Annotated[Path | None, typer.Option("--lines", metavar="FILE", help="With --sheet: the lines from a file.")]
Believe = Annotated[bool, typer.Option("--believe", help="Believe readings outside their plausible range.")]


def take(
    job: Job,
    values: Values = None,
    hold: Holds = None,
    because: Because = None,
    repair: Repairs = None,
    complaint: Complaints = None,
    withdraw: Withdraw = None,
    amp: AmpFacts = None,
    note: Notes = None,
    photo: Photos = None,
    detail: Details = None,
    await_: Awaits = None,
    arrived: ArrivedParts = None,
    approve: Approve = None,
    up_to: UpTo = None,
    decline: Decline = None,
    sheet: Sheet = False,
    lines: SheetFile = None,
    circuit: CircuitName = None,
    undo: Undo = False,
    believe: Believe = False,
    as_json: Json = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
) -> None:
    """Enter answers and readings without prompts.

    All of what is given is entered or, when anything is wrong, none of it. Amp facts and complaints are taken first,
    then holds, then repairs, then checks, so that a repair and its proof go in one command. What an open hold bars is
    refused (exit code 3).

    \b
    chopstick take 12 sweep-pot-ohms=jumps --hold discharged=3V,1V
    chopstick take 12 plate-dissipation.plate-to-cathode=392 \\
        plate-dissipation.cathode-current=31mA --hold ready-for-live=yes
    chopstick take 12 --repair clean-control-track turn-knobs-and-listen=none
    chopstick take 12 --circuit single-ended-6v6gt v1a.plate=234 \\
        --hold ready-for-live=yes
    chopstick take 12 --complaint "it hums too" --withdraw random-crackle
    chopstick take 12 --undo --note "that was the other channel"
    chopstick take 12 --photo socket.jpg="burnt at pin 3"
    chopstick take 12 --detail promised=2026-03-14 \\
        --approve "the owner, by phone" --up-to 240
    chopstick take 12 --sheet
    """
    if sheet or lines:
        code = take_sheet.sheet_taken(job, lines, as_json, jobs, kb)
        raise typer.Exit(code)

    agreeing = agreement.Agreeing(detail or (), await_ or (), arrived or (), approve, up_to, decline)
    words = given_on_the_line.Words(
        values or (), hold or (), repair or (), complaint or (), withdraw or (), amp or (), note or (),
        photo or (), undo, believe, circuit, agreeing, because or "",
    )
    code = _take(job, words, as_json, jobs, kb)
    raise typer.Exit(code)


def _take(number: int, words: Words, as_json: bool, jobs: Path | None, kb: Path | None) -> int:
    job = job_of(jobs, number)
    session = session_of(kb, job)
    got = given_on_the_line.kept(session, job, words)
    if not got.entries:
        nothing = "nothing was given to enter; see chopstick take --help"
        for message in (
            map(given_on_the_line.said, got.wrong)
            if got.wrong
            else (_barred_by(session, got.barred) if got.barred else nothing,)
        ):
            Screen().trouble(f"chopstick: {message}")
        Screen().trouble("Nothing was entered.")
        return exits.HELD if got.barred else exits.INPUT
    before, after = session.read(job.log[: -len(got.entries)]), session.read(job.log)
    if as_json:
        Screen().json(standing.standing_of(after, job.log, job.number))
    else:
        show.changed(Screen(), before, after, job, len(got.entries))
    return exits.HELD if after.next.kind == "held" else exits.DONE


def _barred_by(session: Session, hold: HoldState) -> str:
    move = session.base.moves.get(hold.hold)
    return given_on_the_line.barred_by(hold, asks_volts=move is not None and move.volts is not None)
