"""`chopstick kb`: look at the knowledge base, and check it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from ...engine.late import late
from .. import exits
from ..desk import Json, KnowledgeFolder, knowledge
from ..knowledge_in_force import layers
from ..screen.screen import Screen
from .kb_dangers import list_dangers
from .kb_report import report

if TYPE_CHECKING:
    from ...engine.knowledge import model
    from ...engine.knowledge.base import KnowledgeBase
    from ...engine.knowledge.overlay import Origin
    from ...engine.reports.knowledge import WholeEntry

with late():
    from ...engine.circuit import collection
    from ...engine.knowledge import glossary as of_trade
    from ...engine.knowledge import lint as knowledge_lint
    from ...engine.knowledge import load, overlay, part_use
    from ...engine.knowledge import model as knowledge_model
    from ...engine.reference import errors
    from ...engine.reports import knowledge as reports_knowledge
    from ..screen import glossary

app = typer.Typer(
    add_completion=False, rich_markup_mode=None, help="Look at the knowledge base, and check it.", no_args_is_help=True
)
app.command()(report)
Section = Literal[
    "symptoms", "findings", "checks", "causes", "repairs", "holds", "rules", "parts", "prices", "inseparable", "terms",
    "dangers",
]  # fmt: skip


@app.command()
def check(
    explain: Annotated[str | None, typer.Option("--explain", metavar="LINT", help="What a lint is for.")] = None,
    as_json: Json = False,
    kb: KnowledgeFolder = None,
) -> None:
    """Find every problem of the knowledge base.

    Each is told as path:line:column. Exit code 1 when there are errors.

    \b
    chopstick kb check
    chopstick kb check --explain unreachable-cause
    """
    code = _explain(explain, as_json) if explain else _check(as_json, kb)
    raise typer.Exit(code)


def _check(as_json: bool, root: Path | None) -> int:
    over = layers(root)
    circuits = collection.Circuits(root, over)
    problems = [*load.check(root, over), *circuits.problems()]
    counts: dict[str, int] = {}
    if not any(problem.severity == "error" for problem in problems):
        base = load.load(root, over)
        problems += collection.unmet(base, circuits)
        counts = {
            section: len(base.written if section == "checks" else getattr(base, section))
            for section in (*knowledge_model.SECTIONS, "terms")
        }
        counts["circuits"] = len(circuits.names())
    made, screen = reports_knowledge.knowledge_check(problems, counts), Screen()
    if as_json:
        screen.json(made)
        return exits.PROBLEMS if made.errors else exits.DONE
    for problem in problems:
        screen.whole(problem)
    if counts:
        screen.line(", ".join(f"{count} {section}" for section, count in counts.items()))
    screen.line(f"{made.errors} errors, {made.warnings} warnings")
    if problems:
        screen.line("What a name in [brackets] means: chopstick kb check --explain NAME")
    return exits.PROBLEMS if made.errors else exits.DONE


def _explain(name: str, as_json: bool) -> int:
    known = {lint.id: (lint.severity, lint.manual) for lint in knowledge_lint.lints()} | collection.manuals()
    screen = Screen()
    if name not in known:
        screen.trouble(f"chopstick: there is no lint '{name}'. {errors.did_you_mean(name, list(known))}".strip())
        screen.trouble(f"Known: {', '.join(known)}")
        return exits.INPUT
    severity, manual = known[name]
    if as_json:
        screen.json(reports_knowledge.LintManual(lint=name, severity=severity, manual=" ".join(manual.split())))
    else:
        screen.line(f"{name} ({severity})", "bold")
        screen.line(" ".join(manual.split()))
    return exits.DONE


@app.command("list")
def list_(
    section: Annotated[Section | None, typer.Argument(help="One kind of entry; all when left out.")] = None,
    word: Annotated[str | None, typer.Option("--word", help="Only entries whose id or name has this word.")] = None,
    as_json: Json = False,
    kb: KnowledgeFolder = None,
) -> None:
    """List the entries, by area.

    Of parts also how many entries name them, and what they cost. Dangers are the causes that can do harm: what each
    bars while it is likely, and the findings by which it does.

    \b
    chopstick kb list causes --word capacitor
    chopstick kb list dangers --word cord
    chopstick kb list parts --word capacitor
    """
    base = knowledge(kb)
    if section == "dangers":
        list_dangers(Screen(), base, word, as_json)
        return
    terms = base.terms.values() if section in (None, "terms") else ()
    of_parts = _of_parts(base) if section in (None, "parts") else {}
    found = [
        reports_knowledge.EntryListed.made_of(
            entry,
            section=kind,
            name=_name(entry),
            area=area,
            **(of_parts.get(entry.id, {}) if kind == "parts" else {}),
        )
        for area, kind, entry in [*_entries(base), *(("glossary", "terms", term) for term in terms)]
        if section in (None, kind) and (not word or word.lower() in f"{entry.id} {_name(entry)}".lower())
    ]
    screen = Screen()
    if as_json:
        screen.json(reports_knowledge.EntriesListed(entries=tuple(found)))
        return
    for area, kind in dict.fromkeys((one.area, one.section) for one in found):
        screen.heading(f"{base.areas[area].title}: {kind}" if area in base.areas else "Words of the trade")
        mine = [one for one in found if (one.area, one.section) == (area, kind)]
        if kind == "parts":
            rows = [(one.id, one.name, str(one.uses), "; ".join(one.prices) or "no price") for one in mine]
            screen.table([("part", "name", "named by", "price"), *rows], indent=2)
        else:
            screen.table([(one.id, one.name) for one in mine], indent=2)


def _of_parts(base: KnowledgeBase) -> dict[str, dict[str, Any]]:
    """For each part, how many entries name it, and its prices in words."""
    return {
        id_: {"uses": len(named), "prices": tuple(_price(one) for one in base.parts_list.prices(base.parts[id_]))}
        for id_, named in part_use.users(base).items()
    }


def _price(price: model.Price) -> str:
    holds = [f"for {' to '.join(price.value)}"] if price.value else []
    holds += [f"up to {price.rating}"] if price.rating else []
    return " ".join([f"{price.each:.2f} {price.currency}", *holds])


def _entries(base: KnowledgeBase) -> list[tuple[str, str, model.Entry]]:
    return [
        (area.area, section, entry)
        for area in base.areas.values()
        for section in knowledge_model.SECTIONS
        for entry in getattr(area, section).values()
    ]


def _name(entry: object) -> str:
    return str(next(
        value
        for name in ("name", "word", "text", "because", "ask")
        if (value := getattr(entry, name, None)) is not None
    ))  # fmt: skip


@app.command()
def show(
    words: Annotated[list[str], typer.Argument(metavar="ID", help="Id of any entry, or a word of the trade.")],
    as_json: Json = False,
    kb: KnowledgeFolder = None,
) -> None:
    """Show one entry whole.

    As the file has it, which entries refer to it, and, once a layer has changed it, where each value stands; or what a
    word of the trade means.

    \b
    chopstick kb show pot-track-dirty
    chopstick kb show plate load
    """
    id_ = " ".join(words)
    base = knowledge(kb)
    terms = of_trade.look_up(base, id_)
    matching: list[tuple[str, model.Entry]] = [one for one in base.entries() if one[1].id == id_]
    if not matching and not terms:
        terms = of_trade.near(base, id_)
    matching += [("terms", term) for term in terms]
    screen = Screen()
    if not matching:
        hint = errors.did_you_mean(id_, sorted({entry.id for _, entry in base.entries()}))
        screen.trouble(f"chopstick: there is no entry '{id_}'. {hint or 'All of them: chopstick kb list'}")
        raise typer.Exit(exits.INPUT)
    found = [
        reports_knowledge.whole_entry(base, section, entry, _origins(kb, section, entry.id))
        for section, entry in matching
    ]
    if as_json:
        screen.json(found[0].model_copy(update={"more": tuple(found[1:])}))
        return
    for one in found:
        if one.section == "terms":
            screen.line()
            glossary.term(screen, base, base.terms[one.id])
            screen.line(one.where, "dim", indent=2)
        else:
            _tell(screen, one)


def _origins(root: Path | None, section: str, id_: str) -> tuple[Origin, ...]:
    """Each value of an entry with the file and line it is from, and the layer, '' for the base."""
    over = layers(root)
    merged = (load.merged_terms if section == "terms" else load.merged)(root, over, [])
    return overlay.origins(merged, section, id_, over)


def _tell(screen: Screen, whole: WholeEntry) -> None:
    screen.heading(f"{whole.section}: {whole.id}")
    screen.line(whole.where, "dim")
    used = [("used by", ", ".join(whole.used_by))] if whole.used_by else []
    rests = [("rests on", f"{one.title} ({one.note or one.publisher})") for one in whole.rests_on]
    told = [(key, _flat(value)) for key, value in whole.entry.items() if key not in ("id", "source")]
    screen.pairs([*told, *rests, *used])
    if not any(one.layer for one in whole.origins):
        return  # all of it stands in one place, which is told above
    screen.line("where each value stands:", "bold")
    screen.table([(one.field, one.layer or "shipped", one.where) for one in whole.origins], indent=2)


def _flat(value: object) -> str:
    if isinstance(value, dict):
        return "; ".join(f"{key}: {_flat(one)}" for key, one in value.items() if one not in (None, [], {}))
    if isinstance(value, list):
        return ", ".join(f"({_flat(one)})" if isinstance(one, dict) else _flat(one) for one in value)
    return str(value)
