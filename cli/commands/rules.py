"""`chopstick rules`: write rules of one's own, check them, try them, and ask why one has spoken or has not."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import JobsFolder, Json, KnowledgeFolder, job_of, store_of
from ..knowledge_in_force import ShopFolder, knowledge, layers
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.jobs.shop.trial import Case, TriedTwice
    from ...engine.knowledge import model
    from ...engine.knowledge.base import KnowledgeBase
    from ...engine.knowledge.layers import Layer
    from ...engine.reasoning.rule_verdict import Judged
    from ...engine.reasoning.session import Standing

with late():
    from ...engine.jobs.shop import trial as trying
    from ...engine.knowledge import cache, load
    from ...engine.knowledge import folder as knowledge_folder
    from ...engine.knowledge import layers as knowledge_layers
    from ...engine.reasoning import rule_verdict, session
    from ...engine.reference import errors
    from ...engine.reports import rules as reports_rules
    from ..screen import prompts
    from ..sitting import rule_questions

app = typer.Typer(
    add_completion=False, rich_markup_mode=None, no_args_is_help=True,
    help="Write rules of your own, check them, and try them.",
)  # fmt: skip
Wanted = Annotated[str, typer.Argument(metavar="ID", help="Id of a rule.")]
RulesPath = Annotated[Path | None, typer.Argument(metavar="[FILE]", help="A file or folder over what is in force.")]


@app.command()
def check(path: RulesPath = None, as_json: Json = False, kb: KnowledgeFolder = None, shop: ShopFolder = None) -> None:
    """Find every problem of the rules in force.

    Each is told as path:line:column, and every rule's examples are tried. Exit code 1: there are errors.

    \b
    chopstick rules check
    chopstick rules check our-rules.yaml
    """
    over = _over(path, layers(kb, shop))[1]
    raise typer.Exit(_check(kb, over, as_json))


def _check(kb: Path | None, over: Sequence[Layer], as_json: bool) -> int:
    problems = load.check(kb, over)
    broken = any(problem.severity == "error" for problem in problems)
    made = reports_rules.rules_check(problems, () if broken else tuple(load.load(kb, over).rules.values()))
    screen = Screen()
    if as_json:
        screen.json(made)
        return exits.PROBLEMS if made.errors else exits.DONE
    for problem in problems:
        screen.whole(problem)
    if not made.errors:
        screen.line(f"{made.rules} rules, {made.examples} examples come out as they say.")
    screen.line(f"{made.errors} errors, {made.warnings} warnings")
    if problems:
        screen.line("What a name in [brackets] means: chopstick kb check --explain NAME")
    return exits.PROBLEMS if made.errors else exits.DONE


def _over(path: Path | None, there: Sequence[Layer]) -> tuple[tuple[Layer, ...], tuple[Layer, ...]]:
    """The layers without and with a file that is on trial."""
    if path is None:
        return tuple(there), tuple(there)
    if not path.exists():
        Screen().trouble(f"chopstick: there is no {path}")
        raise typer.Exit(exits.INPUT)
    return knowledge_layers.on_trial(path, there)


@app.command()
def explain(
    id_: Annotated[str | None, typer.Argument(metavar="[ID]", help="Id of a rule; all when left out.")] = None,
    job: Annotated[int | None, typer.Option("--job", metavar="JOB", help="Only what has spoken on this job.")] = None,
    as_json: Json = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> None:
    """Say a rule in plain sentences.

    With where it stands and, with --job, what it rests on there.

    \b
    chopstick rules explain no-earth-stops-power
    chopstick rules explain --job 12
    """
    base, now = _standing(job, jobs, kb, shop)
    chosen = [_rule(base, id_)] if id_ else list(base.rules.values())
    if now is not None and not id_:
        chosen = [rule for rule in chosen if rule.id in now.deduction.spoken]
    rules = tuple(reports_rules.rule_told(base, rule, now) for rule in chosen)
    screen = Screen()
    if as_json:
        screen.json(reports_rules.RulesTold(rules=rules))
        return
    if now is not None and not chosen:
        screen.line("No rule has spoken on this job yet.")
    for one in rules:
        screen.heading(f"{one.rule} ({one.where})")
        screen.pairs([("when", "")] if one.when else [])
        for line in one.when:
            screen.line(line.strip(), indent=2 + len(line) - len(line.lstrip()))
        screen.pairs([*(("then", text) for text in one.then), ("because", one.because)])
        if one.spoken is not None:
            rests = "; ".join(one.rests_on)
            screen.line(f"It has spoken: {rests}" if one.spoken else "It has not spoken on this job.")


@app.command("why-not")
def why_not(
    id_: Wanted,
    job: Annotated[
        int | None, typer.Argument(metavar="[JOB]", help="Number of the job; the last one when left out.")
    ] = None,
    as_json: Json = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> None:
    """Say what keeps a rule silent on a job.

    Which of its conditions fails, and what is known instead.

    \b
    chopstick rules why-not lost-bias-is-urgent 12
    """
    found = job_of(jobs, job)
    base = knowledge(kb, shop, found.path)
    rule = _rule(base, id_)
    now = session.Session(base).read(found.log)
    result = rule_verdict.judged(base, rule.when, rule_verdict.after(now.facts, now.deduction))
    spoken = rule.id in now.deduction.spoken
    screen = Screen()
    if as_json:
        screen.json(reports_rules.why_not(rule, found.number, spoken, result))
        return
    screen.line(f"{rule.id} ({rule.where}): {rule.because}")
    screen.line(f"It {'HAS' if spoken else 'has NOT'} spoken on job {found.number}.", "bold")
    _tree(screen, result, 2)


def _tree(screen: Screen, told_: Judged, indent: int) -> None:
    mark = {"met": "[x]", "not met": "[ ]", "open": "[?]"}[told_.verdict]
    screen.line(f"{mark} {told_.text}{': ' + told_.now if told_.now else ''}", indent=indent)
    for part in told_.parts:
        _tree(screen, part, indent + 4)


@app.command()
def trial(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="A file or folder of rules, in force or new.")],
    samples: Annotated[
        Path | None, typer.Option("--samples", metavar="DIR", help="Sample jobs (answer files that say the truth).")
    ] = None,
    as_json: Json = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> None:
    """Try a file of rules on every job there is.

    Every kept job and every sample job is run again with and without it. What changes is told: rankings, checks,
    minutes and holds, for better or worse against what each amp really had. Exit code 1 when anything gets worse.

    \b
    chopstick rules trial our-rules.yaml
    """
    before, after = _over(path, layers(kb, shop))
    load.load(kb, after)  # broken knowledge is not tried
    base = load.load(kb, before)
    cases = [*trying.kept(store_of(jobs)), *_samples(base, samples, kb)]
    screen = Screen()
    if not as_json:
        screen.line(f"{len(cases)} jobs, each run twice ...")
    done = []
    for one in trying.trial(cases, kb, before, after, cache=cache.default_folder()):
        done.append(one)
        if not as_json:
            _tell_trial(screen, base, one)
    raise typer.Exit(_end_trial(screen, done, as_json))


def _samples(base: KnowledgeBase, chosen: Path | None, root: Path | None) -> list[Case]:
    """Sample jobs: of the folder that was named; else those that came with the program, and those in the program's
    checkout. root: of another knowledge base, to which these do not speak."""
    ours = (
        [knowledge_folder.shipped() / "practice", knowledge_folder.shipped().parent / "tests" / "sessions"]
        if root is None
        else []
    )
    folders = [chosen] if chosen else ours
    if chosen is not None and not chosen.is_dir():
        Screen().trouble(f"chopstick: there is no folder {chosen}")
        raise typer.Exit(exits.INPUT)
    return [case for folder in folders if folder.is_dir() for case in trying.samples(folder, base)]


def _tell_trial(screen: Screen, base: KnowledgeBase, one: TriedTwice) -> None:
    if one.verdict == "same":
        return
    screen.line(f"{one.verdict}: {one.case.name}", "bold")
    screen.bullets([*one.worse, *one.better], indent=2)
    rows = [
        (f"{was:.0%} -> {now:.0%}", base.causes[id_].name if id_ in base.causes else id_,
         "(it had this)" if id_ in one.case.file.truth else "")
        for id_, was, now in one.moved[:4]
    ]  # fmt: skip
    screen.table(rows, indent=2)
    if one.before.checks != one.after.checks:
        gone = [id_ for id_ in one.before.checks if id_ not in one.after.checks]
        new = [id_ for id_ in one.after.checks if id_ not in one.before.checks]
        told_ = [f"no longer: {', '.join(gone)}" if gone else "", f"new: {', '.join(new)}" if new else ""]
        screen.line(f"checks: {'; '.join(filter(None, told_)) or 'in another order'}", indent=2)
    spoke = [f"{id_} speaks" for id_ in one.after.spoken if id_ not in one.before.spoken]
    spoke += [f"{id_} is silent now" for id_ in one.before.spoken if id_ not in one.after.spoken]
    if spoke:
        screen.line(f"rules: {'; '.join(spoke)}", indent=2)
    if abs(one.before.minutes - one.after.minutes) >= 0.5:
        screen.line(f"minutes: {one.before.minutes:.0f} -> {one.after.minutes:.0f}", indent=2)


def _end_trial(screen: Screen, done: Sequence[TriedTwice], as_json: bool) -> int:
    made = reports_rules.trial(done)
    if as_json:
        screen.json(made)
    else:
        screen.line(", ".join(f"{count} {verdict}" for verdict, count in made.counts.items()))
    return exits.PROBLEMS if made.counts["worse"] else exits.DONE


@app.command()
def new(
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Where to write it.")] = None,
    kb: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> None:
    """Write a rule from what you know.

    It asks in plain language, and writes the rule with comments and examples.

    \b
    chopstick rules new --out ~/shop/areas/ours.yaml
    """
    base = knowledge(kb, shop)
    screen = Screen()
    try:
        written = rule_questions.ask(base, screen, prompts.Prompt(screen), out)
    except prompts.Ended:
        screen.trouble("Stopped; nothing was written.")
        raise typer.Exit(exits.INPUT) from None
    over = _over(written, layers(kb, shop))[1]
    screen.line(f"Written: {written}")
    code = _check(kb, over, False)
    screen.line(f"To see what it would change: chopstick rules trial {written}")
    raise typer.Exit(code)


def _rule(base: KnowledgeBase, id_: str) -> model.Rule:
    if id_ not in base.rules:
        hint = errors.did_you_mean(id_, list(base.rules))
        Screen().trouble(f"chopstick: there is no rule '{id_}'. {hint or 'All of them: chopstick rules explain'}")
        raise typer.Exit(exits.INPUT)
    return base.rules[id_]


def _standing(
    job: int | None, jobs: Path | None, kb: Path | None, shop: Path | None
) -> tuple[KnowledgeBase, Standing | None]:
    if job is None:
        return knowledge(kb, shop), None

    found = job_of(jobs, job)
    base = knowledge(kb, shop, found.path)
    return base, session.Session(base).read(found.log)
