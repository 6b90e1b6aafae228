"""`chopstick bench`: the guided session, one check at a time; or a whole session from a file of answers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import (
    JobNumber,
    JobsFolder,
    Json,
    KnowledgeFolder,
    job_of,
    knowledge,
    level,
    now,
    session,
    session_of,
)
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.reasoning.script import AnswerFile
    from ...engine.reasoning.session import Session

with late():
    import gc
    import sys

    from ...engine import caution
    from ...engine.knowledge import watch as knowledge_watch
    from ...engine.reasoning import script
    from ...engine.reference import errors
    from ...engine.reports import standing
    from .. import knowledge_in_force
    from ..screen import prompts, report, story
    from ..sitting import bench_sitting
    from ..sitting import face as sitting_face

Answers = Annotated[
    Path | None,
    typer.Option("--answers", metavar="FILE", help="Run a whole session from a YAML file, without prompts."),
]


def bench(
    job: JobNumber = None,
    answers: Answers = None,
    as_json: Json = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
) -> None:
    """Work through a job, one check at a time.

    The check most worth doing comes next; holds and what bears on safety come first. Every answer is
    on the disk before the next question. Stop whenever you like; the same command goes on from there.
    Exit code 3: the work stands at an open hold; 2: something that was entered could not be kept; 1: a job from a
    file did not come to its end.

    \b
    chopstick bench                    go on with the job worked on last
    chopstick bench 12                 step by step: each one explained
    chopstick bench 12 --level senior  terse, several readings on one line
    chopstick bench 12 --plain         sentences, for a screen reader
    chopstick bench --answers job.yaml --json

    \b
    What to type at a question, for example:
      yes                        an answer, or the beginning of one
      287.4   4k7   -38V   OL    a reading, in trade notation
      plate 288 cathode 1.4      the readings of one check on a line
      sweep-pot-ohms=jumps look-at-load=no
                                 several checks on a line
      back   skip   why   ?   note TEXT   photo FILE   again   stop
                                 words that steer; help says what they do
    """
    code = _from_file(answers, as_json, kb) if answers else _by_hand(job, as_json, jobs, kb)
    raise typer.Exit(code)


def _by_hand(number: int | None, as_json: bool, jobs: Path | None, kb: Path | None) -> int:
    screen = Screen(sys.stderr if as_json else None)
    job = job_of(jobs, number)
    screen.line(caution.STANDING)  # there to read while the rest is loaded

    base = knowledge(kb, job.path)
    watch = knowledge_watch.Watch(base, kb, lambda: knowledge_in_force.layers(kb, job=job.path))
    sitting = bench_sitting.Sitting(
        job, session_of(kb, job, base), sitting_face.face(screen, prompts.Prompt(screen)), level(), watch
    )
    gc.freeze()  # the knowledge stays: looking through it for garbage would hold up an answer
    code = sitting.run()
    if as_json:
        Screen().json(standing.standing_of(sitting.read(), job.log, job.number))
    return code


def _from_file(path: Path, as_json: bool, kb: Path | None) -> int:
    opened = session(kb, level("senior"))
    done = script.run(_answers(path, opened), opened, now)
    if as_json:
        Screen().json(standing.standing_of(done.standing, done.log, happened=done.happened))
    else:
        screen = Screen()
        story.steps(screen, opened, done)
        report.ending(screen, done.standing, done.log)
    if done.happened and done.happened[-1].remark == script.ENDLESS:
        Screen().trouble(f"chopstick: the job in {path} did not come to its end; {script.ENDLESS}.")
        return exits.PROBLEMS
    return exits.HELD if done.standing.next.kind == "held" else exits.DONE


def _answers(path: Path, opened: Session) -> AnswerFile:
    """The answer file. A file that does not fit is an input error, not a problem of the knowledge base."""
    try:
        return script.read_answers(path, opened)
    except errors.KnowledgeError as error:
        screen = Screen()
        for problem in error.problems:
            screen.trouble(problem)
        raise typer.Exit(exits.INPUT) from None
