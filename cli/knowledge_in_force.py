"""The knowledge base with the layers of one's own over it, as the commands on rules and packs need it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ..engine.late import late

if TYPE_CHECKING:
    from ..engine.knowledge.base import KnowledgeBase
    from ..engine.knowledge.layers import Layer

with late():
    from ..engine.knowledge import cache
    from ..engine.knowledge import layers as knowledge_layers

ShopFolder = Annotated[
    Path | None, typer.Option("--shop", metavar="DIR", help="The shop's own knowledge (also CHOPSTICK_SHOP).")
]


def layers(root: Path | None, shop: Path | None = None, job: Path | None = None) -> tuple[Layer, ...]:
    """The layers over the base, in their order. job: a job's file, whose own layer lies beside it.

    Over another base than the one that came with the program only a shop's folder that was named, and the job's, are
    laid.
    """
    there = knowledge_layers.found(os.environ, shop, job)
    return there if root is None else tuple(layer for layer in there if layer.kind in ("shop", "job"))


def knowledge(root: Path | None, shop: Path | None = None, job: Path | None = None) -> KnowledgeBase:
    """The knowledge base with all layers over it, from the cache if it can be. Raises KnowledgeError."""
    return cache.load(root, layers(root, shop, job))
