"""`chopstick kb report`: what the knowledge base covers, and where it is weak."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from ..desk import Json, KnowledgeFolder, knowledge
from ..knowledge_in_force import layers
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.knowledge.base import KnowledgeBase
    from ...engine.reports.coverage import Coverage, PairTold

with late():
    from ...engine.jobs.shop import trial
    from ...engine.reports import coverage as reports_coverage

WEAKEST = 20
RESTS = ("published", "by_default", "unsourced")


def report(
    pairs: Annotated[int, typer.Option("--pairs", min=0, max=1000, help="How many pairs of causes to show.")] = WEAKEST,
    tried: Annotated[
        Path | None,
        typer.Option("--tried", metavar="DIR", help="Run a folder's sample jobs; name the checks none of them chose."),
    ] = None,
    as_json: Json = False,
    kb: KnowledgeFolder = None,
) -> None:
    """Say what is covered, and where it is weak.

    Entries by area, the causes hardest to tell apart, checks never worth doing, symptoms with a single cause, and
    what the entries rest on.

    \b
    chopstick kb report --pairs 5
    """
    base = knowledge(kb)
    made = reports_coverage.coverage(base, pairs, tuple(_unchosen(base, tried, kb)) if tried else None)
    screen = Screen()
    if as_json:
        screen.json(made)
    else:
        tell(screen, base, made)


def _unchosen(base: KnowledgeBase, folder: Path, root: Path | None) -> Iterator[str]:
    """The checks that no sample job of a folder came to choose, in the order of the files."""
    cases = tuple(trial.samples(folder, base))
    chosen = {check for ended in trial.run(cases, root, layers(root)) for check in ended.checks}
    yield from (id_ for id_ in base.written if id_ not in chosen)


def tell(screen: Screen, base: KnowledgeBase, made: Coverage) -> None:
    """The report for people."""
    sections = [section for section in made.areas[0].counts if any(one.counts[section] for one in made.areas)]
    screen.heading("Entries by area")
    screen.table(
        [
            ("area", *sections),
            *((one.area, *(one.counts[section] for section in sections)) for one in made.areas),
            ("all", *(sum(one.counts[section] for one in made.areas) for section in sections)),
        ],
        indent=2,
    )
    screen.heading("What they rest on")
    screen.table(
        [
            ("area", "a publication", "the area's default", "nothing named"),
            *((one.area, one.published, one.by_default, one.unsourced) for one in made.areas),
            ("all", *(sum(getattr(one, name) for one in made.areas) for name in RESTS)),
        ],
        indent=2,
    )
    screen.heading(f"Causes hardest to tell apart (of {made.sharing} pairs that share a symptom)")
    for pair in made.pairs:
        screen.line(f"{base.causes[pair.one].name} / {base.causes[pair.other].name}", indent=2)
        screen.line(_how(base, pair), "dim", indent=4)
    _listed(screen, "Checks never worth doing", [f"{one.name}: {', '.join(one.instead)}" for one in made.idle])
    if made.unchosen is not None:
        unchosen = [f"{base.checks[id_].name} ({id_})" for id_ in made.unchosen]
        _listed(screen, "Checks that no sample job chose", unchosen)
    _listed(screen, "Symptoms with a single cause", [base.symptoms[id_].name for id_ in made.single])
    _listed(screen, "Causes that no single finding confirms", [base.causes[id_].name for id_ in made.unconfirmed])


def _listed(screen: Screen, title: str, texts: list[str]) -> None:
    screen.heading(f"{title}: {len(texts) or 'none'}")
    screen.bullets(texts, indent=2)


def _how(base: KnowledgeBase, pair: PairTold) -> str:
    if not pair.ever.check:
        how = "nothing separates them"
    else:
        how = f"{base.checks[pair.ever.check].name}: odds shift {pair.ever.factor:.1f} times"
    early = f"; up to stage '{pair.stage}', where one can be confirmed: {pair.in_time.factor:.1f} times"
    late = early if pair.in_time != pair.ever else ""
    return how + late + (f"; inseparable: {pair.because}" if pair.because else "")
