"""`chopstick practice`: an amp with hidden faults to find, with nothing at stake."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import Json, KnowledgeFolder, level, now, session
from ..screen.screen import Screen

with late():
    from ...engine import caution
    from ...engine.practice import circuits, score
    from ...engine.reports import practice as reports_practice
    from ..screen import practice_result, prompts
    from ..sitting import face as sitting_face
    from ..sitting import practice_sitting

Seed = Annotated[int | None, typer.Option("--seed", help="The same number brings back the same amp.", min=0)]
Alone = Annotated[bool, typer.Option("--alone", help="Without proposals or ranking: all by yourself.")]


def practice(seed: Seed = None, alone: Alone = False, as_json: Json = False, kb: KnowledgeFolder = None) -> None:
    """Find the faults of a practice amp.

    You are told what the player says. Take the check that is proposed (go), or choose your own (do CHECK); the amp
    answers as it would on the bench. Repair what you find (repair NAME), and finish when you think it is fixed.
    Faults found, minutes, checks and unsafe moves are scored, and the plan's own order is shown to compare. Nothing is
    kept among the jobs, and a practice that is stopped can't be resumed; its seed brings back the same amp.

    \b
    chopstick practice                    a random amp
    chopstick practice --seed 7           the seventh, and the same each time
    chopstick practice --seed 7 --alone   nothing proposed

    \b
    What to type, for example:
      go                    do what is proposed
      do plate-volts        another check, by its id or words of its name
      clear discharged      answer a hold: it is so
      repair right lamp     a repair, by words of its name
      find volume           checks and repairs with that word
      finish                the amp is fixed: show the score
    """
    code = _practice(int(time.time()) % 10_000 if seed is None else seed, alone, as_json, kb)
    raise typer.Exit(code)


def _practice(seed: int, alone: bool, as_json: bool, root: Path | None) -> int:
    screen = Screen(sys.stderr if as_json else None)
    screen.line(caution.STANDING)
    opened = session(root, level())
    try:
        amp = circuits.choose(opened, root, seed)
    except LookupError as error:
        screen.trouble(f"chopstick: {error}")
        return exits.INPUT
    sitting = practice_sitting.Practising(
        amp, opened, sitting_face.face(screen, prompts.Prompt(screen)), seed, level(), alone
    )
    sitting.run()
    screen.line("Going through it as the plan would have ...")
    result = score.score(opened, amp, sitting.job.log, sitting.unsafe, now)
    if as_json:
        Screen().json(reports_practice.practice_score(amp.base, amp, seed, result))
    else:
        practice_result.show(screen, amp.base, amp, seed, result)
    return exits.DONE
