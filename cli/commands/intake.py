"""`chopstick intake`: the amp and the complaints in the player's words; then what to expect and have ready."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import (
    CircuitName,
    Details,
    JobsFolder,
    Json,
    KnowledgeFolder,
    circuits,
    knowledge,
    now,
    session,
    session_of,
    store_of,
)
from ..screen.screen import Screen, clean

if TYPE_CHECKING:
    from ...engine.knowledge.base import KnowledgeBase
    from ...engine.knowledge.model import AmpValue
    from ...engine.reasoning.log import LogEntry
    from ..screen.prompts import Prompt

with late():
    from ...engine import caution
    from ...engine.jobs import entering
    from ...engine.reasoning import amp_answers, answers, log
    from ...engine.reasoning import facts_that_matter as reasoning_facts_that_matter
    from ...engine.reasoning import words as reasoning_words
    from ...engine.reports import triage as reports_triage
    from ..screen import prompts, volts
    from ..screen import triage as screen_triage
    from ..sitting import agreement, amp_words, photos

Title = Annotated[str | None, typer.Option("--title", help="What the job is called.")]
AmpFacts = Annotated[list[str] | None, typer.Option("--amp", metavar="FACT=VALUE", help="Something about the amp.")]
Complaints = Annotated[
    list[str] | None,
    typer.Option("--complaint", metavar="TEXT", help="What the player says, or SYMPTOM=TEXT; then nothing is asked."),
]
Photos = Annotated[
    list[str] | None, typer.Option("--photo", metavar="FILE", help="A photograph to keep: FILE, or FILE=WHAT IT SHOWS.")
]
ASKED = {
    "serial": "Serial number?",
    "work-before": "What have others done to it, as far as the owner knows?",
    "accessories": "What came with it (foot switch, cover ...), with commas?",
    "priority": "What matters most to the owner?",
    "budget": "What is the most the owner wants to spend?",
    "promised": "What day is it promised for, as in 2026-03-14?",
}


def intake(
    title: Title = None,
    amp: AmpFacts = None,
    complaint: Complaints = None,
    photo: Photos = None,
    detail: Details = None,
    circuit: CircuitName = None,
    as_json: Json = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
) -> None:
    """Open a job with what the player says.

    Prints the holds, likely areas and causes, the tools and parts to have ready, and a band of bench minutes.

    \b
    chopstick intake                      be asked, one question at a time
    chopstick intake --complaint "it crackles when I turn the volume" \\
        --complaint hum-constant="it hums all the time" \\
        --amp power-tube=6V6GT --amp bias=cathode \\
        --photo front.jpg="as it came in"
    """
    code = _open(title, amp or [], complaint or [], detail or [], photo or [], circuit, as_json, jobs, kb)
    raise typer.Exit(code)


def _open(
    title: str | None, amp: list[str], given: list[str], details: list[str], pictures: list[str],
    circuit: str | None, as_json: bool,
    jobs: Path | None, kb: Path | None,
) -> int:  # fmt: skip
    screen = Screen(sys.stderr if as_json else None)
    prompt = prompts.Prompt(screen)
    extra: list[LogEntry] = [photos.entry(one) for one in pictures]
    told_: list[tuple[str, str]] = []
    facts: dict[str, AmpValue] = {}
    if given:
        base = knowledge(kb)
        extra += list(agreement.entries(agreement.Agreeing(details), (), base.shop.currency or ""))
        facts = amp_words.amp_facts(base, amp)
        told_ = amp_words.complaints(base, [clean(one) for one in given])
    else:
        screen.line(caution.STANDING)
        screen.line()
        screen.line("Enter leaves a question open.")
        try:
            title = title or prompt.ask("What should the job be called?")
            base = knowledge(kb)
            extra += list(agreement.entries(agreement.Agreeing(details), (), base.shop.currency or ""))
            facts = amp_words.amp_facts(base, amp)
            first = [name for name, fact in base.amp_facts.items() if fact.first]
            if first:
                screen.line("First what bears on safety, before the amp is plugged in.")
                _facts(screen, prompt, base, first, facts)
            told_ = _complaints(screen, prompt, base)
            if told_:
                screen.line()
                screen.line("About the amp, as far as it matters for this; Enter where it is not known.")
                matter = reasoning_facts_that_matter.facts_that_matter(base, [symptom for _, symptom in told_])
                _facts(screen, prompt, base, [name for name in matter if name not in first], facts)
            if told_ and prompt.at_terminal:
                extra += _details(screen, prompt, base, details)
        except prompts.Ended:
            if told_:
                screen.line("Input ended; what was given so far is taken.")
    if not told_:
        screen.trouble("No complaint was given, so no job was opened.")
        return exits.INPUT
    return _opened(clean(title or told_[0][0]), facts, told_, extra, circuit, base, kb, jobs, as_json)


def _opened(
    title: str,
    facts: dict[str, AmpValue],
    complaints: list[tuple[str, str]],
    extra: list[LogEntry],
    circuit: str | None,
    base: KnowledgeBase,
    kb: Path | None,
    jobs: Path | None,
    as_json: bool,
) -> int:
    if circuit is not None:
        extra = [*extra, entering.choice_of_circuit(session(kb, base=base), circuit, now())]
    job = store_of(jobs).create(
        log.Opened(at=now(), title=title, fingerprint=base.fingerprint, amp=facts),
        *(log.Complaint(at=now(), says=words, symptom=symptom) for words, symptom in complaints),
        *extra,
    )
    standing = session_of(kb, job, base).read(job.log)
    made = reports_triage.triage(standing, job)
    if as_json:
        Screen().json(made)
    else:
        screen_triage.tell(Screen(), standing, made)
        if not circuit:
            volts.propose(Screen(), circuits(kb), facts, job.number)
    return exits.DONE


def _complaints(screen: Screen, prompt: Prompt, base: KnowledgeBase) -> list[tuple[str, str]]:
    """The complaints, each confirmed to mean a symptom."""
    given: list[tuple[str, str]] = []
    while True:
        words = prompt.ask("What does the player say?" if not given else "What else? (Enter when that is all)")
        if not words:
            if given:
                return given
            screen.line("A job needs at least one complaint. The player's own words do: it hums, it rattles ...")
            if not prompt.at_terminal:
                return given
            continue
        found = reasoning_words.matches(base, words)
        if not found:
            screen.line("No known symptom comes close. Try other words; all of them: chopstick kb list symptoms")
            continue
        screen.numbered([f"{base.text(one.symptom)}. {base.symptoms[one.symptom].ask}" for one in found], indent=2)
        symptom = _chosen(screen, prompt, [one.symptom for one in found])
        if symptom in {known for _, known in given}:
            screen.line("That is on file already.")
        elif symptom:
            given.append((words, symptom))
        else:
            screen.line("Left out. Say it in other words if you like.")


def _chosen(screen: Screen, prompt: Prompt, symptoms: list[str]) -> str:
    """Which of the symptoms is meant: a number, yes for the first, none for none."""
    while True:
        typed = prompt.ask("Which is meant? [1, 2 ... or none; yes is 1]").lower()
        if typed in ("none", "no", "n", "0"):
            return ""
        if typed in ("", "yes", "y"):
            return symptoms[0]
        if typed.isdecimal() and 1 <= int(typed) <= len(symptoms):
            return symptoms[int(typed) - 1]
        if typed in symptoms:
            return typed
        screen.line(f"Type a number from 1 to {len(symptoms)}, or none.")


def _details(screen: Screen, prompt: Prompt, base: KnowledgeBase, given: list[str]) -> list[LogEntry]:
    """What came with the amp and what its owner wants; each may be left open."""
    screen.line()
    screen.line("About the job; Enter leaves a thing open.")
    there = {word.partition("=")[0].strip() for word in given}
    told_: list[LogEntry] = []
    for key, ask in ASKED.items():
        while key not in there and (typed := prompt.ask(ask)):
            try:
                told_.append(agreement.details([f"{key}={typed}"], base.shop.currency or ""))
                break
            except answers.AnswerError as error:
                screen.line(str(error))
    return told_


def _facts(screen: Screen, prompt: Prompt, base: KnowledgeBase, names: list[str], facts: dict[str, AmpValue]) -> None:
    """Some amp facts; each may be left open. Adds to `facts`."""
    for name in names:
        if name in facts:
            continue
        fact = base.amp_facts[name]
        known = amp_answers.choices(base, fact)
        if known:
            said = ", ".join(f"{key} ({text})" if text else key for key, text in known.items())
            screen.line(said, indent=2)
        while typed := prompt.ask(fact.ask, list(known)):
            if typed.lower() in ("skip", "?", "unknown", "not known", "don't know", "can't tell"):
                break
            try:
                facts[name] = amp_answers.amp_value(base, name, typed)
                break
            except answers.AnswerError as error:
                screen.line(str(error))
