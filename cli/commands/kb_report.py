"""`chopstick kb report`: what the knowledge base covers, and where it is weak."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ..desk import Json, KnowledgeFolder, knowledge, told
from ..knowledge_in_force import layers
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.knowledge.base import KnowledgeBase
    from ...engine.knowledge.telling_apart import Pair, Parting
    from ..shapes.shapes import AreaCountShape, CoverageShape, PairShape, PartingShape

WEAKEST = 20
PRACTICE = "common-practice"
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

    Entries by area, the causes that are told apart worst, checks never worth doing, symptoms with a single cause, and
    what the entries rest on.

    \b
    chopstick kb report --pairs 5
    """
    with told():
        base = knowledge(kb)
        shape = coverage(base, pairs, tuple(_unchosen(base, tried, kb)) if tried else None)
    screen = Screen()
    if as_json:
        screen.json(shape)
    else:
        tell(screen, base, shape)


def coverage(base: KnowledgeBase, most_pairs: int, unchosen: tuple[str, ...] | None = None) -> CoverageShape:
    """The whole report."""
    from ...engine.knowledge.telling_apart import confirmed_at, pairs
    from ...engine.knowledge.useless_checks import idle
    from ..shapes import shapes

    found = pairs(base)
    return shapes.CoverageShape(
        areas=tuple(_counts(base)),
        sharing=len(found),
        pairs=tuple(_pair(base, pair) for pair in found[:most_pairs]),
        idle=tuple(
            shapes.IdleShape(check=one.check, name=base.checks[one.check].name, instead=one.instead)
            for one in idle(base)
        ),
        unchosen=unchosen,
        single=tuple(id_ for id_ in base.symptoms if len(base.causes_showing.get(id_, ())) == 1),
        unconfirmed=tuple(id_ for id_, (_, finding) in confirmed_at(base).items() if not finding),
    )


def _counts(base: KnowledgeBase) -> Iterator[AreaCountShape]:
    from ...engine.knowledge.model import SECTIONS, Sourced
    from ..shapes import shapes

    for area in base.areas.values():
        counts = {section: len(getattr(area, section)) for section in SECTIONS}
        entries = [one for section in SECTIONS for one in getattr(area, section).values() if isinstance(one, Sourced)]
        yield shapes.AreaCountShape(
            area=area.area,
            title=area.title,
            counts=counts,
            by_default=sum(not one.sources and area.source is not None for one in entries),
            published=sum(bool(set(one.sources) - {PRACTICE}) for one in entries),
            unsourced=sum(not base.rests_on(area, one) for one in entries),
        )


def _pair(base: KnowledgeBase, pair: Pair) -> PairShape:
    from ...engine.knowledge.telling_apart import named_inseparable
    from ..shapes import shapes

    named = named_inseparable(base).get(frozenset((pair.one, pair.other)))
    return shapes.PairShape(
        one=pair.one, other=pair.other, stage=pair.stage, in_time=_parting(pair.in_time), ever=_parting(pair.ever),
        told_apart=pair.told_apart, because=named.because if named else "",
    )  # fmt: skip


def _parting(parting: Parting) -> PartingShape:
    from ..shapes import shapes

    return shapes.PartingShape(
        check=parting.check, finding=parting.finding, words=parting.words, factor=parting.factor
    )


def _unchosen(base: KnowledgeBase, folder: Path, root: Path | None) -> Iterator[str]:
    """The checks that no sample job of a folder came to choose, in the order of the files."""
    from ...engine.jobs.shop import trial

    cases = tuple(trial.samples(folder, base))
    chosen = {check for ended in trial.run(cases, root, layers(root)) for check in ended.checks}
    yield from (id_ for id_ in base.written if id_ not in chosen)


def tell(screen: Screen, base: KnowledgeBase, shape: CoverageShape) -> None:
    """The report for people."""
    sections = [section for section in shape.areas[0].counts if any(one.counts[section] for one in shape.areas)]
    screen.heading("Entries by area")
    screen.table(
        [
            ("area", *sections),
            *((one.area, *(one.counts[section] for section in sections)) for one in shape.areas),
            ("all", *(sum(one.counts[section] for one in shape.areas) for section in sections)),
        ],
        indent=2,
    )
    screen.heading("What they rest on")
    screen.table(
        [
            ("area", "a publication", "the area's default", "nothing named"),
            *((one.area, one.published, one.by_default, one.unsourced) for one in shape.areas),
            ("all", *(sum(getattr(one, name) for one in shape.areas) for name in RESTS)),
        ],
        indent=2,
    )
    screen.heading(f"Causes told apart worst (of {shape.sharing} pairs that share a symptom)")
    for pair in shape.pairs:
        screen.line(f"{base.causes[pair.one].name} / {base.causes[pair.other].name}", indent=2)
        screen.line(_how(base, pair), "dim", indent=4)
    _listed(screen, "Checks never worth doing", [f"{one.name}: {', '.join(one.instead)}" for one in shape.idle])
    if shape.unchosen is not None:
        unchosen = [f"{base.checks[id_].name} ({id_})" for id_ in shape.unchosen]
        _listed(screen, "Checks that no sample job chose", unchosen)
    _listed(screen, "Symptoms with a single cause", [base.symptoms[id_].name for id_ in shape.single])
    _listed(screen, "Causes that no single finding confirms", [base.causes[id_].name for id_ in shape.unconfirmed])


def _listed(screen: Screen, title: str, texts: list[str]) -> None:
    screen.heading(f"{title}: {len(texts) or 'none'}")
    screen.bullets(texts, indent=2)


def _how(base: KnowledgeBase, pair: PairShape) -> str:
    if not pair.ever.check:
        how = "nothing parts them"
    else:
        how = f"{base.checks[pair.ever.check].name}: odds shift {pair.ever.factor:.1f} times"
    early = f"; up to stage '{pair.stage}', where one can be confirmed: {pair.in_time.factor:.1f} times"
    late = early if pair.in_time != pair.ever else ""
    return how + late + (f"; inseparable: {pair.because}" if pair.because else "")
