"""`chopstick demo`: a whole job of our own scenario, run through the real engine."""

from __future__ import annotations

from pathlib import Path

import typer

from ...engine.late import late
from .. import exits
from ..desk import Json, KnowledgeFolder, knowledge, now
from ..screen.screen import Screen

with late():
    from ...engine.knowledge import folder
    from ...engine.reasoning import script
    from ...engine.reasoning import session as reasoning_session
    from ...engine.reports import standing
    from ..screen import rounds, views


def demo(as_json: Json = False, kb: KnowledgeFolder = None) -> None:
    """Watch a whole job, from words to proof.

    A combo with several unrelated faults. It needs no terminal. The answers come from the file demo.yaml of the
    knowledge base; everything else is worked out as on any job.

    \b
    chopstick demo
    chopstick demo --json
    """
    code = _demo(as_json, kb)
    raise typer.Exit(code)


def _demo(as_json: bool, root: Path | None) -> int:
    session = reasoning_session.Session(knowledge(root))
    done = script.run(script.read_answers((root or folder.shipped()) / "demo.yaml", session), session, now)
    screen = Screen()
    if as_json:
        screen.json(standing.standing_of(done.standing, done.log, happened=done.happened))
    else:
        views.caution(screen)
        rounds.rounds(screen, session, done)
        rounds.ending(screen, done.standing, done.log)
    return exits.HELD if done.standing.next.kind == "held" else exits.DONE
