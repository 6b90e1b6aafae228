"""`chopstick packs`: knowledge shared as one folder with a manifest: add it, compare it, remove it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import Json, KnowledgeFolder
from ..knowledge_in_force import ShopFolder, knowledge, layers
from ..screen.screen import Screen

with late():
    from ...engine.knowledge import layers as knowledge_layers
    from ...engine.knowledge import load, overlay, packs
    from ...engine.reports import knowledge as reports_knowledge
    from ..screen import prompts

app = typer.Typer(
    add_completion=False, rich_markup_mode=None, no_args_is_help=True,
    help="Share knowledge as packs, and see which layers are in force.",
)  # fmt: skip
Folder = Annotated[Path, typer.Argument(metavar="FOLDER", help="A pack: pack.yaml and areas/*.yaml.")]


@app.command("list")
def list_(as_json: Json = False, kb: KnowledgeFolder = None, shop: ShopFolder = None) -> None:
    """List the layers over the shipped knowledge base.

    In their order: each wins over those above it in the list.

    \b
    chopstick packs list
    """
    found = reports_knowledge.layers_in_force(layers(kb, shop))
    screen = Screen()
    if as_json:
        screen.json(found)
        return
    screen.line("The shipped knowledge base lies at the bottom; what comes later wins.")
    rows = [(f"{n}.", f"{one.name} {one.version}".strip(), one.path) for n, one in enumerate(found.layers, 1)]
    screen.table(rows, indent=2)
    if not found.layers:
        screen.line("Nothing lies over it. A shop's own: --shop DIR, or CHOPSTICK_SHOP.")


@app.command()
def diff(folder: Folder, as_json: Json = False, kb: KnowledgeFolder = None, shop: ShopFolder = None) -> None:
    """Say what a pack would change.

    In the knowledge in force, entry by entry; against its version that is there, if any.

    \b
    chopstick packs diff ~/Downloads/reverb-lore
    """
    _compare(folder, as_json, kb, shop)


@app.command()
def add(
    folder: Folder,
    yes: Annotated[bool, typer.Option("--yes", help="Add it without asking.")] = False,
    as_json: Json = False,
    kb: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> None:
    """Add a pack, or a newer version of it.

    It is checked, what it changes is shown, and then it is copied. A pack that is broken, needs what is not there, or
    would lower a safety matter is refused.

    \b
    chopstick packs add ~/Downloads/reverb-lore
    """
    _compare(folder, as_json, kb, shop)
    screen = Screen()
    if not yes:
        try:
            yes = bool(prompts.Prompt(screen).yes("Add it? [yes, no]"))
        except prompts.Ended:
            yes = False
    if not yes:
        screen.line("Nothing was changed.")
        raise typer.Exit(exits.DONE)
    target = packs.take_in(folder, knowledge_layers.packs_folder(os.environ))
    if not as_json:
        screen.line(f"Added: {target}")


@app.command()
def remove(name: Annotated[str, typer.Argument(help="Name of a pack.")]) -> None:
    """Remove a pack.

    \b
    chopstick packs remove reverb-lore
    """
    if not packs.take_out(name, knowledge_layers.packs_folder(os.environ)):
        Screen().trouble(f"chopstick: there is no pack '{name}'. All of them: chopstick packs list")
        raise typer.Exit(exits.INPUT)
    Screen().line(f"Removed: {name}")


@app.command()
def origin(
    id_: Annotated[str, typer.Argument(metavar="ID", help="Id of any entry.")],
    as_json: Json = False,
    kb: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> None:
    """Say where each value of an entry stands.

    Layer, file, line and column of what is in force.

    \b
    chopstick packs origin pot-track-dirty
    """
    base, over = knowledge(kb, shop), layers(kb, shop)
    merged = load.merged(kb, over, [])
    sections = [section for section, entry in base.entries() if entry.id == id_]
    sections += ["circuits"] if id_ in merged.circuits else []
    screen = Screen()
    if not sections:
        screen.trouble(f"chopstick: there is no entry '{id_}'. All of them: chopstick kb list")
        raise typer.Exit(exits.INPUT)
    values = tuple(
        reports_knowledge.ValueInForce.made_of(one, section=section)
        for section in sections
        for one in overlay.origins(merged, section, id_, over)
    )
    if as_json:
        screen.json(reports_knowledge.Origins(id=id_, values=values))
        return
    screen.table([(one.section, one.field, one.layer or "shipped", one.where) for one in values])


def _compare(folder: Path, as_json: bool, kb: Path | None, shop: Path | None) -> None:
    """Check a pack with all that is in force, and show what it changes. Raises KnowledgeError."""
    found = packs.manifest(folder)
    before = layers(kb, shop)
    after = packs.with_pack(before, knowledge_layers.Layer("pack", f"pack {found.name}", folder), found.name)
    load.load(kb, after)
    changes = list(packs.differences(kb, before, after))
    there = next((one.manifest for one in before if one.kind == "pack" and one.path.name == found.name), None)
    screen = Screen()
    if as_json:
        told_ = tuple(map(reports_knowledge.EntryDifference.made_of, changes))
        screen.json(reports_knowledge.Differences(name=found.name, version=found.version, differences=told_))
        return
    was = f", over version {there.version}" if there else ""
    screen.line(f"{found.name} {found.version}{was}: {found.about}", "bold")
    for one in changes:
        screen.line(f"{one.kind}: {one.section} {one.id}", "bold")
        for line in one.lines:
            screen.line(f"{line[0]} {line[1:]}", indent=2)
    screen.line(f"{len(changes)} entries differ.")
